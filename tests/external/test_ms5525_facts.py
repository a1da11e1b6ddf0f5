"""The 24-bit sensor against published values.

The data sheet of the MS5525DSO itself was not at hand: what is used of it is what open drivers
cite, and that is said beside each check.
"""

import pytest

from drivers.ms5525_compensation import DPA_FACTOR, Compensation, crc4_step
from host_sim.bench.fake_ms5525 import crc4

# Sixteen bytes and their CRC in TE's application note AN520, as several open drivers and one
# unit test of a flight controller repeat it; the CRC stands in the low four bits of the last word.
AN520 = (0x3132, 0x3334, 0x3536, 0x3738, 0x3940, 0x4142, 0x4344, 0x4500)
AN520_CRC = 0xB


def driver_crc(words) -> int:
    remainder = 0
    for i, word in enumerate(words):
        remainder = crc4_step(remainder, word if i < 7 else word & 0xFF00)
    return remainder >> 12


def test_the_crc_of_the_application_note() -> None:
    assert driver_crc(AN520) == AN520_CRC
    found = Compensation(0)
    for last, believed in ((0x450B, True), (0x4500, False), (0x450A, False)):
        for i, word in enumerate((*AN520[:7], last)):
            found.take(i, word)
        assert found.believable() is believed


def test_the_bench_s_own_crc_agrees() -> None:
    """Another algorithm, a plain polynomial division: the same note, and words at random."""
    assert crc4(list(AN520)) == AN520_CRC
    state = 1
    for _ in range(200):
        words = []
        for _ in range(8):
            state = (state * 1103515245 + 12345) % (1 << 31)
            words.append(state >> 15)
        assert crc4(words) == driver_crc(words)


# C1 to C6 are made up; dT, TEMP and P follow from the formula that two open autopilots cite
# (001DS: Q = 15, 17, 7, 5, 7, 21), computed by hand-checked exact arithmetic. P in 0.0001 psi, as
# the data sheet rounds it: floor. No published example with its coefficients was found.
COEFFICIENTS = (36402, 39473, 40393, 29523, 29854, 21917)


@pytest.mark.parametrize(("d1", "d2", "centi", "ten_thousandths_psi"), [
    (9_100_000, 3_821_312, 2000, 64), (9_420_000, 4_123_456, 5157, 10181),
    (8_388_608, 3_821_312, 2000, -12284)])
def test_computed_values(d1: int, d2: int, centi: int, ten_thousandths_psi: int) -> None:
    found = Compensation(0)
    for i, word in enumerate(COEFFICIENTS):
        found.prom[i + 1] = word
    assert found.warm_to(d2)
    assert found.temperature_dc == pytest.approx(centi / 10, abs=0.6)  # it rounds to 0.1 degC
    # the value is the floor: the pressure lies within one unit above; 0.8 for our own rounding
    above_dpa = found.pressure_dpa(d1) - ten_thousandths_psi * 6.894757
    assert -0.8 <= above_dpa <= 6.894757 + 0.8


def test_the_unit_of_the_word_example() -> None:
    """24996 is 2.4996 psi (comment of the formula in an open autopilot): 17 234.3 Pa."""
    pressure_pa = 24996 * DPA_FACTOR / 2**23 / 10
    assert pressure_pa == pytest.approx(2.4996 * 6894.757, rel=1e-6)
