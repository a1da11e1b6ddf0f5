"""What the unit says now, and why: from health, doubts and lift to a state and a tone."""

from micropython import const

from alula import figures, health, states
from alula.cues import Cues
from alula.doubts import Doubts
from alula.flight_phase import FlightPhase
from alula.ground_zero import GroundZero
from alula.health import Health
from alula.pressure_ratio import step_bp
from alula.settings import Settings

_UNKNOWN_MOST_MS = const(600000)
FIGURE_HZ = figures.FIGURES[figures.CANNOT_KNOW][0]  # both fault figures begin with it


class Decision:
    """The state of the unit; the rooms that it judges by are passed in once.

    After each `step`: state (see `states`), health (index into `health.WORDS`), pulse_millihz and
    tone_hz (Hz) of the pulses.
    """

    def __init__(self, settings: Settings, pitot, angled, cues: Cues, found: Health,
                 doubts: Doubts, zero: GroundZero, phase: FlightPhase) -> None:
        self._plumbing = settings.plumbing
        self._fault_after_ms = settings.fault_after_ms
        self._hold_ms = settings.hold_ms
        self._pitot, self._angled = pitot, angled
        self._cues, self._found, self._doubts = cues, found, doubts
        self._zero, self._phase = zero, phase
        self._unknown_ms = 0  # how long without a lift share
        self.state = states.QUIET
        self.health = health.SEEDING
        self.pulse_millihz, self.tone_hz = 0, 0

    def step(self, dt_ms: int, flaps, lift_known: bool, lift_pm: int, ratio_bp: int) -> None:
        """Decide. flaps: `FlapCurves`, or None where the wing was never shown.

        The order of the questions is the order of their weight. No allocation.
        """
        if lift_known:
            self._unknown_ms = 0
        elif self._unknown_ms < _UNKNOWN_MOST_MS:
            self._unknown_ms += dt_ms
        cues, flying = self._cues, self._phase.flying
        code = self._found.code
        if not self._found.fault:
            if flaps is None:
                self._say(states.UNCALIBRATED, health.UNCALIBRATED)
                return
            if not self._zero.known and (flying or self._zero.refusals):
                self._say(states.FAULT, health.NO_ZERO)
                return
            doubt = self._doubts.code
            if doubt != health.OK:
                code = doubt
            elif not flying:
                cues.reset()
                self._say(states.QUIET, health.ON_GROUND if code == health.OK else code)
                return
            if lift_known:
                self._judge(dt_ms, flaps.curve, lift_pm, ratio_bp)
            elif code == health.OK:
                code = health.Q_LOST if self._phase.lost else health.TOO_SLOW
            elif code == health.SEEDING and self._doubts.last != health.OK:
                code = self._doubts.last
        self._say(cues.band if lift_known else self._held(cues.band), code)

    def _judge(self, dt_ms: int, curve, lift_pm: int, ratio_bp: int) -> None:
        """The band of a lift share that is known."""
        cues = self._cues
        resolution_pm = 0
        if cues.band:  # only a band that has started has an end to judge
            resolution_pm = curve.step_pm(step_bp(
                self._plumbing, self._pitot.dpa, ratio_bp, self._pitot.step_dpa,
                self._angled.step_dpa))
        cues.step(dt_ms, lift_pm, resolution_pm, self._phase.settled)

    def _held(self, band: int) -> int:
        """A band outlives its data for a while, a stall for longer; then the unit cannot know."""
        if band == states.STALLING:
            return band if self._unknown_ms <= self._hold_ms else states.FAULT
        if self._found.fault or self._unknown_ms > self._fault_after_ms:
            return states.FAULT
        return band

    def _say(self, state: int, code: int) -> None:
        self.state = state
        self.health = code
        if state >= states.FAULT:
            self.pulse_millihz = 0
            self.tone_hz = FIGURE_HZ
        else:
            self.pulse_millihz = self._cues.pulse_millihz
            self.tone_hz = self._cues.tone_hz
