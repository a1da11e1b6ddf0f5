"""Started inside the MicroPython VM: runs one job from files, block by block.

    micropython vm_main.py JOB.json ROWS.bin OUT.bin
"""

import json
import sys
from array import array

from host_sim.runtimes.session import IN_WIDTH, OUT_WIDTH, make_session


def main(job_path: str, rows_path: str, out_path: str) -> None:
    """Run the job; the output file holds one row of integers for every input row."""
    with open(job_path) as file:
        job = json.loads(file.read())
    session = make_session(job)
    block = job["block_rows"]
    rows = array("i", [0] * (block * IN_WIDTH))
    out = array("i", [0] * (block * OUT_WIDTH))
    with open(rows_path, "rb") as source, open(out_path, "wb") as target:
        while True:
            count = source.readinto(rows) // (4 * IN_WIDTH)
            if not count:
                break
            session.run(rows, count, out)
            target.write(memoryview(out)[:count * OUT_WIDTH])
    session.off()


main(sys.argv[1], sys.argv[2], sys.argv[3])
