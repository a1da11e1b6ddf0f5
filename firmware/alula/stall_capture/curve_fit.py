"""Points of a lift curve from the points of a run: bin means over ratio, made to rise."""

from array import array

from micropython import const

BINS = const(7)
POINTS_MOST = const(8)
_LEAST_IN_BIN = const(3)
_RISE_PM = const(5)
_RUN_BP = const(20)
_START_MOST_PM = const(800)
_STALL_PM = const(1000)


class CurveFit:
    """Seven bins of equal width in ratio, from the start of a run to its stall.

    After `finish`: `length` points in `ratios_bp` and `lifts_pm`, both strictly rising, the last
    one (stall ratio, 1000).
    """

    def __init__(self, bp_scale: int) -> None:
        self._run_bp = _RUN_BP * bp_scale
        self.length = 0
        self._low_bp = 0
        self._width_bp = 1
        self.ratios_bp = array("i", [0] * POINTS_MOST)
        self.lifts_pm = array("i", [0] * POINTS_MOST)
        self._counts = array("i", [0] * BINS)
        self._ratios = array("i", [0] * BINS)
        self._lifts = array("i", [0] * BINS)

    def begin(self, low_bp: int, stall_bp: int) -> None:
        """Empty bins between two ratios, low_bp < stall_bp. No allocation."""
        self.length = 0
        self._low_bp = low_bp
        self._width_bp = stall_bp - low_bp
        for i in range(BINS):
            self._counts[i] = self._ratios[i] = self._lifts[i] = 0

    def add(self, ratio_bp: int, lift_pm: int) -> None:
        """One point of the run; ratios past the stall are left out. No allocation."""
        i = (ratio_bp - self._low_bp) * BINS // self._width_bp
        if i >= BINS:
            return
        if i < 0:
            i = 0
        self._counts[i] += 1
        self._ratios[i] += ratio_bp
        self._lifts[i] += lift_pm

    def finish(self, stall_bp: int) -> bool:
        """Make the curve; False where it has fewer than three points or starts too near the stall.

        Bins that do not rise are pooled with the one before (isotonic regression by pooling
        adjacent violators). No allocation.
        """
        self.length = 0
        for i in range(BINS):
            if self._counts[i] >= _LEAST_IN_BIN:
                self._pool(i)
        while self.length and (self.lifts_pm[self.length - 1] > _STALL_PM - _RISE_PM
                               or self.ratios_bp[self.length - 1] > stall_bp - self._run_bp):
            self.length -= 1
        self.ratios_bp[self.length] = stall_bp
        self.lifts_pm[self.length] = _STALL_PM
        self.length += 1
        return self.length >= 3 and self.lifts_pm[0] <= _START_MOST_PM

    def _pool(self, i: int) -> None:
        """Put bin i behind the points so far, pooling backwards while it does not rise."""
        counts, ratios, lifts = self._counts, self._ratios, self._lifts
        at = self.length
        # Points so far keep their sums in the bins they were pooled into: bin `at` onwards.
        counts[at], ratios[at], lifts[at] = counts[i], ratios[i], lifts[i]
        while at > 0 and not self._rises(at):
            at -= 1
            counts[at] += counts[at + 1]
            ratios[at] += ratios[at + 1]
            lifts[at] += lifts[at + 1]
        self._write(at)
        self.length = at + 1

    def _rises(self, at: int) -> bool:
        lift = self._lifts[at] // self._counts[at]
        ratio = self._ratios[at] // self._counts[at]
        return (lift >= self.lifts_pm[at - 1] + _RISE_PM
                and ratio >= self.ratios_bp[at - 1] + self._run_bp)

    def _write(self, at: int) -> None:
        self.ratios_bp[at] = self._ratios[at] // self._counts[at]
        self.lifts_pm[at] = self._lifts[at] // self._counts[at]
