"""The guided stall capture: a table of states, one button, no button at the stall.

    IDLE --arm--> STEADY --settled--> SLOWING --stall passed--> RECOVERING --down--> JUDGING
    JUDGING --accepted or refused--> STEADY, for the next run; or READY when enough runs agree
    READY --saved--> IDLE;   any --long press--> IDLE

Nothing is stored here and nothing in use is changed: `result` waits in READY until the unit has
saved it and read it back.
"""

from micropython import const

from alula import figures
from alula.press import LONG, SHORT
from alula.pressure_ratio import PLUMBINGS
from alula.sample import FLAP_UNCLEAR
from alula.settings import Settings
from alula.stall_capture import refusals
from alula.stall_capture.book import RunBook
from alula.stall_capture.judge import RunJudge
from alula.stall_capture.pace import PACE_POINTS, STEADY_POINTS, Pace
from alula.stall_capture.track import Track
from alula.stall_capture.watch import StallWatch

IDLE, STEADY, SLOWING, RECOVERING, JUDGING, READY = (
    const(0), const(1), const(2), const(3), const(4), const(5))
WORDS = ("idle", "steady", "slowing", "recovering", "judging", "ready")

# Events
_ARM, _SETTLED, _PASSED, _DOWN, _JUDGED, _AGREED, _CANCEL, _BROKEN = (
    const(0), const(1), const(2), const(3), const(4), const(5), const(6), const(7))
_STAY = const(-1)
# Next state, by state (row) and event (column, in the order above).
_NEXT = (
    #  arm     settled    passed       down      judged    agreed   cancel  broken
    (STEADY, _STAY, _STAY, _STAY, _STAY, _STAY, _STAY, _STAY),  # idle
    (_STAY, SLOWING, _STAY, _STAY, _STAY, _STAY, IDLE, STEADY),  # steady
    (_STAY, _STAY, RECOVERING, _STAY, _STAY, _STAY, IDLE, STEADY),  # slowing
    (_STAY, _STAY, _STAY, JUDGING, _STAY, _STAY, IDLE, STEADY),  # recovering
    (_STAY, _STAY, _STAY, _STAY, STEADY, READY, IDLE, STEADY),  # judging
    (_STAY, _STAY, _STAY, _STAY, _STAY, _STAY, IDLE, _STAY),  # ready
)
_UNREADY_MS = const(300)
_COUNT_TURN = const(10000)
_FLAP_MS = const(500)


