"""The 24-bit sensor's arithmetic: near the data sheet's formula, and within 31 bits."""

from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from drivers.ms5525_compensation import Compensation, crc4_step, mul_q28
from drivers.pressure_ms5525 import PressureMs5525
from host_sim.bench.fake_i2c import FakeI2C
from host_sim.bench.fake_ms5525 import FakeMs5525
from host_sim.bench.virtual_clock import VirtualClock
from tests.laws.board_int import BoardInt, LeavesTheBoard, made_of_board_ints

# Q1 to Q6 of the 001DS and the 002DS: the table in open drivers that cite the data sheet
Q = ((15, 17, 7, 5, 7, 21), (16, 18, 6, 4, 7, 22))
DPA = Fraction(6894757293, 10**9)  # 0.1 Pa in 0.0001 psi (NIST SP 811: 6894.757293 Pa)
WORD = st.integers(1, 65535) | st.sampled_from([1, 2, 32767, 32768, 65534, 65535])
RAW = st.integers(1, (1 << 24) - 1) | st.sampled_from([1, 4095, 4096, 8388607, 8388608, 16777215])


def exact(coefficients, d1: int, d2: int, doublings: int) -> tuple[Fraction, Fraction]:
    """(temperature in 0.01 degC, pressure in 0.1 Pa) by the data sheet's formula, unrounded."""
    c1, c2, c3, c4, c5, c6 = coefficients
    q1, q2, q3, q4, q5, q6 = Q[doublings]
    dt = d2 - c5 * 2**q5
    offset = c2 * 2**q2 + Fraction(c4 * dt, 2**q4)
    sens = c1 * 2**q1 + Fraction(c3 * dt, 2**q3)
    pressure = (d1 * sens / 2**21 - offset) / 2**15
    return 2000 + Fraction(dt * c6, 2**q6), pressure * DPA


def fitted(coefficients, doublings: int, board: bool = False) -> Compensation:
    found = Compensation(doublings)
    for i, word in enumerate(coefficients):
        found.prom[i + 1] = word
    return made_of_board_ints(found) if board else found


def check(coefficients, d1: int, d2: int, doublings: int) -> bool:
    """Compare one word; True where its temperature was one that a sensor can have."""
    centi, pressure = exact(coefficients, d1, d2, doublings)
    found = fitted(coefficients, doublings, board=True)
    if not found.warm_to(BoardInt(d2)):
        dt = d2 - coefficients[4] * 128
        sens = coefficients[0] + Fraction(coefficients[2] * dt, 2**22)
        assert not -4490 <= centi <= 12990 or abs(dt) > 2**22 or sens < 1
        return False
    assert abs(int(found.temperature_dc) - centi / 10) <= Fraction(6, 10)
    seen = int(found.pressure_dpa(BoardInt(d1)))
    clamped = min(max(pressure, -100000), 100000)
    assert abs(seen - clamped) <= (Fraction(8, 10), Fraction(1))[doublings]
    return True


@settings(max_examples=600)
@given(st.tuples(WORD, WORD, WORD, WORD, WORD, WORD), RAW, RAW, st.sampled_from([0, 1]))
def test_any_coefficients_any_words(coefficients, d1, d2, doublings):
    """Within 0.08 Pa (002DS: 0.1 Pa) and 0.1 degC, or refused as no temperature."""
    check(coefficients, d1, d2, doublings)


@settings(max_examples=600)
@given(st.tuples(WORD, WORD, WORD, WORD, WORD, st.integers(1000, 65535)), RAW,
       st.integers(-4400, 12900), st.sampled_from([0, 1]))
def test_any_coefficients_at_temperatures_of_the_sensor(coefficients, d1, centi, doublings):
    dt = (centi - 2000) * 2 ** Q[doublings][5] // coefficients[5]
    d2 = coefficients[4] * 128 + dt
    sens = coefficients[0] + Fraction(coefficients[2] * dt, 2**22)
    assume(0 <= d2 < 1 << 24 and abs(dt) <= 2**22 and sens >= 1)
    assert check(coefficients, d1, d2, doublings)


def test_usual_coefficients_from_end_to_end():
    """A grid over the whole range of words and temperatures; the first coefficients stand in a
    public program for one sensor, the second are the fake's."""
    for coefficients in ((14430, 9904, 3520, 1949, 27271, 8050),
                         (36402, 39473, 40393, 29523, 29854, 21917)):
        for doublings in (0, 1):
            for centi in range(-4000, 12501, 825):
                dt = (centi - 2000) * 2 ** Q[doublings][5] // coefficients[5]
                d2 = coefficients[4] * 128 + dt
                for d1 in range(1, 1 << 24, 399_001):
                    if 0 < d2 < 1 << 24 and abs(dt) <= 2**22:
                        assert check(coefficients, d1, d2, doublings)


@settings(max_examples=400)
@given(st.integers(-(1 << 29), (1 << 29) - 1), st.integers(0, (1 << 26) - 1))
def test_the_long_product_is_the_floor_of_the_exact_one(a, b):
    assert mul_q28(BoardInt(a), BoardInt(b)) == a * b >> 28


def test_the_plain_formula_does_not_fit():
    """Why it was turned round: the checker finds the data sheet's own order of operations."""
    d1, c1 = BoardInt(9100000), BoardInt(36402)
    with pytest.raises(LeavesTheBoard):
        c1 << 15
    with pytest.raises(LeavesTheBoard):
        d1 * c1


@given(st.lists(st.integers(0, 65535), min_size=8, max_size=8))
def test_the_crc_fits(words):
    remainder = BoardInt(0)
    for word in words:
        remainder = crc4_step(remainder, BoardInt(word))
    assert 0 <= remainder <= 0xFFFF


def test_the_whole_driver_fits():
    """From the reset to pressures and temperatures, and through empty results."""
    clock = VirtualClock()
    i2c, chip = FakeI2C(clock), FakeMs5525(clock)
    i2c.attach(0x76, chip)
    driver = PressureMs5525(i2c, 0x76, 0, clock, 10)
    vars(driver).pop("_i2c"), vars(driver).pop("_clock")
    three, two, one = driver._three, driver._two, driver._command
    vars(driver).update(_three=None, _two=None, _command=None)
    made_of_board_ints(driver)
    driver._i2c, driver._clock = i2c, clock
    driver._three, driver._two, driver._command = three, two, one
    chip.refresh(-30000)
    for i in range(400):
        clock.advance_ms(10)
        chip.raw_override = 0 if i % 97 == 96 else None
        driver.read()
    assert driver.word == -30000
