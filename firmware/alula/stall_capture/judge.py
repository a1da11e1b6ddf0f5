"""Judges a flown stall run, a few points a tick: is it a stall, where, and what is the curve?

All lifts here are u = 1000 * (n/q) / (its peak). In the straight part of the lift curve, u of
0.60 to 0.88, ratio and u lie on a line, taken through two clouds of points. Then

- the scatter about the line tells rough air;
- what is missing from the line near the peak tells a stalled wing from a mere slow-down;
- without an accelerometer, the first point clearly off the line (the knee), the lowest q and the
  highest ratio are three marks that must agree.
"""

from micropython import const

from alula.settings import Settings
from alula.stall_capture import refusals
from alula.stall_capture.curve_fit import CurveFit
from alula.stall_capture.entry import FROM_PM, entry_rate_ckts
from alula.stall_capture.hurry import hurried
from alula.stall_capture.line import HIGH_PM, LOW_PM, StraightLine
from alula.stall_capture.track import Track
from alula.stall_capture.watch import StallWatch

WITH_N, PRESSURES_ONLY, MARKED, FROM_FILE = 1, 2, 3, 4
METHOD_WORDS = ("", "with-n", "pressures-only", "marked-by-hand", "from-file")

_POINTS_A_TICK = const(6)
_FLAT_BP = const(60)
_MISSING_WITH_N_PM = const(70)
_PLAIN_PM = const(90)  # so much is missing at a stall only; noise must then not refuse it
_MISSING_PM = const(30)
_MISSING_MOST_PM = const(70)
_NEAR_BP = const(100)
_BEYOND_BP = const(50)
_BEYOND_LEAST = const(2)
_BEYOND_MOST_PM = const(1004)  # noise of a half-second mean: 0.03 g / sqrt(50) is 4 per mille
_PLAIN_MOST_PM = const(1012)  # three times that noise
_MARKED_LEAST_PM = const(940)
_STILL_POINTS = const(15)  # on the stop for two seconds, less the half second of a point's mean
_STILL_PM = const(30)  # half a degree; at 1 kt/s lift changes by 40 to 90 in a second

_FIT, _CHECK, _CURVE = const(0), const(1), const(2)


