"""Lift share to a band and to what the pilot should hear: pulse rate and pitch.

Bands start at once and end late: a band that has started ends only when lift has stayed below
its start, less the hysteresis, for the band's release time. Early is better than quiet.
"""

from array import array

from micropython import const

from alula.settings import Settings
from alula.states import CALM, PRESSING, QUIET, STALLING
from alula.urgency import STEPS, pulse_rates

CALM_HZ = const(500)
CALM_MILLIHZ = const(1000)
WARBLE_NOTES_MILLIHZ = const(8000)  # notes a second, as fast as pressing ends by default


class Cues:
    """The band in use and its sound.

    band: QUIET, CALM, PRESSING or STALLING.
    pulse_millihz: pulses (in STALLING: notes) in 1000 s; 0 where nothing sounds.
    tone_hz: pitch (in STALLING: the upper of two); 0 where nothing sounds.
    """

    def __init__(self, settings: Settings) -> None:
        self._starts = array(
            "i", [0, settings.calm_pm, settings.pressing_pm, settings.stalling_pm])
        self._hysteresis_pm = settings.hysteresis_pm
        self._release_ms = array("i", [0, settings.calm_release_ms] + 2 * [settings.release_ms])
        self._rates = pulse_rates(
            settings.pulse_low_millihz, settings.pulse_high_millihz, settings.urgency_pm)
        self._pitch_low_hz = settings.pitch_low_hz
        self._pitch_rise_hz = settings.pitch_high_hz - settings.pitch_low_hz
        self._warble_hz = settings.warble_high_hz
        self._warble_millihz = max(WARBLE_NOTES_MILLIHZ, settings.pulse_high_millihz)
        self._calm_on = settings.calm_sound
        self._calm_top_pm = settings.pressing_pm
        self._calm_half_pm = settings.calm_half_pm
        self.reset()

    def reset(self) -> None:
        """Back to quiet, at a start or on the ground."""
        self.band = QUIET
        self.pulse_millihz = 0
        self.tone_hz = 0
        self._below_ms = 0

    def centre_calm(self, lift_pm: int) -> None:
        """Let the calm tick centre on a lift share that the pilot chose, e.g. his best glide.

        The band then begins half a width below it, and the tick ends half a width above it.
        """
        self._starts[CALM] = lift_pm - self._calm_half_pm
        self._calm_top_pm = lift_pm + self._calm_half_pm

    def step(self, dt_ms: int, lift_pm: int, resolution_pm: int, calm_tick: bool) -> None:
        """Judge a lift share (0..1500) that is known to within resolution_pm. No allocation.

        calm_tick: whether the calm band may be heard, too.
        """
        starts = self._starts
        band = self.band
        if band < STALLING and lift_pm >= starts[band + 1]:
            while band < STALLING and lift_pm >= starts[band + 1]:
                band += 1
            self._below_ms = 0
        elif band > QUIET:
            slack = self._hysteresis_pm
            if slack < 2 * resolution_pm:
                slack = 2 * resolution_pm
            if lift_pm >= starts[band] - slack:
                self._below_ms = 0
            else:
                self._below_ms += dt_ms
                if self._below_ms >= self._release_ms[band]:
                    while band > QUIET and lift_pm < starts[band] - slack:
                        band -= 1
                    self._below_ms = 0
        if band != self.band or CALM <= band <= PRESSING:
            self.band = band
            self._sound(lift_pm, calm_tick)

    def _sound(self, lift_pm: int, calm_tick: bool) -> None:
        band = self.band
        if band == PRESSING:
            start = self._starts[PRESSING]
            i = (lift_pm - start) * (STEPS + 1) // (self._starts[STALLING] - start)
            if i < 0:  # in the hysteresis; never above STEPS, or the band were STALLING
                i = 0
            self.pulse_millihz = self._rates[i]
            self.tone_hz = self._pitch_low_hz + self._pitch_rise_hz * i // STEPS
        elif band == STALLING:
            self.pulse_millihz = self._warble_millihz
            self.tone_hz = self._warble_hz
        elif band == CALM and calm_tick and self._calm_on and lift_pm <= self._calm_top_pm:
            self.pulse_millihz = CALM_MILLIHZ
            self.tone_hz = CALM_HZ
        else:
            self.pulse_millihz = 0
            self.tone_hz = 0
