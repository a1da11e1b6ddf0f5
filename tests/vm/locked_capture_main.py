"""Started inside the MicroPython VM: flights with captures under a locked heap.

    micropython locked_capture_main.py JOBS.json ROWS.bin

Files as for `tests/runtimes/many_in_vm.py`. Prints the ticks flown and the runs judged.
"""

import json
import sys
from array import array

from alula.sample import Sample
from host_sim.bench.locked_heap import run_with_locked_heap
from host_sim.runtimes.session import IN_WIDTH, fill, make_session


class Flight:
    """A unit stepped through rows."""

    def __init__(self, unit, rows) -> None:
        self.unit = unit
        self._rows = rows
        self._sample = Sample()
        self._at = 0

    def step(self) -> None:
        """One tick. No allocation."""
        rows, at, sample = self._rows, self._at, self._sample
        fill(sample, rows, at)
        self._at = at + IN_WIDTH
        self.unit.tick(rows[at], sample)
        self.unit.wants_saving()


def overflow(capture) -> None:
    """Enter the last run until the book is more than full."""
    run_with_locked_heap(lambda: capture.book.add(capture.judge), 8)


def main(jobs_path: str, rows_path: str) -> None:
    """Every flight, then one book that overflows."""
    with open(jobs_path) as file:
        jobs = json.loads(file.read())
    ticks = verdicts = 0
    with open(rows_path, "rb") as source:
        for job in jobs:
            count = job["rows"]
            rows = array("i", [0] * (count * IN_WIDTH))
            source.readinto(rows)
            flight = Flight(make_session(job)._unit, rows)
            run_with_locked_heap(flight.step, count)
            capture = flight.unit.capture
            ticks += count
            verdicts += capture.verdicts
            if capture.judge.stall_bp:
                overflow(capture)
    print("capture", ticks)
    print("verdicts", verdicts)


main(sys.argv[1], sys.argv[2])
