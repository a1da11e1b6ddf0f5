"""What a candidate's bands sound like: `cues.Cues._sound`, for all lift shares at once."""

import numpy as np

from alula.cues import CALM_HZ, CALM_MILLIHZ, WARBLE_NOTES_MILLIHZ
from alula.settings import Settings
from alula.urgency import STEPS, pulse_rates


class Sounds:
    """Pulse rates in milli-Hz and pitches in Hz. warble, calm: pairs of both. rates_millihz,
    pitches_hz: of pressing, by the step of its lift share; step_of_lift: below `stalling_pm`."""

    def __init__(self, settings: Settings) -> None:
        start, end = settings.pressing_pm, settings.stalling_pm
        rise = settings.pitch_high_hz - settings.pitch_low_hz
        step = np.arange(STEPS + 1)
        self.rates_millihz = np.array(pulse_rates(
            settings.pulse_low_millihz, settings.pulse_high_millihz, settings.urgency_pm))
        self.pitches_hz = settings.pitch_low_hz + rise * step // STEPS
        self.step_of_lift = np.maximum(
            (np.arange(end) - start) * (STEPS + 1) // (end - start), 0).astype(np.int8)
        self.warble = (max(WARBLE_NOTES_MILLIHZ, settings.pulse_high_millihz),
                       settings.warble_high_hz)
        self.calm = (CALM_MILLIHZ, CALM_HZ) if settings.calm_sound else (0, 0)
