"""Watches a stall run as it is flown: where n/q, q and ratio turn, and when the stall has passed.

The wing stalls where its lift peaks, not where the ratio peaks: a pilot who holds the stick back
drives the ratio on past it. So the mark is the peak of n/q, a mean over one second.
"""

from micropython import const

from alula.stall_capture.track import Track

_SHARE = const(1000)
_DROP_PM = const(960)  # n/q below this share of its peak for half a second: passed
_DROP_POINTS = const(5)
_TURN_PM = const(985)  # or below this share while the ratio is already beyond the peak's
_TURN_BP = const(150)
_DOWN_PM = const(800)  # recovered: the wing carries clearly less than at the peak
_DOWN_POINTS = const(40)
_GAIN_PM = const(1400)  # a run gains so much lift from its start to its peak
_LOSS_PM = const(850)  # and ends with less than this share of the dynamic pressure
_LATE_POINTS = const(15)  # a higher peak counts so long after the first sign


class StallWatch:
    """Running marks of one run.

    start: first point of the run. peak, peak_point, peak_ratio_bp: the highest n/q of a second.
    low_point: point of the lowest q. high_point: point of the highest ratio.
    passed: the peak lies behind. down: the wing has been unloaded since.
    """

    def __init__(self, bp_scale: int) -> None:
        """bp_scale: 2 for two opposed ports, whose ratio changes twice as fast; else 1."""
        self._turn_bp = _TURN_BP * bp_scale
        self.begin(0)

    def begin(self, point: int) -> None:
        """A run starts at a point. No allocation."""
        self.start = point
        self.peak = 0
        self.peak_point = point
        self.peak_ratio_bp = 0
        self.low_point = point
        self.high_point = point
        self.passed = False
        self.passed_point = point
        self.down = False
        self._dropped = 0

    def step(self, track: Track) -> None:
        """Take in the latest point of the track. No allocation."""
        point = track.count - 1
        if point - self.start < _DROP_POINTS:
            return
        if not self.passed or point - self.passed_point <= _LATE_POINTS:
            self._follow(track, point)
        lift = track.lift(point) * _SHARE
        if not self.passed:
            self._look_for_stall(track, point, lift)
        elif lift < self.peak * _DOWN_PM or point - self.passed_point >= _DOWN_POINTS:
            self.down = True

    def is_run(self, track: Track) -> bool:
        """Whether this was a slow-down at all, and not a turn, a pull-up or a gust."""
        return (self.peak > 0 and self.peak * 1000 > track.lift(self.start) * _GAIN_PM
                and track.q_dpa(self.peak_point) * 1000 < track.q_dpa(self.start) * _LOSS_PM)

    def mark(self, track: Track) -> None:
        """The pilot marks the latest point as the stall. No allocation."""
        point = track.count - 1
        self.passed = True
        self.passed_point = point - _LATE_POINTS - 1  # what follows is the recovery
        self.peak_point = point
        self.peak_ratio_bp = track.ratio_bp(point)

    def _follow(self, track: Track, point: int) -> None:
        lift = track.lift_1s(point)
        if lift > self.peak:
            self.peak = lift
            self.peak_point = point
            self.peak_ratio_bp = track.ratio_1s(point)
        if track.q_dpa(point) < track.q_dpa(self.low_point):
            self.low_point = point
        if track.ratio_bp(point) > track.ratio_bp(self.high_point):
            self.high_point = point

    def _look_for_stall(self, track: Track, point: int, lift: int) -> None:
        self._dropped = self._dropped + 1 if lift < self.peak * _DROP_PM else 0
        turned = (lift < self.peak * _TURN_PM
                  and track.ratio_bp(point) > self.peak_ratio_bp + self._turn_bp)
        if turned or self._dropped >= _DROP_POINTS:
            self.passed = True
            self.passed_point = point
