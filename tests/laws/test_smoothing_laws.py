"""Laws of the arithmetic rooms, each against plain mathematics written here."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from alula.conditioning import Channel
from alula.elapsed import since_ms
from alula.lift_curve import LiftCurve
from alula.moving_line import MovingLine
from alula.pressure_ratio import ratio_bp
from alula.sample import FRESH
from alula.transfer import OUTPUT_TENTHS, Transfer
from tests.laws.inputs import curves

PERIODS = {50: 20, 100: 10, 125: 8, 200: 5}
PERIOD = 1 << 30


@settings(max_examples=200)
@given(st.sampled_from([5, 8, 10, 20]), st.data())
def test_the_moving_line_is_the_least_squares_line(period_ms, data):
    """numpy.polyfit of the last N values, read ahead; within 1 unit: the two roundings."""
    slots = data.draw(st.integers(4, 400 // period_ms))
    values = data.draw(st.lists(st.integers(-100000, 100000), min_size=slots,
                                max_size=slots + 30))
    horizon_ms = data.draw(st.integers(0, 300))
    line = MovingLine(slots, period_ms)
    for value in values:
        line.push(value)
    t = np.arange(slots) * period_ms
    slope, level = np.polyfit(t, values[-slots:], 1)
    wanted = float(np.clip(level + slope * (t[-1] + horizon_ms), -100000, 100000))
    # 1e-6: polyfit's own rounding on numbers of this size
    assert abs(line.value(horizon_ms) - wanted) <= 1 + 1e-6


@given(st.sampled_from([5, 10]), st.integers(4, 40), st.integers(-100000, 100000),
       st.integers(0, 300))
def test_a_constant_stays_exactly_itself(period_ms, slots, value, horizon_ms):
    line = MovingLine(slots, period_ms)
    for _ in range(slots + 3):
        line.push(value)
    assert line.value(horizon_ms) == value


def direct(rate_hz: int, window_ms: int, lead_ms: int = 0) -> Channel:
    return Channel(Transfer("direct", -100000, 100000, 1), rate_hz, window_ms, 300, lead_ms)


@given(st.sampled_from(sorted(PERIODS)), st.integers(80, 400), st.integers(0, 150),
       st.integers(-20000, 20000), st.integers(-200, 200))
def test_a_perfect_ramp_has_no_lag(rate_hz, window_ms, lead_ms, start, rise):
    """The word of now, or of `lead_ms` from now; within the 1 of rounding."""
    channel = direct(rate_hz, window_ms, lead_ms)
    period_ms, heard = PERIODS[rate_hz], 0
    for i in range(100):
        word = start + rise * i
        channel.step(period_ms, FRESH, word)
        if channel.ready:
            heard += 1
            ahead = Fraction(word) + Fraction(rise * lead_ms, period_ms)
            assert abs(channel.dpa - ahead) <= 1
    assert heard >= 15


@given(st.integers(-90000, 90000), st.integers(-99999, 99999), st.integers(0, 80),
       st.sampled_from(sorted(PERIODS)))
def test_one_wild_word_anywhere_never_shows(level, wild, at, rate_hz):
    channel = direct(rate_hz, 200)
    for i in range(110):
        channel.step(PERIODS[rate_hz], FRESH, wild if i == at else level)
        if channel.ready:
            assert channel.dpa == level


@given(st.integers(-200, 200), st.integers(-99999, 99999), st.integers(50, 80))
def test_a_wild_word_on_a_ramp_costs_at_most_what_a_neighbour_is_off(rise, wild, at):
    """The median then takes a neighbour, one rise away; a line's end weighs it by at most 4/N
    and the reading ahead adds 6/N of slope a slot (least squares weights, N slots)."""
    channel, slots = direct(100, 200), 20
    for i in range(100):
        channel.step(10, FRESH, wild if i == at else rise * i)
        if channel.ready:
            weight = 4 / slots + 6 / slots ** 2 * 2
            assert abs(channel.dpa - rise * i) <= 2 * weight * abs(rise) + 2


@given(st.integers(0, PERIOD - 1), st.integers(-(1 << 29), (1 << 29) - 1))
@example(PERIOD - 1, 1)
@example(0, -1)
def test_since_is_plain_arithmetic_modulo_2_30(then_ms, distance):
    assert since_ms((then_ms + distance) % PERIOD, then_ms) == distance


@given(st.integers(0, PERIOD - 1), st.integers(0, PERIOD - 1))
def test_since_is_the_smallest_distance(now_ms, then_ms):
    found = since_ms(now_ms, then_ms)
    assert (then_ms + found) % PERIOD == now_ms and -(1 << 29) <= found < 1 << 29


def exact_dpa(output: str, low: int, high: int, word: int) -> Fraction:
    """The straight line of the data sheet through (low output, low) and (high output, high)."""
    low_out, high_out = (Fraction(tenths, 10) for tenths in OUTPUT_TENTHS[output])
    return low + (word - low_out) * (high - low) / (high_out - low_out)


def clamped(value: Fraction) -> Fraction:
    return max(Fraction(-100000), min(Fraction(100000), value))


@pytest.mark.parametrize("output", sorted(OUTPUT_TENTHS))
@pytest.mark.parametrize("ends", [(-100000, 100000), (-68948, 68948), (0, 24908), (-2491, 2491),
                                  (-100000, -99900), (0, 100)])
def test_every_word_becomes_its_pressure_within_1_dpa(output, ends):
    plus, minus = Transfer(output, *ends, 1), Transfer(output, *ends, -1)
    for word in range(16384):
        exact = exact_dpa(output, *ends, word)
        assert abs(plus.to_dpa(word) - clamped(exact)) <= 1
        assert abs(minus.to_dpa(word) + clamped(exact)) <= 1


@settings(max_examples=300)
@given(st.sampled_from(sorted(OUTPUT_TENTHS)), st.integers(-100000, 99900), st.data())
def test_any_range_becomes_its_pressure_within_1_dpa(output, low, data):
    high = data.draw(st.integers(low + 100, 100000))
    word = data.draw(st.integers(0, 16383))
    transfer = Transfer(output, low, high, 1)
    assert abs(transfer.to_dpa(word) - clamped(exact_dpa(output, low, high, word))) <= 1
    assert transfer.step_dpa >= exact_dpa(output, low, high, 1) - exact_dpa(output, low, high, 0)


@given(st.integers(-100000, 100000))
def test_a_direct_word_is_the_pressure(word):
    assert Transfer("direct", -100000, 100000, 1).to_dpa(word) == word
    assert Transfer("direct", -100000, 100000, -1).to_dpa(word) == -word


@given(curves(), st.lists(st.integers(-30000, 30000), min_size=2, max_size=30))
def test_a_lift_curve_rises_and_meets_its_points(points, ratios):
    curve = LiftCurve(points)
    lifts = [curve.lift_pm(ratio) for ratio in sorted(ratios)]
    assert lifts == sorted(lifts) and lifts[0] >= 0 and lifts[-1] <= 1500
    for ratio, lift in points:
        assert curve.lift_pm(ratio) == lift
    # in any order, and always as a curve that has seen nothing else
    for ratio in ratios:
        assert curve.lift_pm(ratio) == LiftCurve(points).lift_pm(ratio)


@given(curves(), st.integers(-30000, 30000))
def test_a_lift_curve_is_the_straight_line_between_its_points(points, ratio):
    i = max([k for k in range(len(points) - 1) if points[k][0] <= ratio], default=0)
    (r0, l0), (r1, l1) = points[i], points[i + 1]
    exact = l0 + Fraction((ratio - r0) * (l1 - l0), r1 - r0)
    found = LiftCurve(points).lift_pm(ratio)
    assert abs(found - max(0, min(1500, exact))) <= Fraction(1, 2)


@given(curves())
def test_the_stall_ratio_is_where_the_lift_becomes_1000(points):
    """Never later than the exact crossing by more than rounding."""
    curve = LiftCurve(points)
    if points[0][1] <= 1000:
        assert curve.lift_pm(curve.stall_bp - 1) <= 1000 <= curve.lift_pm(curve.stall_bp + 1)


@given(st.integers(1, 100000), st.integers(-100000, 100000))
def test_the_ratio_is_the_nearest_ten_thousandth(q, angled):
    exact = Fraction(10000 * angled, q)
    for plumbing, wanted in ((0, exact), (1, 10000 - exact), (2, exact)):
        wanted = max(Fraction(-30000), min(Fraction(30000), wanted))
        assert abs(ratio_bp(plumbing, q, angled) - wanted) <= Fraction(1, 2)
