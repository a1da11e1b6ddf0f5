"""Sensors: from true pressure and load factor to the integers that the firmware receives."""

import zlib
from dataclasses import dataclass

import numpy as np

FRESH = 0
_TOP_CODE = 16383  # 14 bits
# counts at the lowest and the highest pressure, by output type; from the Linux driver
# hsc030pa.c, which cites its maker's data sheet (secondary source)
OUTPUT_LIMITS: dict[str, tuple[int, int]] = {
    "A": (1638, 14746),
    "B": (819, 15565),
    "C": (819, 13926),
    "F": (655, 15401),
}
DIGITAL = "24-bit"
OUTPUT_TYPES = (*OUTPUT_LIMITS, DIGITAL)


@dataclass(frozen=True)
class SensorModel:
    """A differential-pressure sensor of +-`range_pa`, with noise (rms) and zero error in Pa.

    `output`: A, B, C or F (share of 2^14 used), or "24-bit" (the word is 0.1 Pa, signed).
    `name` keeps the noise of two sensors apart at one seed.
    """

    name: str = "pitot"
    output: str = "A"
    range_pa: float = 6894.757
    noise_pa: float = 1.0
    zero_error_pa: float = 0.0


def to_words(
    pressure_pa: np.ndarray, sensor: SensorModel, seed: int
) -> tuple[np.ndarray, np.ndarray]:
    """(words, statuses), int64, one each sample; pressures beyond the range stick at the end.

    A 14-bit sensor sticks at the codes 0 and 16383, a 24-bit one at +-range. Status is always
    FRESH.
    """
    rng = np.random.default_rng([seed, zlib.crc32(sensor.name.encode())])
    felt = pressure_pa + sensor.zero_error_pa
    felt = felt + sensor.noise_pa * rng.standard_normal(len(felt))
    if sensor.output == DIGITAL:
        words = np.rint(10.0 * np.clip(felt, -sensor.range_pa, sensor.range_pa))
    else:
        low, high = OUTPUT_LIMITS[sensor.output]
        share = (felt + sensor.range_pa) / (2.0 * sensor.range_pa)
        words = np.clip(np.rint(low + share * (high - low)), 0, _TOP_CODE)
    return words.astype(np.int64), np.full(len(felt), FRESH, dtype=np.int64)


def accelerometer_words(
    nz_g: np.ndarray,
    seed: int,
    noise_g: float = 0.03,
    zero_error_g: float = 0.0,
    range_g: float = 8.0,
) -> np.ndarray:
    """Milli-g on the wing-normal axis, +1000 in level flight; int64, clipped at +-range."""
    rng = np.random.default_rng([seed, zlib.crc32(b"accelerometer")])
    felt = nz_g + zero_error_g + noise_g * rng.standard_normal(len(nz_g))
    return np.rint(1000.0 * np.clip(felt, -range_g, range_g)).astype(np.int64)
