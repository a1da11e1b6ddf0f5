"""The tuning engine's whole-number arithmetic in float64 against the firmware's own `//`, at the
ends of the ranges and at every remainder of small divisors."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as profile
from hypothesis import strategies as st

from alula.lift_curve import LiftCurve
from alula.moving_line import MovingLine
from alula.pressure_ratio import PLUMBINGS, ratio_bp, step_bp
from host_sim.tuning.engine.line_values import Line, Scratch, values
from host_sim.tuning.engine.ratio_values import CurveTable, ratios_bp, step_most_bp, steps_bp
from host_sim.tuning.engine.slot_grid import SlotGrid
from host_sim.tuning.engine.stream import Words
from host_sim.tuning.engine.timers import held
from tests.laws.inputs import curves

CLAMP_AND_ZERO = 105000  # see `MovingLine`


def grid_of(dpa: np.ndarray, period_ms: int) -> SlotGrid:
    """Words that come exactly on time."""
    count = len(dpa)
    words = Words(np.arange(count, dtype=np.int32), dpa.astype(np.int32), 1, (0, 0),
                  np.zeros(count, np.int8), np.ones(count, bool))
    return SlotGrid(words, np.arange(count) * period_ms, 0, count, period_ms, 80)


@pytest.mark.parametrize("slots, period_ms",
                         [(4, 5), (4, 20), (5, 20), (16, 5), (20, 10), (80, 5)])
@pytest.mark.parametrize("most", [30, 3000, CLAMP_AND_ZERO])
def test_every_value_of_the_line(slots, period_ms, most):
    """Against `MovingLine`; with small pressures every remainder of the small divisors occurs."""
    rng = np.random.default_rng(slots * most)
    dpa = np.repeat(rng.integers(-most, most + 1, 700), 3)
    if most == CLAMP_AND_ZERO:
        dpa = np.where(rng.random(len(dpa)) < 0.5, most, -most)
    grid = grid_of(dpa, period_ms)
    median = np.median(np.stack([dpa[:-2], dpa[1:-1], dpa[2:]]), axis=0).astype(int).tolist()
    for lead_ms in (0, 7, 150, 300 - period_ms, 1000):
        line, found = MovingLine(slots, period_ms), []
        for value in median:
            line.push(value)
            if line.full:
                found.append(line.value(min(period_ms + lead_ms, 300)))
        out = np.empty(len(found), np.int32)
        values(grid, Line(slots, period_ms, lead_ms), 0, slots - 1, len(median), Scratch(), out)
        assert out.tolist() == found


@given(st.sampled_from(range(3)), st.lists(st.tuples(
    st.integers(1, 100000), st.integers(-100000, 100000)), min_size=1, max_size=40))
def test_ratio_and_its_step(plumbing, pairs):
    """Against `pressure_ratio`, halves among them."""
    pairs = pairs + [(2 * q, a) for q, a in pairs if q <= 50000] + [
        (20000, 2 * k + 1) for k in range(-4, 4)]  # 10 000 a / q lies on a half
    q, angled = np.array(pairs, np.int32).T
    ratio = ratios_bp(plumbing, q, angled, np.empty(len(q), np.int16))
    true = [ratio_bp(plumbing, *pair) for pair in pairs]
    assert ratio.tolist() == true and len(PLUMBINGS) == 3
    steps = steps_bp(plumbing, q, ratio, 11, 160)
    assert steps.tolist() == [step_bp(plumbing, pair[0], r, 11, 160)
                              for pair, r in zip(pairs, true, strict=True)]
    assert (steps <= step_most_bp(plumbing, ratio, 11, 160) / q).all()


@profile(max_examples=15)
@given(curves(), st.lists(st.tuples(st.integers(-30000, 30000), st.integers(0, 30000)),
                          min_size=1, max_size=60))
def test_lift_and_its_step(points, asked):
    """Against `LiftCurve`, walked in the order asked."""
    curve, table = LiftCurve(points), CurveTable(points)
    ratio, step = (np.array(column) for column in zip(*asked, strict=True))
    ratio = ratio.astype(np.int16)
    lift = np.empty(len(ratio), np.int16)
    table.lift_pm(ratio, lift)
    found = [(curve.lift_pm(r), 2 * curve.step_pm(s)) for r, s in asked]
    assert list(zip(lift.tolist(), table.slack_pm(ratio, step.astype(float)).tolist(),
                    strict=True)) == found


@given(st.lists(st.tuples(st.booleans(), st.integers(1, 40)), min_size=1, max_size=60),
       st.integers(0, 90), st.integers(0, 60))
def test_timers(ticks, need_ms, carried_ms):
    """Against a timer that is walked tick by tick: it starts at zero whenever the flag is not
    set, and what it shows at the end is carried over."""
    flag = np.array([on for on, _ in ticks])
    clock_ms = np.cumsum([own for _, own in ticks]).astype(np.int32)
    timer_ms, reached, told = carried_ms, [], False
    for i, (on, own) in enumerate(ticks):
        timer_ms, told = (timer_ms + own, told) if on else (0, False)
        if on and timer_ms >= need_ms and not told:
            reached.append(i)
            told = True
    at, left = held(flag, clock_ms, need_ms, 0, carried_ms)
    assert at.tolist() == reached
    assert left == (timer_ms if flag[-1] else 0)
