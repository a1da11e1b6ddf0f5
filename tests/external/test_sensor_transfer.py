"""The firmware's transfer functions against worked values of the data sheets, exact arithmetic.

MS4525DO: type A output is 10 to 90 %, type B 5 to 95 %, of 16383 counts (data-sheet formula as
cited by two open drivers: secondary). Honeywell HSC/SSC/ABP: output limits out of 2^14, from the
Linux driver hsc030pa, which cites data sheet 50099148 (secondary).
"""

from fractions import Fraction

import pytest

from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.transfer import Transfer

PSI_DPA = 68948  # 1 psi = 6894.757 Pa, in 0.1 Pa
# Counts at the low and the high end of the pressure range.
LIMITS = {
    "ms4525-a": (Fraction(16383, 10), Fraction(9 * 16383, 10)),
    "ms4525-b": (Fraction(16383, 20), Fraction(19 * 16383, 20)),
    "hsc-a": (Fraction(1638), Fraction(14746)),
    "hsc-b": (Fraction(819), Fraction(15565)),
    "hsc-c": (Fraction(819), Fraction(13926)),
    "hsc-f": (Fraction(655), Fraction(15401)),
}


def exact_dpa(output: str, low_dpa: int, high_dpa: int, word: int) -> Fraction:
    """P = (n - n_low)(p_high - p_low)/(n_high - n_low) + p_low."""
    low, high = LIMITS[output]
    return (word - low) * (high_dpa - low_dpa) / (high - low) + low_dpa


@pytest.mark.parametrize(("word", "pressure_pa"), [
    # +-1 psi, type A; computed from the data-sheet formula: 1638.3 counts are -1 psi, 8191.5 are
    # 0, 9000 are +0.123375 psi, 14744.7 are +1 psi. A count is 1.0521 Pa.
    (1638, -6894.757), (8191, 0.0), (8192, 0.0), (9000, 850.64), (14745, 6894.757)])
def test_ms4525_worked_values(word: int, pressure_pa: float) -> None:
    transfer = Transfer("ms4525-a", -PSI_DPA, PSI_DPA, 1)
    # 0.53 Pa: half a count, where the worked value falls between two words; 0.1 Pa of rounding
    half_count_pa = 0.53 if word != 9000 else 0.0
    assert transfer.to_dpa(word) / 10 == pytest.approx(pressure_pa, abs=half_count_pa + 0.1)


def test_ms4525_count_is_worth_1_0521_pa() -> None:
    transfer = Transfer("ms4525-a", -PSI_DPA, PSI_DPA, 1)
    rise_dpa = transfer.to_dpa(14000) - transfer.to_dpa(2000)
    assert rise_dpa / 12000 == pytest.approx(10.521, abs=2 / 12000 + 5e-4)
    assert 10.521 <= transfer.step_dpa < 11.521  # rounded up: never claims a finer step


def test_50_kt_is_386_counts_above_zero() -> None:
    # qc at 50 kt is 405.83 Pa, computed: 386 counts of a +-1 psi type A sensor
    transfer = Transfer("ms4525-a", -PSI_DPA, PSI_DPA, 1)
    at_rest = transfer.to_dpa(8191)
    assert (transfer.to_dpa(8191 + 386) - at_rest) / 10 == pytest.approx(405.83, abs=0.53 + 0.1)


def test_hsc_worked_value() -> None:
    # From a user thread, confirmed by computing: HSC 0-50 psi type A, 183 counts -> -5.5505 psi.
    # 50 psi is far past the unit's clamp; the function is linear, so read 0.001 psi for 0.1 Pa.
    # 1: rounding, and 14745 counts at the top there, 14746 here (0.0004 psi).
    assert Transfer("hsc-a", 0, 50000, 1).to_dpa(183) == pytest.approx(-5550.5, abs=1)


@pytest.mark.parametrize("output", LIMITS)
@pytest.mark.parametrize(("low_dpa", "high_dpa"), [
    (-PSI_DPA, PSI_DPA), (-24910, 24910), (0, 49820), (-60000, 60000), (-1000, 100000)])
def test_every_word_inside_the_band_within_a_tenth_of_a_pascal(
        output: str, low_dpa: int, high_dpa: int) -> None:
    transfer = Transfer(output, low_dpa, high_dpa, 1)
    low, high = LIMITS[output]
    for word in range(int(low), int(high) + 2):
        clamped = max(-100000, min(100000, exact_dpa(output, low_dpa, high_dpa, word)))
        assert abs(transfer.to_dpa(word) - clamped) <= 1


@pytest.mark.parametrize("output", LIMITS)
def test_ends_of_the_range_sit_at_the_output_limits(output: str) -> None:
    transfer = Transfer(output, -PSI_DPA, PSI_DPA, 1)
    for count, end_dpa in zip(LIMITS[output], (-PSI_DPA, PSI_DPA), strict=True):
        # A whole word is at most half a count, 5.3 dpa, from a limit with a fraction.
        assert transfer.to_dpa(round(count)) == pytest.approx(end_dpa, abs=5.3 + 1)


@pytest.mark.parametrize("output", LIMITS)
def test_rails_lie_between_the_band_and_the_ends_of_the_scale(output: str) -> None:
    transfer = Transfer(output, -PSI_DPA, PSI_DPA, 1)
    low, high = LIMITS[output]
    assert 0 < transfer.rail_low < low
    assert high < transfer.rail_high < 16383


def test_reversed_hoses_turn_the_sign() -> None:
    straight = Transfer("hsc-a", -PSI_DPA, PSI_DPA, 1)
    turned = Transfer("hsc-a", -PSI_DPA, PSI_DPA, -1)
    assert all(turned.to_dpa(word) == -straight.to_dpa(word) for word in range(1638, 14747))