class StallCapture:
    """Feed it every tick in flight; it says what to announce in `figure` (taken by `take_figure`).

    state: IDLE .. READY. judge: the latest run's verdict, counted in `verdicts`. refusal, number:
    of the latest refusal, counted in `refused`. book: accepted runs. flap: of this capture.
    """

    def __init__(self, settings: Settings) -> None:
        bp_scale = 2 if settings.plumbing == PLUMBINGS.index("opposed") else 1
        self._settings = settings
        self.track = Track()
        self.watch = StallWatch(bp_scale)
        self.judge = RunJudge(settings, bp_scale, self.track, self.watch)
        self.book = RunBook(settings.capture_runs, settings.capture_agree_pm)
        self.state = IDLE
        self.verdicts = 0
        self.refused = 0
        self.refusal = refusals.ACCEPTED
        self.number = 0
        self.flap = 0
        self._figure = figures.NOTHING
        self._marked = False
        self._pace = Pace(settings.capture_pace_ckts)
        self._unready_ms = 0
        self._flap_ms = 0

    def take_figure(self) -> int:
        """The figure to announce, once; figures.NOTHING if there is none. No allocation."""
        figure = self._figure
        self._figure = figures.NOTHING
        return figure

    def press(self, event: int, flying: bool, q_dpa: int, flap: int) -> None:
        """A short or long press. No allocation."""
        if event == LONG:
            if self.state != IDLE:
                self.cancel()
            elif not flying:
                self._refuse(refusals.NOT_FLYING, q_dpa)
            elif flap == FLAP_UNCLEAR:
                self._refuse(refusals.FLAP_MOVED, flap)
            else:
                self.arm(flap)
        elif event == SHORT and self.state == SLOWING:
            self._mark()

    def arm(self, flap: int) -> None:
        """Begin a capture for a flap setting; runs of another setting are forgotten."""
        if flap != self.flap:
            self.book.clear()
        self.flap = flap
        self._figure = figures.ARMED
        self._go(_ARM)
        self._restart()

    def cancel(self) -> None:
        """Drop the run and all accepted runs; nothing was stored."""
        self.book.clear()
        self._figure = figures.CANCELLED
        self._go(_CANCEL)

    def end(self, saved: bool) -> None:
        """The capture is over: its result was stored and read back, or could not be."""
        self.book.clear()
        self._figure = figures.SAVED if saved else figures.REFUSED
        self._go(_CANCEL)

    def broken(self, code: int) -> None:
        """A fault in the data: a run under way is refused."""
        if SLOWING <= self.state <= JUDGING:
            self._refuse(refusals.FAULT, code)
            self._go(_BROKEN)
            self._restart()

    def _go(self, event: int) -> None:
        following = _NEXT[self.state][event]
        if following != _STAY:
            self.state = following

    def _restart(self) -> None:
        self.track.clear()
        self._pace.restart()
        self._unready_ms = 0
        self._flap_ms = 0

    def step(self, dt_ms: int, known: bool, q_dpa: int, ratio_bp: int, n_mg: int, n_known: bool,
             flap: int) -> None:
        """One tick of conditioned data; known: q and ratio can be believed. No allocation."""
        if self.state == IDLE or self.state == READY:
            return
        if self.state == JUDGING:
            self._judge()
            return
        if not known:
            self._unready_ms += dt_ms
            if self._unready_ms > _UNREADY_MS:
                self._restart()
            return
        self._unready_ms = 0
        self._watch_flap(dt_ms, flap)
        if self.track.step(dt_ms, q_dpa, ratio_bp, n_mg, n_known):
            self._point()

    def _watch_flap(self, dt_ms: int, flap: int) -> None:
        self._flap_ms = self._flap_ms + dt_ms if flap != self.flap else 0
        if self._flap_ms > _FLAP_MS:
            if self.state != STEADY:
                self._refuse(refusals.FLAP_MOVED, flap)
                self._go(_BROKEN)
            self.book.clear()
            self.flap = flap
            self._restart()

    def _point(self) -> None:
        """A new point of the track."""
        if self.state == STEADY:
            self._settle()
            return
        self.watch.step(self.track)
        if self.state == SLOWING:
            figure = self._pace.figure(self.track)
            if figure != figures.NOTHING:
                self._figure = figure
            if self.watch.passed:
                self._stall_passed()
            elif self.track.count - self.watch.start > self._settings.capture_longest_s * 10:
                self._refuse(refusals.NO_STALL, 0)
                self._go(_BROKEN)
                self._restart()
        elif self.watch.down:
            self.judge.begin(self._marked)
            self._go(_DOWN)

    def _stall_passed(self) -> None:
        """The peak lies behind: a stall, or only a turn or a gust, and then no run at all."""
        if self.watch.is_run(self.track):
            self._figure = figures.RECOVER
            self._go(_PASSED)
        else:
            self._go(_BROKEN)
            self._restart()

    def _settle(self) -> None:
        """Steady long enough? Then the run may begin."""
        if self._pace.settled(self.track):
            self._figure = figures.SLOW_NOW
            self._marked = False
            self._pace.restart()
            self.watch.begin(self.track.count - 1 - STEADY_POINTS)
            self._go(_SETTLED)

    def _mark(self) -> None:
        """The pilot says: the control is on its stop, and this is as far as it goes."""
        if self.track.count - self.watch.start < PACE_POINTS:
            return
        self._marked = True
        self.watch.mark(self.track)
        self._figure = figures.RECOVER
        self._go(_PASSED)

    def _judge(self) -> None:
        self.judge.step()
        if not self.judge.done:
            return
        self._restart()
        self.verdicts += 1
        if self.judge.refusal != refusals.ACCEPTED:
            self._refuse(self.judge.refusal, self.judge.number)
            self._go(_JUDGED)
            return
        self.refusal = refusals.ACCEPTED
        self._figure = figures.ACCEPTED
        self.book.add(self.judge)
        if self.book.best >= 0:
            self._go(_AGREED)
            return
        if self.book.count >= self._settings.capture_runs:
            self._refuse(refusals.DISAGREE, self.book.spread_pm)
        self._go(_JUDGED)

    def _refuse(self, word: int, number: int) -> None:
        self.refusal = word
        self.number = number
        self.refused = (self.refused + 1) % _COUNT_TURN
        self._figure = figures.REFUSED
