"""Started inside the MicroPython VM: runs a log's job from files, step by step.

    micropython log_vm_main.py JOB.json STEPS ROWS.bin OUT.bin

STEPS holds one step a line, as JSON.
"""

import json
import sys
from array import array

from host_sim.runtimes.log_session import LOG_WIDTH, LogSession
from host_sim.runtimes.session import OUT_WIDTH


def main(job_path: str, steps_path: str, rows_path: str, out_path: str) -> None:
    """The output file holds one row of integers for every row."""
    with open(job_path) as file:
        session = LogSession(json.loads(file.read()))
    with open(steps_path) as steps, open(rows_path, "rb") as source, \
            open(out_path, "wb") as target:
        for line in steps:
            step = json.loads(line)
            if step[0] == "restart":
                session.restart(step[1])
            elif step[0] == "change":
                session.change(step[1], step[2])
            else:
                count = step[1]
                rows = array("i", source.read(4 * LOG_WIDTH * count))
                out = array("i", bytes(4 * OUT_WIDTH * count))
                session.run(rows, count, out)
                target.write(out)


main(sys.argv[1], sys.argv[2], sys.argv[3], sys.argv[4])
