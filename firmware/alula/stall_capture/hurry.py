"""Without an accelerometer: did the speed fall faster at the end of a run than on the whole?

A stalled wing drags. Where the stick is held, q may go on falling past the stall along the line
it kept before; lowest q, highest ratio and knee then agree on a point that is too late. What
gives it away is the hurry.
"""

from micropython import const

from alula.intmath import airspeed_ckt
from alula.stall_capture.track import Track

_MOST_TENTHS = const(13)  # of the mean deceleration; runs with a prompt recovery: about 10
_SECOND = const(10)  # points
_HALF = const(5)
_WINDOWS = const(4)


def hurried(track: Track, from_point: int, low_point: int) -> bool:
    """Whether the speed fell so in one of the seconds that end 0 to 1.5 s before the lowest q.

    from_point: where the wing carried what it carries at 1.3 Vs. Speeds are below 25 000 (0.01
    kt), points below 640, so the products stay below 2^30. No allocation.
    """
    points = low_point - from_point
    if points < 4 * _SECOND:
        return False
    late_ckt = airspeed_ckt(track.q_dpa(low_point))
    lost_ckt = airspeed_ckt(track.q_dpa(from_point)) - late_ckt
    middle_ckt = airspeed_ckt(track.q_dpa(low_point - _HALF))
    for i in range(_WINDOWS):
        early_ckt = airspeed_ckt(track.q_dpa(low_point - _SECOND - i * _HALF))
        if (early_ckt - late_ckt) * points * 10 > lost_ckt * _SECOND * _MOST_TENTHS:
            return True
        late_ckt = middle_ckt
        middle_ckt = early_ckt
    return False
