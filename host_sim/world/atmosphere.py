"""Standard air up to 11 km, and the pressure that a pitot tube feels.

Heights are geopotential, as altimeters use them. Formulas: ICAO Doc 7488 / US Standard
Atmosphere 1976 (from memory, checked in the tests against the library `ambiance`).
"""

from typing import TypeVar, cast

import numpy as np

PRESSURE_SEA_PA = 101325.0
TEMPERATURE_SEA_K = 288.15
LAPSE_K_PER_M = 0.0065
GRAVITY_MS2 = 9.80665
GAS_CONSTANT = 287.05287  # J/(kg K), dry air
HEAT_RATIO = 1.4
DENSITY_SEA = PRESSURE_SEA_PA / (GAS_CONSTANT * TEMPERATURE_SEA_K)  # kg/m3
SOUND_SEA_MS = (HEAT_RATIO * GAS_CONSTANT * TEMPERATURE_SEA_K) ** 0.5
MS_PER_KT = 1852.0 / 3600.0
M_PER_FT = 0.3048
VISCOSITY_PA_S = 1.789e-5  # air at 15 degrees C

_BAROMETRIC_POWER = GRAVITY_MS2 / (GAS_CONSTANT * LAPSE_K_PER_M)

Reals = TypeVar("Reals", float, np.ndarray)  # a number, or an array of them


def standard_temperature_k(height_m: Reals) -> Reals:
    """Temperature of the standard troposphere; height -1000 to 11 000 m, geopotential."""
    return TEMPERATURE_SEA_K - LAPSE_K_PER_M * height_m


def static_pressure_pa(height_m: Reals) -> Reals:
    """Standard static pressure at a geopotential height of -1000 to 11 000 m."""
    relative = standard_temperature_k(height_m) / TEMPERATURE_SEA_K
    return PRESSURE_SEA_PA * relative**_BAROMETRIC_POWER


def air_density(height_m: Reals, offset_k: float = 0.0) -> Reals:
    """Density in kg/m3 at a pressure height; `offset_k` is how much warmer than standard."""
    temperature = standard_temperature_k(height_m) + offset_k
    return static_pressure_pa(height_m) / (GAS_CONSTANT * temperature)


def sound_speed_ms(height_m: Reals, offset_k: float = 0.0) -> Reals:
    """Speed of sound at a height; `offset_k` is how much warmer than standard."""
    return (HEAT_RATIO * GAS_CONSTANT * (standard_temperature_k(height_m) + offset_k)) ** 0.5


def impact_from_cas_pa(cas_ms: Reals) -> Reals:
    """Impact pressure (pitot minus static) at a calibrated airspeed, subsonic."""
    return PRESSURE_SEA_PA * ((1.0 + 0.2 * (cas_ms / SOUND_SEA_MS) ** 2) ** 3.5 - 1.0)


def cas_from_impact_ms(impact_pa: Reals) -> Reals:
    """Calibrated airspeed at an impact pressure >= 0: the inverse of `impact_from_cas_pa`."""
    return SOUND_SEA_MS * (5.0 * ((impact_pa / PRESSURE_SEA_PA + 1.0) ** (2 / 7) - 1.0)) ** 0.5


def impact_from_tas_pa(tas_ms: Reals, height_m: Reals, offset_k: float = 0.0) -> Reals:
    """Impact pressure at a true airspeed; air that comes from behind (tas < 0) gives 0."""
    ahead_ms = cast(Reals, np.maximum(tas_ms, 0.0))
    mach = ahead_ms / sound_speed_ms(height_m, offset_k)
    return static_pressure_pa(height_m) * ((1.0 + 0.2 * mach**2) ** 3.5 - 1.0)
