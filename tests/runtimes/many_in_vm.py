"""Started inside the MicroPython VM: many short streams, one after another, each on its own unit.

    micropython many_in_vm.py JOBS.json ROWS.bin OUT.bin

JOBS.json: list of jobs as `session.make_session` takes them, each with its number of rows, too.
"""

import json
import sys
from array import array

from host_sim.runtimes.session import IN_WIDTH, OUT_WIDTH, make_session


def main(jobs_path: str, rows_path: str, out_path: str) -> None:
    """Outputs lie one after another in OUT.bin."""
    with open(jobs_path) as file:
        jobs = json.loads(file.read())
    with open(rows_path, "rb") as source, open(out_path, "wb") as target:
        for job in jobs:
            count = job["rows"]
            rows = array("i", [0] * (count * IN_WIDTH))
            out = array("i", [0] * (count * OUT_WIDTH))
            if source.readinto(rows) != 4 * IN_WIDTH * count:
                raise ValueError("rows are missing")
            make_session(job).run(rows, count, out)
            target.write(out)


main(sys.argv[1], sys.argv[2], sys.argv[3])
