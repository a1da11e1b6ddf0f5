"""What the firmware's ground zero leaves of a sensor's zero error, by running it.

Starts with the sensors' zero error at both ends of their total error band (all of the band taken
for zero error: the worst case), noise and steps in the words, still air; then the second zero,
after the sensors have warmed up. The unit refuses a zero that is too far off; that is told.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Case, Pair, Sensor
from host_sim.sizing.sensor_words import to_words
from host_sim.sizing.through_firmware import CHANNELS

use_firmware()

from alula.conditioning import channel_of  # noqa: E402
from alula.ground_zero import GroundZero, stall_q_dpa  # noqa: E402
from alula.sample import FRESH, NO_TEMPERATURE  # noqa: E402
from alula.settings import Settings  # noqa: E402

STARTS = 6
_SEED = 30
_BLOCK_MS = 400  # more than the blocks in which the firmware takes a zero


@dataclass(frozen=True)
class Zeroing:
    """Of (pitot, angled): left_pa, the most that a zero left of the zero error; drift_left_pa, of
    the drift after the second zero. first_taken, second_taken: whether every start had its first,
    its second zero. follows_k: sensors colder or warmer than at the anchor by more than this have
    their next zero refused."""

    left_pa: tuple[float, float]
    drift_left_pa: tuple[float, float]
    first_taken: bool
    second_taken: bool
    follows_k: float


def zeroing(case: Case, pair: Pair, settings: Settings) -> Zeroing:
    """Run the starts."""
    left = [0.0, 0.0]
    first = second = True
    for start in range(STARTS):
        taken, found = _start(case, pair, settings, start)
        first, second = first and taken > 0, second and taken > 1
        left = [max(old, new) for old, new in zip(left, found, strict=True)]
    sensors = (pair.pitot, pair.angled)
    if not first:
        left = [sensor.band_pa for sensor in sensors]
    drift_k = case.change_k + (0.0 if second else case.warm_up_k)
    drift = [abs(sensor.drift_pa_per_k) * drift_k for sensor in sensors]
    return Zeroing((left[0], left[1]), (drift[0], drift[1]), first, second,
                   _follows_k(sensors, settings))


def _start(case: Case, pair: Pair, settings: Settings, start: int) -> tuple[int, list[float]]:
    """One start: how many zeros were taken, and what the first left, Pa."""
    channels = [channel_of(settings, name) for name in CHANNELS]
    zero = GroundZero(settings, channels[0], channels[1], None)
    period_ms = 1000 // settings.sample_rate_hz
    ticks = (settings.zero_ms + 2 * settings.window_ms + _BLOCK_MS) // period_ms
    rng = np.random.default_rng([_SEED, start])
    # both ends of the band, and places between two steps that differ from start to start
    ends = [(1 - 2 * (start % 2)) * (sensor.band_pa - 0.37 * start * sensor.span_pa / 13107.0)
            for sensor in (pair.pitot, pair.angled)]
    left = [0.0, 0.0]
    for part, warmer_k in enumerate((0.0, case.warm_up_k)):
        words = [to_words(np.zeros(ticks), sensor, rng, end + sensor.drift_pa_per_k * warmer_k)
                 for sensor, end in zip((pair.pitot, pair.angled), ends, strict=True)]
        for pitot, angled in zip(words[0].tolist(), words[1].tolist(), strict=True):
            channels[0].step(period_ms, FRESH, pitot)
            channels[1].step(period_ms, FRESH, angled)
            if channels[0].ready and channels[1].ready and zero.taken <= part:
                zero.step(period_ms, NO_TEMPERATURE)
        if part == 0:
            left = [abs(channel.zero_dpa / 10.0 - end)
                    for channel, end in zip(channels, ends, strict=True)]
            zero.step(settings.zero_again_ms, NO_TEMPERATURE)
    return zero.taken, left


def _follows_k(sensors: tuple[Sensor, Sensor], settings: Settings) -> float:
    limit_pa = min(settings.zero_change_dpa,
                   stall_q_dpa(settings) * settings.zero_share_pm // 1000) / 10.0
    steepest = max(abs(sensor.drift_pa_per_k) for sensor in sensors)
    return limit_pa / steepest if steepest > 0.0 else float("inf")
