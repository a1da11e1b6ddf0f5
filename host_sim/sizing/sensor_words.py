"""Pressures to a sensor's raw words, and what one step of a word is worth.

The word's transfer function is the firmware's table of data-sheet limits, turned round; a sensor
that its driver reads as pressure ("direct") gives 0.1 Pa.
"""

import numpy as np

from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Sensor

use_firmware()

from alula.transfer import LIMIT_DPA, OUTPUT_TENTHS, Transfer  # noqa: E402

WORD_MOST = 16383
DIRECT_STEP_PA = 0.1


def transfer_of(sensor: Sensor) -> Transfer:
    """The firmware's transfer function of a sensor, hoses as marked."""
    return Transfer(sensor.output, round(10.0 * sensor.low_pa), round(10.0 * sensor.high_pa), 1)


def step_pa(sensor: Sensor) -> float:
    """The coarser of one step of the word and the sensor's own resolution, Pa."""
    return max(_word_step_pa(sensor), sensor.resolution_pa)


def rms_with_steps_pa(sensor: Sensor) -> float:
    """Noise of one reading with the rounding to steps in it: a step spread evenly has a variance
    of step^2/12 (textbook; it holds where the noise is not much smaller than the step)."""
    return float(np.hypot(sensor.noise_pa, step_pa(sensor) / 12.0 ** 0.5))


def usable_pa(sensor: Sensor) -> tuple[float, float]:
    """Pressures between which a word is believed: the sensor's range, within the unit's clamp."""
    limit_pa = LIMIT_DPA / 10.0
    return max(sensor.low_pa, -limit_pa), min(sensor.high_pa, limit_pa)


def to_words(pressure_pa: np.ndarray, sensor: Sensor, rng: np.random.Generator | None = None,
             offset_pa: float = 0.0) -> np.ndarray:
    """Raw words, int64, one a pressure; with noise where there is an rng. Sticks at the ends."""
    felt = np.asarray(pressure_pa, float) + offset_pa
    if rng is not None:
        felt = felt + sensor.noise_pa * rng.standard_normal(len(felt))
    if sensor.resolution_pa > _word_step_pa(sensor):
        felt = sensor.resolution_pa * np.rint(felt / sensor.resolution_pa)
    if sensor.output == "direct":
        low, high = usable_pa(sensor)
        return np.rint(10.0 * np.clip(felt, low, high)).astype(np.int64)
    first, last = OUTPUT_TENTHS[sensor.output]
    share = (felt - sensor.low_pa) / sensor.span_pa
    words = np.rint((first + share * (last - first)) / 10.0)
    return np.clip(words, 0, WORD_MOST).astype(np.int64)


def _word_step_pa(sensor: Sensor) -> float:
    if sensor.output == "direct":
        return DIRECT_STEP_PA
    first, last = OUTPUT_TENTHS[sensor.output]
    return 10.0 * sensor.span_pa / (last - first)
