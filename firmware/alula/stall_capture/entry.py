"""How fast a run was entered."""

from micropython import const

from alula.intmath import airspeed_ckt
from alula.stall_capture.track import BIN_MS, Track

FROM_PM = const(592)  # lift at 1.3 Vs, where the entry is timed from
_CENTRE_POINTS = const(2)  # the means of both points lie back by about so much


def entry_rate_ckts(track: Track, from_point: int, peak_point: int, timed: bool) -> int:
    """0.01 kt/s: the greater of speed lost, and lift gained as if all of it were speed.

    From lift 0.592 to the peak the speed falls from 1.3 Vs to Vs in level flight. timed: the run
    began below that, so that the gain may be counted. No allocation.
    """
    spent_ms = (peak_point - _CENTRE_POINTS - from_point) * BIN_MS
    if spent_ms < BIN_MS:
        spent_ms = BIN_MS
    slow_ckt = airspeed_ckt(track.q_dpa(peak_point))
    lost = (airspeed_ckt(track.q_dpa(from_point)) - slow_ckt) * 1000 // spent_ms
    gained = slow_ckt * 300 // spent_ms if timed else 0
    return lost if lost > gained else gained
