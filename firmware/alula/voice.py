"""From the state of the unit to what the tone output does in this tick: a pitch and a level.

Level is the amplitude in eighths, 0..8. Edges are shaped: the level climbs and falls over
`edge_ms`, so that a pulse does not click. A warble never lets the level fall.
"""

from micropython import const

from alula import figures
from alula.figures import FigurePlayer
from alula.settings import Settings
from alula.states import FAULT, PRESSING, QUIET, STALLING

_CYCLE = const(1000000)  # one pulse, in 1/1000 Hz * ms
_TICK_MS = const(60)
_FULL = const(8000)  # level 8 in thousandths of a level
_SOFT = const(4000)
_DT_MOST_MS = const(1000)  # a longer tick would only turn the phase round more often


class Voice:
    """The unit's one voice. `hz` and `level` are the tone request of this tick.

    hz: 0 or 300..2500. level: 0..8; 0 is silence, and then hz may be anything.
    """

    def __init__(self, settings: Settings) -> None:
        # An edge within one tick would be a click.
        self._edge_ms = max(settings.edge_ms, 2000 // settings.sample_rate_hz)
        self._low_hz = settings.warble_low_hz
        self._every_ms = settings.fault_every_ms
        self._repeats = settings.fault_repeats
        self._reminder_ms = settings.fault_reminder_ms
        self._player = FigurePlayer()
        self._player.start(figures.STARTED)
        self._remark = figures.NOTHING
        self._state = QUIET
        self._phase = 0
        self._amplitude = 0
        self._said = 0
        self._rest_ms = 0
        self._insist = False
        self.hz = 0
        self.level = 0

    def announce(self, figure: int) -> None:
        """Say a figure once, when nothing more pressing sounds; the newest remark wins."""
        self._remark = figure

    def step(self, dt_ms: int, state: int, pulse_millihz: int, tone_hz: int) -> None:
        """Let dt_ms (>= 0) pass and shape the tone request. No allocation.

        state: one of `states`. pulse_millihz, tone_hz: of the margin sounds, see `cues`.
        """
        if dt_ms > _DT_MOST_MS:
            dt_ms = _DT_MOST_MS
        if state != self._state:
            self._begin(state)
        if state >= FAULT:
            self._repeat(dt_ms, figures.CANNOT_KNOW if state == FAULT else figures.UNCALIBRATED)
        elif state < PRESSING and (
                not tone_hz or self._player.playing or self._remark != figures.NOTHING):
            self._comment(dt_ms)
        else:
            self._margin(dt_ms, state, pulse_millihz, tone_hz)

    def _begin(self, state: int) -> None:
        """A new state is heard at once, with its first pulse or note."""
        if PRESSING <= state <= STALLING:
            self._remark = figures.NOTHING  # a warning is not followed by an old remark
            self._player.stop()
        # A stall whose data were lost is never thinned out to a sparse reminder.
        self._insist = state == FAULT and self._state == STALLING
        self._state = state
        self._phase = 0
        self._said = 0
        self._rest_ms = 0

    def _margin(self, dt_ms: int, state: int, pulse_millihz: int, tone_hz: int) -> None:
        phase = self._phase
        wanted = _FULL
        if state == STALLING:
            # Notes alternate, so a whole cycle is two notes.
            if phase >= _CYCLE // 2:
                tone_hz = self._low_hz
            pulse_millihz >>= 1
        elif state == PRESSING:
            if phase >= _CYCLE // 2:
                wanted = 0
        else:
            wanted = _SOFT if phase < _TICK_MS * pulse_millihz else 0
        self._shape(dt_ms, wanted, tone_hz)
        self._phase = (phase + pulse_millihz * dt_ms) % _CYCLE

    def _repeat(self, dt_ms: int, figure: int) -> None:
        """Say a fault figure every few seconds, then only as a reminder."""
        player = self._player
        player.step(dt_ms)
        self._rest_ms -= dt_ms
        if self._rest_ms <= 0 and not player.playing:
            player.start(figure)
            if self._said < self._repeats or self._insist:
                self._said += 1
                self._rest_ms = self._every_ms
            else:
                self._rest_ms = self._reminder_ms
        self._shape(dt_ms, _FULL if player.hz else 0, player.hz)

    def _comment(self, dt_ms: int) -> None:
        """Silence, except for a remark that waits to be said."""
        player = self._player
        player.step(dt_ms)
        if not player.playing and self._remark != figures.NOTHING:
            player.start(self._remark)
            self._remark = figures.NOTHING
        self._shape(dt_ms, _FULL if player.hz else 0, player.hz)

    def _shape(self, dt_ms: int, wanted: int, tone_hz: int) -> None:
        """Move the amplitude towards what is wanted; keep the old pitch while it dies away."""
        step = _FULL * dt_ms // self._edge_ms
        amplitude = self._amplitude
        if amplitude < wanted:
            amplitude += step
            if amplitude > wanted:
                amplitude = wanted
        elif amplitude > wanted:
            amplitude -= step
            if amplitude < wanted:
                amplitude = wanted
        self._amplitude = amplitude
        self.level = amplitude // 1000
        if tone_hz and wanted:
            self.hz = tone_hz
