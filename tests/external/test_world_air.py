"""The simulated air and the airspeed law against outside sources."""

import numpy as np
import pytest
from ambiance import Atmosphere

from host_sim.world import atmosphere as air

FT = 0.3048
KT = 0.514444

# ft geopotential: T in K, p in Pa, density. US Standard Atmosphere 1976 / ICAO Doc 7488,
# computed from its formulas and cross-checked with PyPI ambiance.
ISA = {
    -1000: (290.131, 105040.6, 1.26125),
    0: (288.150, 101325.0, 1.22500),
    1000: (286.169, 97716.6, 1.18955),
    5000: (278.244, 84307.3, 1.05555),
    8000: (272.300, 75262.4, 0.96287),
    10000: (268.338, 69681.6, 0.90464),
    15000: (258.432, 57181.9, 0.77082),
    18000: (252.488, 50599.8, 0.69815),
}
# kt CAS: impact pressure in Pa; standard compressible formula (from memory), table computed
IMPACT = {
    20: 64.85,
    30: 145.97,
    40: 259.60,
    50: 405.83,
    60: 584.76,
    70: 796.52,
    80: 1041.24,
    100: 1630.28,
    120: 2353.51,
    150: 3694.38,
    200: 6633.55,
    250: 10498.2,
}


@pytest.mark.parametrize("height_ft", ISA)
def test_standard_atmosphere_table(height_ft: int) -> None:
    temperature_k, pressure_pa, density = ISA[height_ft]
    height_m = height_ft * FT
    assert air.standard_temperature_k(height_m) == pytest.approx(temperature_k, abs=0.001)
    assert air.static_pressure_pa(height_m) == pytest.approx(pressure_pa, abs=0.06)
    assert air.air_density(height_m) == pytest.approx(density, abs=6e-6)


def test_whole_troposphere_against_ambiance() -> None:
    # PyPI ambiance (ICAO 1993); it takes geometric heights and reports the geopotential ones
    other = Atmosphere(np.linspace(-900.0, 10900.0, 60))
    assert air.static_pressure_pa(other.H) == pytest.approx(other.pressure, rel=2e-6)
    assert air.air_density(other.H) == pytest.approx(other.density, rel=2e-6)
    assert air.sound_speed_ms(other.H) == pytest.approx(other.speed_of_sound, rel=2e-6)


@pytest.mark.parametrize("cas_kt", IMPACT)
def test_impact_pressure_table(cas_kt: int) -> None:
    impact_pa = air.impact_from_cas_pa(cas_kt * air.MS_PER_KT)
    assert impact_pa == pytest.approx(IMPACT[cas_kt], rel=2e-5, abs=0.006)
    assert air.cas_from_impact_ms(impact_pa) / air.MS_PER_KT == pytest.approx(cas_kt, abs=1e-9)


def test_true_airspeed_in_thin_air_reads_less() -> None:
    # TAS/EAS at 10 000 ft is 1.16367 (1/sqrt of the density ratio of the table above);
    # qc exceeds q by M^2/4 (series of the compressible formula), 0.6 % at 100 kt
    tas_ms = 100.0 * KT * 1.16367
    impact_pa = air.impact_from_tas_pa(tas_ms, 10000 * FT)
    q_pa = 0.5 * 0.90464 * tas_ms**2
    mach = tas_ms / air.sound_speed_ms(10000 * FT)
    assert impact_pa / q_pa == pytest.approx(1.0 + mach**2 / 4.0, abs=1e-4)


def test_air_from_behind_gives_no_impact_pressure() -> None:
    assert air.impact_from_tas_pa(-5.0, 0.0) == 0.0


def test_warm_air_is_thinner_by_the_gas_law() -> None:
    # ideal gas: density goes with 1/T at the same pressure
    share = air.air_density(0.0, 20.0) / air.air_density(0.0)
    assert share == pytest.approx(288.15 / 308.15, rel=1e-12)
