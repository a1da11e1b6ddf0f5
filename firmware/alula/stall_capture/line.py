"""The straight part of a lift curve: a line of ratio against lift through two clouds of points."""

from micropython import const

LOW_PM = const(600)
_MIDDLE_PM = const(740)
HIGH_PM = const(880)
_CLOUD_LEAST = const(4)


class StraightLine:
    """Feed points, then `fit`. Lifts u are per mille of the run's peak.

    run_bp: how far the ratio rises from the lower cloud's middle to the upper one's.
    slope_bp: ratio for 100 per mille of lift. end_point: the last point that belongs to it.
    """

    def __init__(self) -> None:
        self.restart(0)

    def restart(self, point: int) -> None:
        """Forget all points; the line can end at this point at the earliest. No allocation."""
        self._n1 = self._u1 = self._r1 = 0
        self._n2 = self._u2 = self._r2 = 0
        self.run_bp = self.slope_bp = 0
        self.end_point = point

    def add(self, point: int, u: int, ratio_bp: int) -> None:
        """A point of the run; it counts if its lift lies on the straight part. No allocation."""
        if LOW_PM < u < _MIDDLE_PM:
            self._n1 += 1
            self._u1 += u
            self._r1 += ratio_bp
        elif _MIDDLE_PM <= u < HIGH_PM:
            self._n2 += 1
            self._u2 += u
            self._r2 += ratio_bp
            self.end_point = point

    def fit(self) -> bool:
        """Draw the line; False where a cloud has too few points. Once only. No allocation."""
        if self._n1 < _CLOUD_LEAST or self._n2 < _CLOUD_LEAST:
            return False
        self._u1 //= self._n1
        self._r1 //= self._n1
        self._u2 //= self._n2
        self._r2 //= self._n2
        self.run_bp = self._r2 - self._r1
        self.slope_bp = self.run_bp * 100 // (self._u2 - self._u1)
        return True

    def lift_at(self, ratio_bp: int) -> int:
        """u that the line gives for a ratio; run_bp must not be 0. |ratio| <= 30 000 and a rise of
        at most 280 per mille keep the product below 2^25. No allocation."""
        return self._u1 + (ratio_bp - self._r1) * (self._u2 - self._u1) // self.run_bp
