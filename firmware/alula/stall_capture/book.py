"""Accepted runs of a capture, and whether enough of them agree."""

from array import array

from micropython import const

from alula.stall_capture.curve_fit import POINTS_MOST
from alula.stall_capture.judge import RunJudge

RUNS_MOST = const(5)


class RunBook:
    """The last five accepted runs in one flap setting.

    count: runs in the book. best: number of the run that counts, or -1. spread_pm: distance of
    the agreeing runs, or of the closest that do not, per mille of lift on the straight line.
    """

    def __init__(self, runs_needed: int, agree_pm: int) -> None:
        self._needed = runs_needed
        self._agree_pm = agree_pm
        self.stall_bp = array("i", [0] * RUNS_MOST)
        self.slope_bp = array("i", [0] * RUNS_MOST)
        self.entry_ckts = array("i", [0] * RUNS_MOST)
        self.method = array("i", [0] * RUNS_MOST)
        self.lengths = array("i", [0] * RUNS_MOST)
        self.ratios_bp = [array("i", [0] * POINTS_MOST) for _ in range(RUNS_MOST)]
        self.lifts_pm = [array("i", [0] * POINTS_MOST) for _ in range(RUNS_MOST)]
        self.clear()

    def clear(self) -> None:
        """Forget all runs. No allocation."""
        self.count = 0
        self.best = -1
        self.agreeing = 0
        self.spread_pm = 0

    def add(self, judge: RunJudge) -> None:
        """Enter an accepted run; with a full book the oldest one goes. No allocation."""
        i = self._room()
        self.stall_bp[i] = judge.stall_bp
        self.slope_bp[i] = judge.slope_bp
        self.entry_ckts[i] = judge.entry_ckts
        self.method[i] = judge.method
        self.lengths[i] = judge.curve.length
        for k in range(judge.curve.length):
            self.ratios_bp[i][k] = judge.curve.ratios_bp[k]
            self.lifts_pm[i][k] = judge.curve.lifts_pm[k]
        self.count += 1
        self._choose()

    def enter(self, other, source: int) -> None:
        """Enter a run out of another book. No allocation."""
        self._copy(other, source, self._room())
        self.count += 1
        self._choose()

    def _room(self) -> int:
        """Number of the free line."""
        if self.count == RUNS_MOST:
            for i in range(RUNS_MOST - 1):
                self._copy(self, i + 1, i)
            self.count -= 1
        return self.count

    def _copy(self, other, source: int, target: int) -> None:
        self.stall_bp[target] = other.stall_bp[source]
        self.slope_bp[target] = other.slope_bp[source]
        self.entry_ckts[target] = other.entry_ckts[source]
        self.method[target] = other.method[source]
        self.lengths[target] = other.lengths[source]
        for k in range(POINTS_MOST):
            self.ratios_bp[target][k] = other.ratios_bp[source][k]
            self.lifts_pm[target][k] = other.lifts_pm[source][k]

    def _choose(self) -> None:
        """The run with the lowest stall ratio that enough others agree with, from above."""
        self.best = -1
        self.agreeing = 0
        self.spread_pm = 0
        for i in range(self.count):
            if self.best >= 0 and self.stall_bp[i] >= self.stall_bp[self.best]:
                continue
            near = self._near(i)
            if near >= self._needed:
                self.best = i
                self.agreeing = near
        if self.count >= self._needed:
            self.spread_pm = self._spread(self.best)

    def _apart(self, low: int, high: int) -> int:
        return (self.stall_bp[high] - self.stall_bp[low]) * 100 // self.slope_bp[low]

    def _near(self, low: int) -> int:
        near = 0
        for i in range(self.count):
            if self.stall_bp[i] >= self.stall_bp[low] and self._apart(low, i) <= self._agree_pm:
                near += 1
        return near

    def _spread(self, best: int) -> int:
        """Of the agreeing runs; where none agree, of all."""
        most = 0
        for low in range(self.count):
            if best >= 0 and low != best:
                continue
            for high in range(self.count):
                apart = self._apart(low, high)
                if apart > most and (best < 0 or apart <= self._agree_pm):
                    most = apart
        return most
