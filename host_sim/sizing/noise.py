"""Noise of ratio and lift: in closed form, and measured through the firmware."""

from dataclasses import dataclass

import numpy as np

from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Pair
from host_sim.sizing.noise_gain import channel_covariances
from host_sim.sizing.sensor_words import rms_with_steps_pa
from host_sim.sizing.through_firmware import noisy_words, ratios_bp
from host_sim.sizing.wing import Reader

use_firmware()

from alula.settings import Settings  # noqa: E402

TICKS = 12000
SEED = 20


@dataclass(frozen=True)
class Noise:
    """rms at one lift share: of the ratio (1, not 1/10 000), of the lift (per mille), of the
    speed that the lift stands for (kt); likeness: correlation of one tick and the next;
    firmware_pm: the lift's rms as measured through the firmware's words, integers and all."""

    ratio: float
    lift_pm: float
    speed_kt: float
    likeness: float
    firmware_pm: float = 0.0


def noise_at(reader: Reader, pair: Pair, settings: Settings, lift: float) -> Noise:
    """Closed form: with r = a/q, dr = da/q - r dq/q; with r = 1 - a/q the second factor is 1 - r.
    The two sensors' noises are independent."""
    pitot, angled = reader.wing.pressures_pa(lift)
    variance, next_one = channel_covariances(*line_shape(settings))
    factor = angled / pitot  # r, or 1 - r for pitot-port
    ratio = float(np.hypot(rms_with_steps_pa(pair.angled),
                           factor * rms_with_steps_pa(pair.pitot))) * variance ** 0.5 / pitot
    lift_pm = ratio * reader.slope_pm(lift)
    speed_kt = reader.wing.speed_kt(lift)
    return Noise(ratio, lift_pm, 0.5 * speed_kt * lift_pm / (1000.0 * lift), next_one / variance)


def measured_pm(reader: Reader, pair: Pair, settings: Settings, lift: float) -> float:
    """rms of the firmware's lift over two minutes of steady flight with noise in the words; NaN
    where the words are at the end of a sensor's range."""
    words = noisy_words(pair, reader.wing.pressures_pa(lift), TICKS, SEED)
    ratios = ratios_bp(settings, *words)
    if not len(ratios):
        return float("nan")
    return float(np.std([reader.curve.lift_pm(ratio) for ratio in ratios.tolist()]))


def line_shape(settings: Settings) -> tuple[int, float]:
    """(slots, horizon in slots) of the moving line; a median of three is one sample old."""
    period_ms = 1000 // settings.sample_rate_hz
    return (max(4, settings.window_ms // period_ms),
            (period_ms + settings.lead_ms) / period_ms)
