"""Steady enough to begin a run, and how its deceleration compares with what is asked."""

from micropython import const

from alula import figures
from alula.intmath import airspeed_ckt
from alula.stall_capture.track import Track

STEADY_POINTS = const(10)  # a second of steadiness, compared with the second before
_STEADY_CKTS = const(200)
_STEADY_MG = const(250)
PACE_POINTS = const(20)  # the slope is taken over two seconds
_PACE_EVERY = const(25)


class Pace:
    """Looks at the latest point of a track, once for each."""

    def __init__(self, wanted_ckts: int) -> None:
        """wanted_ckts: deceleration asked for, 0.01 kt/s."""
        self._wanted_ckts = wanted_ckts
        self._steady = 0
        self._since = 0

    def restart(self) -> None:
        """Begin anew. No allocation."""
        self._steady = 0
        self._since = 0

    def settled(self, track: Track) -> bool:
        """Whether speed and load factor have been steady for long enough. No allocation."""
        point = track.count - 1
        if point < STEADY_POINTS:
            return False
        change = airspeed_ckt(track.q_dpa(point)) - airspeed_ckt(
            track.q_dpa(point - STEADY_POINTS))
        n_off = track.n_mg(point) - 1000
        calm = -_STEADY_CKTS < change < _STEADY_CKTS and -_STEADY_MG < n_off < _STEADY_MG
        self._steady = self._steady + 1 if calm else 0
        return self._steady >= STEADY_POINTS

    def figure(self, track: Track) -> int:
        """Every few seconds EASE, MORE or GOOD; else NOTHING. No allocation."""
        self._since += 1
        point = track.count - 1
        if self._since < _PACE_EVERY or point < PACE_POINTS:
            return figures.NOTHING
        self._since = 0
        lost = airspeed_ckt(track.q_dpa(point - PACE_POINTS)) - airspeed_ckt(track.q_dpa(point))
        pace_ckts = lost // 2  # over two seconds
        if pace_ckts > self._wanted_ckts * 3 // 2:
            return figures.EASE
        return figures.MORE if pace_ckts < self._wanted_ckts // 2 else figures.GOOD
