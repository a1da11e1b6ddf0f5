"""Runs inside the VM: bytes allocated a tick of the whole loop, time of a tick, heap after boot.

    micropython in_vm.py JOB.json
"""

import gc
import json
import sys
import time

from assembly import make_loop, make_unit
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock

TICKS = 20000


def main(job_path: str) -> None:
    """Print one JSON object."""
    with open(job_path) as file:
        job = json.loads(file.read())
    gc.collect()
    before = gc.mem_alloc()
    unit, settings, _ = make_unit(job["settings"], job["calibration"], job["zero"])
    board = BenchBoard(VirtualClock(), None)
    loop = make_loop(board, unit, settings)
    gc.collect()
    after_boot = gc.mem_alloc()
    for i in range(200):
        step(board, loop, i)
    gc.collect()
    gc.disable()
    start = gc.mem_alloc()
    begun_us = time.ticks_us()
    for i in range(TICKS):
        step(board, loop, i)
    spent_us = time.ticks_diff(time.ticks_us(), begun_us)
    grown = gc.mem_alloc() - start
    print(json.dumps({"bytes_a_tick": grown / TICKS, "us_a_tick": spent_us / TICKS,
                      "heap_unit_and_loop": after_boot - before}))


def step(board: BenchBoard, loop, i: int) -> None:
    """One tick with a ratio that swings from quiet to stalling and back."""
    swing = i % 2000
    board.pitot_sensor.refresh(8572)
    board.angled_sensor.refresh(8572 if swing < 1000 else 8200)
    loop.run_once()


main(sys.argv[1])
