"""The one place that wires the rooms: a tick of raw words in, a tone request out."""

from micropython import const

from alula import health, states
from alula.conditioning import Channel
from alula.cues import Cues
from alula.elapsed import since_ms
from alula.flap_curves import FlapCurves
from alula.flight_phase import FlightPhase
from alula.ground_zero import GroundZero
from alula.health import Health
from alula.lamp_code import LampCode
from alula.pressure_ratio import ratio_bp
from alula.remarks import Remarks
from alula.sample import Sample
from alula.settings import OUTPUTS, Settings
from alula.transfer import Transfer
from alula.voice import Voice

_UNKNOWN_MOST_MS = const(600000)
FIGURE_HZ = const(900)  # first note of both fault figures, see `figures`


def _channel(settings: Settings, name: str) -> Channel:
    """A pressure channel ("pitot" or "angled") as the settings describe its sensor."""
    transfer = Transfer(
        OUTPUTS[getattr(settings, name + "_output")],
        getattr(settings, name + "_low_dpa"),
        getattr(settings, name + "_high_dpa"),
        -1 if getattr(settings, name + "_sense") else 1)
    return Channel(transfer, settings.sample_rate_hz, settings.window_ms,
                   settings.gap_ms, settings.lead_ms)


class Unit:
    """The angle-of-attack unit without its hardware.

    settings: complete (`settings.missing` empty). curves: (flap, points) of a checked
    calibration, see `calibration.curves_of`, or None.
    zero: stored (pitot_dpa, angled_dpa), or None where none was ever stored.

    After each `tick`: state (see `states`), health (index into `health.WORDS`), the tone request
    in `voice.hz` and `voice.level`, `lamp.on`, and what led to it: `pitot`, `angled` (channels),
    ratio_bp and lift_pm (valid while ratio_known, lift_known), pulse_millihz, tone_hz.
    """

    def __init__(self, settings: Settings, curves, zero) -> None:
        self._plumbing = settings.plumbing
        self._min_q_dpa = settings.min_q_dpa
        self._fault_after_ms = settings.fault_after_ms
        self._hold_ms = settings.hold_ms
        self.pitot = _channel(settings, "pitot")
        self.angled = _channel(settings, "angled")
        self.flaps = None if curves is None else FlapCurves(curves, settings.flap_settle_ms)
        self._cues = Cues(settings)
        self._health = Health(settings.fault_after_ms, settings.window_ms)
        self.phase = FlightPhase(settings)
        self.zero = GroundZero(settings, self.pitot, self.angled, zero)
        self.voice = Voice(settings)
        self.lamp = LampCode()
        self.state = states.QUIET
        self.health = health.SEEDING
        self.ratio_bp, self.ratio_known = 0, False
        self.lift_pm, self.lift_known = 0, False
        self.pulse_millihz, self.tone_hz = 0, 0
        self.disorders = 0  # ticks whose time did not rise; they change nothing
        self._unknown_ms = 0
        self._last_ms = 0
        self._begun = False
        self._remarks = Remarks(self.voice, self.zero, self.phase, self.flaps)

    def tick(self, now_ms: int, sample: Sample) -> None:
        """Take in one sample at time now_ms (0..2^30-1, may wrap). No allocation; never raises."""
        dt_ms = since_ms(now_ms, self._last_ms) if self._begun else 0
        if dt_ms <= 0 and self._begun:
            if self.disorders < _UNKNOWN_MOST_MS:
                self.disorders += 1
            return
        self._begun = True
        self._last_ms = now_ms
        pitot, angled = self.pitot, self.angled
        pitot.step(dt_ms, sample.pitot_status, sample.pitot_word)
        angled.step(dt_ms, sample.angled_status, sample.angled_word)
        if pitot.dropped or angled.dropped:
            pitot.clear()
            angled.clear()
        self._health.step(dt_ms, pitot, angled)
        if self.flaps is not None:
            self.flaps.step(dt_ms, sample.flap)
        self._measure(dt_ms)
        self._decide(dt_ms)
        self.voice.step(dt_ms, self.state, self.pulse_millihz, self.tone_hz)
        self.lamp.step(dt_ms, self.state, self.health, self.voice.level)

    def _measure(self, dt_ms: int) -> None:
        """Ratio, lift and phase of flight from the two channels, as far as they are ready."""
        pitot, angled = self.pitot, self.angled
        self.ratio_known = False
        self.lift_known = False
        if not pitot.ready or not angled.ready:
            self.zero.restart()
        else:
            q_dpa = pitot.dpa
            if q_dpa >= self._min_q_dpa:
                self.ratio_bp = ratio_bp(self._plumbing, q_dpa, angled.dpa)
                self.ratio_known = True
                if self.flaps is not None:
                    self.lift_pm = self.flaps.curve.lift_pm(self.ratio_bp)
                    self.lift_known = True
                    self._unknown_ms = 0
            self.phase.step(dt_ms, q_dpa, angled.dpa, self._cues.band)
            if not self.phase.flying:
                self.zero.step(dt_ms)
            if self._remarks.due():
                self._remarks.step()
        if not self.lift_known and self._unknown_ms < _UNKNOWN_MOST_MS:
            self._unknown_ms += dt_ms

    def _decide(self, dt_ms: int) -> None:
        """What the unit says now. The order of the questions is the order of their weight."""
        cues = self._cues
        code = self._health.code
        if not self._health.fault:
            if self.flaps is None:
                self._say(states.UNCALIBRATED, health.UNCALIBRATED)
                return
            if not self.zero.known and (self.phase.flying or self.zero.refusals):
                self._say(states.FAULT, health.NO_ZERO)
                return
            if not self.phase.flying:
                cues.reset()
                self._say(states.QUIET, health.ON_GROUND if code == health.OK else code)
                return
            if self.lift_known:
                step_bp = self.angled.step_dpa * 10000 // self.pitot.dpa
                cues.step(dt_ms, self.lift_pm, self.flaps.curve.step_pm(step_bp),
                          self.phase.settled)
            elif code == health.OK:
                code = health.Q_LOST if self.phase.lost else health.TOO_SLOW
        self._say(cues.band if self.lift_known else self._held(cues.band), code)

    def _held(self, band: int) -> int:
        """A band outlives its data for a while, a stall for longer; then the unit cannot know."""
        if band == states.STALLING:
            return band if self._unknown_ms <= self._hold_ms else states.FAULT
        if self._health.fault or self._unknown_ms > self._fault_after_ms:
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
