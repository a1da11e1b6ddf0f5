"""The one place that wires the rooms: a tick of raw words in, a tone request out."""

from micropython import const

from alula import figures, health, states
from alula.conditioning import channel_of
from alula.cues import Cues
from alula.decision import Decision
from alula.doubts import Doubts
from alula.elapsed import since_ms
from alula.flap_curves import FlapCurves
from alula.flight_phase import LIFT_DOUBTED, LIFT_UNKNOWN, FlightPhase
from alula.ground_check import steps as check_steps
from alula.ground_check.checks import BY_HAND, GroundCheck
from alula.ground_zero import GroundZero
from alula.health import Health
from alula.lamp_code import LampCode
from alula.press import NONE, SHORT, Press
from alula.pressure_ratio import ratio_bp
from alula.remarks import Remarks
from alula.sample import FRESH, NO_TEMPERATURE, Sample
from alula.settings import Settings
from alula.stall_capture import capture as stall_capture
from alula.stall_capture.capture import StallCapture
from alula.steady_lift import SteadyLift
from alula.voice import Voice

_DISORDERS_MOST = const(600000)


class Unit:
    """The angle-of-attack unit without its hardware.

    settings: complete (`settings.missing` empty). curves: (flap, points) of a checked
    calibration, see `calibration.curves_of`, or None.
    zero: stored (pitot_dpa, angled_dpa), or None where none was ever stored.

    After each `tick`: state (see `states`), health (index into `health.WORDS`), the tone request
    in `voice.hz` and `voice.level`, `lamp.on`, and what led to it: `pitot`, `angled` (channels),
    ratio_bp and lift_pm (valid while ratio_known, lift_known), pulse_millihz, tone_hz.

    capture: the guided stall capture; its result and a new reference wait (`wants_saving`) until
    whoever owns the storage has saved them, and says so by `adopt_curves`, `adopt_reference`.
    """

    def __init__(self, settings: Settings, curves, zero) -> None:
        self._plumbing = settings.plumbing
        self._min_q_dpa = settings.min_q_dpa
        self.pitot = channel_of(settings, "pitot")
        self.angled = channel_of(settings, "angled")
        self.flaps = None if curves is None else FlapCurves(curves, settings.flap_settle_ms)
        self._flap_settle_ms = settings.flap_settle_ms
        self._cues = Cues(settings)
        self._health = Health(settings.fault_after_ms, settings.window_ms)
        self.phase = FlightPhase(settings)
        self.zero = GroundZero(settings, self.pitot, self.angled, zero)
        self._doubts = Doubts(settings)
        self._decision = Decision(settings, self.pitot, self.angled, self._cues, self._health,
                                  self._doubts, self.zero, self.phase)
        self.voice = Voice(settings)
        self.lamp = LampCode()
        self.capture = StallCapture(settings)
        self.checks = GroundCheck(settings, self.pitot, self.angled, self.zero)
        self.reference_pm = -1  # waits to be saved; -1: none waits
        self._press = Press()
        self._steady = SteadyLift()
        self.state = states.QUIET
        self.health = health.SEEDING
        self.ratio_bp, self.ratio_known = 0, False
        self.lift_pm, self.lift_known = 0, False
        self.pulse_millihz, self.tone_hz = 0, 0
        self.temperature_dc = NO_TEMPERATURE  # of the sensors, 0.1 degC
        self.disorders = 0  # ticks whose time did not rise; they change nothing
        self._last_ms = 0
        self._begun = False
        self._asks_zero = False  # the button is held since the start
        self._remarks = Remarks(self.voice, self.zero, self.phase, self.flaps)

    def tick(self, now_ms: int, sample: Sample) -> None:
        """Take in one sample at time now_ms (0..2^30-1, may wrap). No allocation; never raises."""
        dt_ms = since_ms(now_ms, self._last_ms) if self._begun else 0
        if dt_ms <= 0 and self._begun:
            if self.disorders < _DISORDERS_MOST:
                self.disorders += 1
            return
        if not self._begun:
            self._begin(sample.button)
        elif self._asks_zero and not sample.button:
            self._asks_zero = False
            self.zero.ask_first()
        self._last_ms = now_ms
        self._read(dt_ms, sample)
        self._measure(dt_ms, sample)
        if self.checks.step == check_steps.OFF and not self.phase.flying:
            self.checks.stillness.step(dt_ms, sample)
        event = self._press.step(dt_ms, sample.button)
        if event != NONE:
            self._pressed(event, sample.flap)
        if self.capture.state != stall_capture.IDLE:
            self._capture(dt_ms, sample)
        self._decide(dt_ms)
        if self.checks.step != check_steps.OFF:
            self._check(dt_ms, sample)
        self._speak(dt_ms)

    def _begin(self, button: int) -> None:
        """The first tick; a button held since the start asks for a zero and is no press."""
        self._begun = True
        if button:
            self._press.ignore()
            self._asks_zero = True

    def _read(self, dt_ms: int, sample: Sample) -> None:
        """The sample into the rooms that look at it alone."""
        self.temperature_dc = sample.temperature_dc
        pitot, angled = self.pitot, self.angled
        pitot.step(dt_ms, sample.pitot_status, sample.pitot_word)
        angled.step(dt_ms, sample.angled_status, sample.angled_word)
        if pitot.dropped or angled.dropped:
            pitot.clear()
            angled.clear()
        self._health.step(dt_ms, pitot, angled)
        if self.flaps is not None:
            self.flaps.step(dt_ms, sample.flap)

    def _speak(self, dt_ms: int) -> None:
        """From the state to voice and lamp; guidance is heard in place of "uncalibrated"."""
        capture, voice, state = self.capture, self.voice, self.state
        figure = capture.take_figure()
        if figure == figures.NOTHING:
            figure = self.checks.telling.take_figure()
        if figure != figures.NOTHING:
            voice.announce(figure)
        checks = self.checks
        if checks.step != check_steps.OFF:
            told = checks.telling
            voice.step(dt_ms, told.heard, told.pulse_millihz, told.tone_hz)
            self.lamp.guide(dt_ms, told.lamp_blinks)
            return
        capturing = capture.state != stall_capture.IDLE
        if state == states.UNCALIBRATED and capturing:
            voice.step(dt_ms, states.QUIET, 0, 0)
        else:
            voice.step(dt_ms, state, self.pulse_millihz, self.tone_hz)
        self.lamp.step(dt_ms, state, self.health, voice.level, capturing)

    def _pressed(self, event: int, flap: int) -> None:
        """Long: arm or cancel a capture. Short: mark a mushing stall, take a reference, or begin
        the checks on the ground, which take all presses until they end."""
        if self.checks.step != check_steps.OFF:
            self.checks.press(event)
            return
        if event == SHORT and self.capture.state == stall_capture.IDLE:
            if not self.phase.flying:
                self.check(BY_HAND)
            elif self._steady.steady and self.lift_known:
                self.reference_pm = self._steady.value_pm
            return
        self.capture.press(event, self.phase.flying, self.pitot.dpa, flap)

    def can_check(self) -> bool:
        """On the ground, with nothing of its own to say. No allocation."""
        return (not self.phase.flying and self.capture.state == stall_capture.IDLE
                and (self.state == states.QUIET or self.state == states.UNCALIBRATED))

    def check(self, code: int) -> None:
        """Begin checks, see `GroundCheck.begin`, if that may be. No allocation."""
        if self.can_check():
            self.checks.begin(code)
        else:
            self.checks.refuse()

    def _check(self, dt_ms: int, sample: Sample) -> None:
        """A step of the checks; they end at once where the unit is wanted."""
        if self.can_check():
            self.checks.tick(dt_ms, sample)
        else:
            self.checks.leave()

    def _capture(self, dt_ms: int, sample: Sample) -> None:
        if self._health.fault:
            self.capture.broken(self._health.code)
        elif self._doubts.code != health.OK:
            self.capture.broken(self._doubts.code)
        elif not self.phase.flying and self.capture.state != stall_capture.READY:
            self.capture.cancel()
        self.capture.step(dt_ms, self.ratio_known, self.pitot.dpa, self.ratio_bp, sample.nz_mg,
                          sample.nz_status == FRESH, sample.flap)

    def wants_saving(self) -> bool:
        """Something waits to be stored, and nothing sounds that must not be held up.

        No allocation.
        """
        return ((self.capture.state == stall_capture.READY or self.reference_pm >= 0)
                and not states.PRESSING <= self.state <= states.FAULT)

    def adopt_curves(self, curves) -> None:
        """Use new curves, just stored and read back. Allocates: between two ticks, while calm."""
        self.flaps = FlapCurves(curves, self._flap_settle_ms)
        self._remarks = Remarks(self.voice, self.zero, self.phase, self.flaps)
        self.capture.end(True)

    def adopt_reference(self, lift_pm: int) -> None:
        """Centre the calm tick on a reference, just stored or found stored at the start."""
        self._cues.centre_calm(lift_pm)
        if self.reference_pm >= 0:
            self.voice.announce(figures.NOTED)
        self.reference_pm = -1

    def give_up_saving(self) -> None:
        """What waited could not be stored: forget it, and say that it does not count."""
        if self.capture.state == stall_capture.READY:
            self.capture.end(False)
        else:
            self.reference_pm = -1
            self.voice.announce(figures.REFUSED)

    def _measure(self, dt_ms: int, sample: Sample) -> None:
        """Ratio, lift and phase of flight from the two channels, as far as they can be used."""
        pitot, angled = self.pitot, self.angled
        doubts, phase = self._doubts, self.phase
        self.ratio_known = False
        self.lift_known = False
        if self.checks.handling:  # somebody blows and presses: that is no doubt, and no zero
            doubts.restart()
            self.zero.restart()
        doubts.watch(dt_ms, pitot, angled, phase.flying and not phase.lost)
        if not pitot.ready or not angled.ready:
            self.zero.restart()
            doubts.restart()
            self._steady.clear()
        elif doubts.jumping:
            self._steady.clear()
            doubts.step(dt_ms, pitot, angled, phase.flying)  # it may know better what has happened
        else:
            self._compare(dt_ms, pitot.dpa, angled.dpa, sample)
        doubts.conclude(self.lift_known)
        if doubts.code != health.OK:
            self.lift_known = False

    def _compare(self, dt_ms: int, q_dpa: int, angled_dpa: int, sample: Sample) -> None:
        """Two pressures that can be compared, to a ratio, a lift share and a phase of flight."""
        phase, doubts = self.phase, self._doubts
        if q_dpa >= self._min_q_dpa:
            self.ratio_bp = ratio_bp(self._plumbing, q_dpa, angled_dpa)
            self.ratio_known = True
            if self.flaps is not None:
                curve = self.flaps.curve
                self.lift_pm = curve.lift_pm(self.ratio_bp)
                self.lift_known = True
                self._steady.step(dt_ms, self.lift_pm)
                if phase.flying and self.flaps.known:
                    doubts.weigh(dt_ms, curve, self.ratio_bp, self.lift_pm, q_dpa, sample,
                                 phase.aloft)
        doubts.step(dt_ms, self.pitot, self.angled, phase.flying)
        lift_pm = self.lift_pm if self.lift_known else LIFT_UNKNOWN
        if doubts.last != health.OK:
            lift_pm = LIFT_DOUBTED
        if not self.checks.leak.excused:
            phase.step(dt_ms, q_dpa, angled_dpa, self._cues.band, lift_pm)
        if not phase.flying:
            doubts.land()
            if not phase.has_flown and not self.checks.handling:
                self.zero.step(dt_ms, sample.temperature_dc)
        if self._remarks.due():
            self._remarks.step()

    def _decide(self, dt_ms: int) -> None:
        """What the unit says now, for everybody to read."""
        decision = self._decision
        decision.step(dt_ms, self.flaps, self.lift_known, self.lift_pm, self.ratio_bp)
        self.state = decision.state
        self.health = decision.health
        self.pulse_millihz = decision.pulse_millihz
        self.tone_hz = decision.tone_hz
