"""The table at the end: a verdict, a number and its limit a row."""

from array import array

from alula.ground_check.steps import FAILED, PASSED, ROWS


class Results:
    """verdicts, numbers, limits: one a row of `steps.ROWS`; stamps: `count` when it was put.

    count: results put so far."""

    def __init__(self) -> None:
        self.verdicts = bytearray(len(ROWS))
        self.numbers = array("i", [0] * len(ROWS))
        self.limits = array("i", [0] * len(ROWS))
        self.stamps = array("i", [0] * len(ROWS))
        self.count = 0

    def put(self, row: int, passed: bool, number: int, limit: int) -> None:
        """A row is done. No allocation."""
        self.note(row, PASSED if passed else FAILED, number, limit)

    def note(self, row: int, verdict: int, number: int, limit: int) -> None:
        """A row gets any verdict. No allocation."""
        self.verdicts[row] = verdict
        self.numbers[row] = number
        self.limits[row] = limit
        self.count = (self.count + 1) & 0xFFFFF
        self.stamps[row] = self.count

    def first_failed(self) -> int:
        """The first row that failed, or -1. No allocation."""
        for row in range(len(self.verdicts)):
            if self.verdicts[row] == FAILED:
                return row
        return -1
