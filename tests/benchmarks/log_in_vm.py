"""Runs inside the VM: time and heap that the log's encoding costs a tick.

    micropython log_in_vm.py ROWS
"""

import gc
import json
import sys
import time
from array import array

from alula.flight_log import FlightLog
from alula.sample import Sample
from host_sim.runtimes.session import IN_WIDTH, fill
from tests.both.log_rig import made_unit

TURNS = 10


def main(path: str) -> None:
    """Print one JSON object."""
    with open(path, "rb") as file:
        rows = array("i", file.read())
    unit, sample, log = made_unit(), Sample(), FlightLog(1, 10)
    count = len(rows) // IN_WIDTH
    fill(sample, rows, 0)
    unit.tick(rows[0], sample)
    log.step(rows[0], sample, unit, 0)
    turns, starts = range(TURNS), range(0, count * IN_WIDTH, IN_WIDTH)
    gc.collect()
    gc.disable()
    spent_us = empty_us = 0
    start = gc.mem_alloc()
    for _ in turns:
        begun_us = time.ticks_us()
        for i in starts:
            fill(sample, rows, i)
            log.step(rows[i], sample, unit, 0)
        spent_us += time.ticks_diff(time.ticks_us(), begun_us)
        begun_us = time.ticks_us()
        for i in starts:
            fill(sample, rows, i)
        empty_us += time.ticks_diff(time.ticks_us(), begun_us)
    grown = gc.mem_alloc() - start
    ticks = count * TURNS
    print(json.dumps({"us_a_tick": (spent_us - empty_us) / ticks, "bytes_a_tick": grown / ticks}))


main(sys.argv[1])
