"""Ratio to the share of the lift in use: straight lines between calibrated points.

`lift` is CL / CLmax in per mille: 1000 at the stall. It gives every margin:
V / Vs = 1 / sqrt(lift), and load factor in hand n_available / n = 1 / lift.
"""

from array import array

import micropython
from micropython import const

LIFT_MOST_PM = const(1500)
STALL_PM = const(1000)
_FLOOR_PM = const(-400)  # no aeroplane flies for seconds with so much lift downwards


class LiftCurve:
    """One flap setting's curve.

    points: 2 to 8 pairs (ratio_bp, lift_pm), both strictly rising (see `calibration.problems`).
    The first and the last line are carried on past their ends; lift is clamped to 0..1500.
    stall_bp: the lowest ratio at which lift is 1000. floor_bp: below this ratio the wing would
    carry more than 0.4 of its greatest lift downwards.
    """

    def __init__(self, points) -> None:
        self._ratios = array("i", [point[0] for point in points])
        self._lifts = array("i", [point[1] for point in points])
        self._last = len(points) - 2
        self._segment = 0
        self.stall_bp = self._ratio_at_stall()
        self.floor_bp = self._ratios[0] - (self._lifts[0] - _FLOOR_PM) * (
            self._ratios[1] - self._ratios[0]) // (self._lifts[1] - self._lifts[0])

    def _ratio_at_stall(self) -> int:
        for i in range(1, len(self._lifts)):
            if self._lifts[i] >= STALL_PM:
                run = self._ratios[i] - self._ratios[i - 1]
                rise = self._lifts[i] - self._lifts[i - 1]
                return self._ratios[i] - (self._lifts[i] - STALL_PM) * run // rise
        return self._ratios[-1]

    @micropython.native
    def lift_pm(self, ratio_bp: int) -> int:
        """Lift share at a ratio (-30 000..30 000), per mille, 0..1500. No allocation."""
        ratios = self._ratios
        i = self._segment
        while i < self._last and ratio_bp >= ratios[i + 1]:
            i += 1
        while i > 0 and ratio_bp < ratios[i]:
            i -= 1
        self._segment = i
        start = ratios[i]
        run = ratios[i + 1] - start
        rise = self._lifts[i + 1] - self._lifts[i]
        lift = self._lifts[i] + ((ratio_bp - start) * rise + run // 2) // run
        if lift > LIFT_MOST_PM:
            return LIFT_MOST_PM
        return lift if lift > 0 else 0

    @micropython.native
    def step_pm(self, step_bp: int) -> int:
        """How much lift a step in ratio (0..30 000) makes on the line in use. No allocation."""
        i = self._segment
        run = self._ratios[i + 1] - self._ratios[i]
        step = step_bp * (self._lifts[i + 1] - self._lifts[i]) // run
        return step if step < LIFT_MOST_PM else LIFT_MOST_PM