class RunJudge:
    """One run at a time: `begin`, then `step` until `done`.

    refusal: ACCEPTED or a word of `refusals`; number: see `refusals.NUMBERS`.
    stall_bp: where the wing stalls.
    method: WITH_N, PRESSURES_ONLY or MARKED. entry_ckts: entry rate, 0.01 kt/s.
    mark_point, end_point: the stall and the end of the run on the track. curve: see `curve_fit`.
    """

    def __init__(self, settings: Settings, bp_scale: int, track: Track, watch: StallWatch) -> None:
        self._settings = settings
        self._scale = bp_scale
        self._track = track
        self._watch = watch
        self.curve = CurveFit(bp_scale)
        self._line = StraightLine()
        self.done = True
        self.method = WITH_N
        self.mark_point = 0
        self.end_point = 0
        self._start = self._at = 0
        self._pass = _FIT
        self._clear()

    def _clear(self) -> None:
        self.refusal = refusals.ACCEPTED
        self.number = 0
        self.stall_bp = 0
        self.entry_ckts = 0
        self._scatter = self._scatter_count = 0
        self._missing = self._beyond = self._beyond_u = 0
        self._knee_point = -1
        self._from_point = 0

    @property
    def slope_bp(self) -> int:
        """Ratio for 100 per mille of lift on the straight part of the run."""
        return self._line.slope_bp

    def begin(self, marked: bool) -> None:
        """Start on the run that `watch` followed. marked: the pilot marked it. No allocation."""
        self._clear()
        track, watch = self._track, self._watch
        self.method = MARKED if marked else WITH_N if track.with_n else PRESSURES_ONLY
        self.mark_point = watch.peak_point
        self._start = watch.start if watch.start > track.first() else track.first()
        self.end_point = track.count
        self._at = self._start
        self._pass = _FIT
        self._from_point = self._start
        self._line.restart(self._start)
        self.done = False
        if watch.peak <= 0:  # never positive lift: the accelerometer's axis or sense is wrong
            self._refuse(refusals.WRONG_SIDE, track.n_mg(watch.peak_point))

    def step(self) -> None:
        """Work on a few points. No allocation."""
        for _ in range(_POINTS_A_TICK):
            if self.done:
                return
            if self._pass == _FIT:
                self._fit()
            elif self._pass == _CHECK:
                self._check()
            else:
                self._bin()

    def _share(self, point: int) -> int:
        return self._track.lift(point) * 1000 // self._watch.peak

    def _fit(self) -> None:
        """First pass: the two clouds, and since when the wing carried more than at 1.3 Vs."""
        point = self._at
        if point >= self._watch.peak_point:
            self._close_line()
            return
        u = self._share(point)
        ratio = self._track.ratio_bp(point)
        if u < FROM_PM:
            self._from_point = point
        self._line.add(point, u, ratio)
        self._at = point + 1

    def _close_line(self) -> None:
        """The line through both clouds, the entry rate, and what they refuse."""
        self.entry_ckts = entry_rate_ckts(self._track, self._from_point, self._watch.peak_point,
                                          self._from_point > self._start)
        if self.entry_ckts > self._settings.capture_fast_ckts:
            self._refuse(refusals.TOO_FAST, self.entry_ckts)
            return
        if not self._line.fit():
            self._refuse(refusals.FLAT_CURVE, 0)
            return
        run = self._line.run_bp
        if run < -_FLAT_BP * self._scale:
            self._refuse(refusals.WRONG_SIDE, run)
        elif run < _FLAT_BP * self._scale:
            self._refuse(refusals.FLAT_CURVE, run)
        else:
            self._at = self._start
            self._pass = _CHECK

    def _check(self) -> None:
        """Second pass: scatter on the line, and what is missing from it past its end."""
        point = self._at
        if point >= self.end_point:
            self._conclude()
            return
        u = self._share(point)
        ratio = self._track.ratio_bp(point)
        missing = self._line.lift_at(ratio) - u
        if point <= self._line.end_point:
            if LOW_PM < u < HIGH_PM:
                self._scatter += missing if missing > 0 else -missing
                self._scatter_count += 1
        else:
            self._past_line(point, u, ratio, missing)
        self._at = point + 1

    def _past_line(self, point: int, u: int, ratio: int, missing: int) -> None:
        peak_bp = self._watch.peak_ratio_bp
        if missing > self._missing and ratio >= peak_bp - _NEAR_BP * self._scale:
            self._missing = missing
        if missing > self._settings.capture_knee_pm and self._knee_point < 0:
            self._knee_point = point
        if ratio >= peak_bp + _BEYOND_BP * self._scale:
            self._beyond += 1
            self._beyond_u += u

    def _conclude(self) -> None:
        scatter = self._scatter // self._scatter_count
        if scatter > self._settings.capture_rough_pm:
            self._refuse(refusals.TOO_ROUGH, scatter)
        elif self.method == MARKED:
            self._take_mark()
        elif self.method == WITH_N:
            self._take_peak()
        else:
            self._take_earliest()
        if not self.done:
            low_bp = self._track.ratio_bp(self._start)
            if self.stall_bp <= low_bp:
                self._refuse(refusals.WRONG_SIDE, self.stall_bp - low_bp)
                return
            self.curve.begin(low_bp, self.stall_bp)
            self._at = self._start
            self._pass = _CURVE

    def _take_mark(self) -> None:
        """The pilot's own mark: the control was on its stop."""
        u = self._share(self.mark_point)
        self.stall_bp = self._track.ratio_bp(self.mark_point)
        moved_pm = (self.stall_bp - self._track.ratio_bp(
            self.mark_point - _STILL_POINTS)) * 100 // self._line.slope_bp
        if u < _MARKED_LEAST_PM:
            self._refuse(refusals.UNCLEAR, 1000 - u)
        elif not -_STILL_PM <= moved_pm <= _STILL_PM:
            self._refuse(refusals.UNCLEAR, moved_pm)  # still slowing: no stop was reached

    def _take_peak(self) -> None:
        self.stall_bp = self._watch.peak_ratio_bp
        least, most = _BEYOND_LEAST, _BEYOND_MOST_PM
        if self._missing >= _PLAIN_PM:
            least, most = 1, _PLAIN_MOST_PM
        stalled = self._beyond >= least and self._beyond_u <= most * self._beyond
        if self._missing < _MISSING_WITH_N_PM or not stalled:
            self._refuse(refusals.NO_STALL, self._missing)

    def _take_earliest(self) -> None:
        """Lowest q, highest ratio and knee must agree; the earliest counts, less a caution."""
        track, watch = self._track, self._watch
        low = track.ratio_bp(watch.low_point)
        high = track.ratio_bp(watch.high_point)
        if low > high:
            low, high = high, low
        if self._knee_point >= 0:
            knee = track.ratio_bp(self._knee_point)
            low = knee if knee < low else low
            high = knee if knee > high else high
        spread_pm = (high - low) * 100 // self._line.slope_bp
        self.stall_bp = low - self._settings.capture_caution_pm * self._line.slope_bp // 100
        if self._missing < _MISSING_PM:
            self._refuse(refusals.NO_STALL, self._missing)
        elif spread_pm > self._settings.capture_marks_pm:
            self._refuse(refusals.UNCLEAR, spread_pm)
        elif self._missing > _MISSING_MOST_PM or hurried(
                track, self._from_point, watch.low_point):
            self._refuse(refusals.UNCLEAR, self._missing)  # held past the stall: q misleads

    def _bin(self) -> None:
        """Third pass: the curve."""
        point = self._at
        if point > self.mark_point:
            if not self.curve.finish(self.stall_bp):
                self._refuse(refusals.FLAT_CURVE, self.curve.length)
            self.done = True
            return
        u = self._share(point)
        if self.method == PRESSURES_ONLY:
            # n at the stall is 0.93 to 0.98 in recorded level stalls; 1/q alone reads low by that.
            if u > HIGH_PM:
                self._at = point + 1
                return
            u = u * 20 // 19
        self.curve.add(self._track.ratio_bp(point), u)
        self._at = point + 1

    def _refuse(self, word: int, number: int) -> None:
        self.refusal = word
        self.number = number
        self.done = True
