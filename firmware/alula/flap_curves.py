"""One lift curve for each calibrated flap setting, and which of them is in use.

Flaps lower the stalling angle of attack, so a curve learned with flaps up is late with flaps
down. A flap setting without a curve of its own, or one that the switches do not tell, uses the
most cautious curve there is: the one whose stall comes at the lowest ratio.
"""

from array import array

from alula.lift_curve import LiftCurve
from alula.sample import FLAP_NOT_WIRED

_NONE_YET = -100


class FlapCurves:
    """Picks the curve for the flap setting, once the setting has been still for `settle_ms`.

    curves: at least one (flap, points), flap any whole number that names a setting.
    curve: in use now. known: whether it belongs to the flap setting of now; without flap switches
    there is no setting to know, and the most cautious curve is the known one.
    """

    def __init__(self, curves, settle_ms: int) -> None:
        self._flaps = array("i", [flap for flap, _ in curves])
        self._curves = [LiftCurve(points) for _, points in curves]
        self._cautious = 0
        for i in range(len(curves)):
            if self._curves[i].stall_bp < self._curves[self._cautious].stall_bp:
                self._cautious = i
        self._settle_ms = settle_ms
        self._flap = _NONE_YET
        self._wanted = _NONE_YET
        self._steady_ms = 0
        self.known = False
        self.curve = self._curves[self._cautious]

    def step(self, dt_ms: int, flap: int) -> None:
        """Take in the flap switch of this tick; the first one counts at once. No allocation."""
        if flap == self._flap:
            self._steady_ms = 0
            return
        if self._flap == _NONE_YET:
            self._use(flap)
        elif flap != self._wanted:
            self._wanted = flap
            self._steady_ms = 0
        else:
            self._steady_ms += dt_ms
            if self._steady_ms >= self._settle_ms:
                self._use(flap)

    def _use(self, flap: int) -> None:
        self._flap = flap
        self._wanted = flap
        self.known = flap == FLAP_NOT_WIRED
        self.curve = self._curves[self._cautious]
        for i in range(len(self._flaps)):
            if self._flaps[i] == flap:
                self.curve = self._curves[i]
                self.known = True
