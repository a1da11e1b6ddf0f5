"""Every intermediate of the tick fits the board's small integers: the real code, computed with
numbers that raise where the board would allocate."""

import operator

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alula import figures, voice
from alula.conditioning import Channel
from alula.moving_line import MovingLine
from alula.pressure_ratio import ratio_bp
from alula.refusal import Refusal
from alula.sample import FRESH, Sample
from alula.settings import load
from alula.transfer import Transfer
from alula.unit import Unit
from host_sim.runtimes.session import make_session
from tests.both.core_rig import settings_with
from tests.laws.board_int import (
    BINARY,
    MOST,
    UNARY,
    BoardArray,
    BoardInt,
    LeavesTheBoard,
    made_of_board_ints,
)
from tests.laws.inputs import flap_curves, settings_records, spans
from tests.vm import capture_flights
from tests.vm.every_branch import AIR, ALL, CURVES, DOUBTS, EDGES, LOST, PAIRS, SENSOR

WHOLE = range(-3, 4)


@pytest.mark.parametrize("name", BINARY)
def test_the_checker_computes_as_ints_do_and_stays_itself(name):
    plain = getattr(operator, f"__{name}__")
    for a in WHOLE:
        for b in WHOLE:
            if (name in ("floordiv", "mod") and b == 0) or (
                    name in ("lshift", "rshift", "pow") and b < 0):
                continue
            for result in (plain(BoardInt(a), BoardInt(b)), plain(BoardInt(a), b),
                           plain(a, BoardInt(b))):
                assert type(result) is BoardInt and result == plain(a, b)


@pytest.mark.parametrize("name", UNARY)
def test_the_checker_knows_the_unary_operators(name):
    plain = getattr(operator, f"__{name}__")
    for a in WHOLE:
        assert type(plain(BoardInt(a))) is BoardInt and plain(BoardInt(a)) == plain(a)


def test_the_checker_raises_on_a_planted_overflow():
    big, small = BoardInt(MOST), BoardInt(-MOST)
    for planted in (lambda: big + 1, lambda: 1 + big, lambda: small - 1, lambda: -2 - big,
                    lambda: big * 2, lambda: 2 * big, lambda: BoardInt(1) << 30,
                    lambda: 1 << BoardInt(30), lambda: BoardInt(-40000) * BoardInt(40000),
                    lambda: BoardInt(2) ** 31, lambda: big // BoardInt(-1) - 1,
                    lambda: big | (1 << 30), lambda: ~big - 1, lambda: BoardArray([1 << 30])):
        with pytest.raises(LeavesTheBoard):
            planted()
    assert big + 0 == MOST and small - 0 == -MOST and BoardInt(1) << 29 == 1 << 29
    kept = BoardArray([0, 0])
    kept[1] = 5
    assert type(kept[1]) is BoardInt
    with pytest.raises(LeavesTheBoard):
        kept[0] = MOST + 1
    for refused in (lambda: big / 2, lambda: 1 / big, lambda: divmod(big, 2)):
        with pytest.raises(TypeError):
            refused()


def longest_line() -> MovingLine:
    """400 ms at 200 Hz: the largest sums there are; all values at one end, then at the other."""
    line = made_of_board_ints(MovingLine(80, 5))
    for i in range(120):
        line.push(BoardInt(-100000 if i < 80 else 100000))
    return line


def test_the_checker_finds_a_horizon_that_does_not_fit():
    """The bound in `moving_line`: 300 ms fit, 500 ms would not (h * (D mod K))."""
    line = longest_line()
    assert line.value(BoardInt(300)) == 100000
    found = 0
    for _ in range(80):
        line.push(BoardInt(100000))
        try:
            line.value(BoardInt(500))
        except LeavesTheBoard:
            found += 1
    assert found


def test_the_checker_finds_a_pressure_beyond_the_clamp():
    assert ratio_bp(0, BoardInt(100000), BoardInt(-100000)) == -10000
    with pytest.raises(LeavesTheBoard):
        ratio_bp(0, BoardInt(100000), BoardInt(107400))


def test_nothing_in_the_unit_escapes_the_checker():
    unit = made_of_board_ints(Unit(settings_with(), CURVES, (0, 0)))
    seen, queue = set(), [unit]
    while queue:
        thing = queue.pop()
        if id(thing) in seen:
            continue
        seen.add(id(thing))
        parts = list(vars(thing).values()) if hasattr(thing, "__dict__") else list(thing) \
            if isinstance(thing, (list, tuple)) else []
        for part in parts:
            assert isinstance(part, bool) or type(part) is not int, (thing, part)
            if not isinstance(part, (int, str, type(None))):
                queue.append(part)
    assert len(seen) > 20


def fly(unit, rows, now_ms: int) -> int:
    """Ticks of `every_branch` legs with board ints; returns their number."""
    unit = made_of_board_ints(unit)
    sample, ticks = Sample(), 0
    for count, q, q_to, port, port_to, pitot, angled, flap, dt_ms, *_ in rows:
        for i in range(1, count + 1):
            sample.pitot_status, sample.angled_status = BoardInt(pitot), BoardInt(angled)
            sample.pitot_word = BoardInt(q + (q_to - q) * i // count)
            sample.angled_word = BoardInt(port + (port_to - port) * i // count)
            sample.flap = BoardInt(flap)
            sample.nz_status, sample.nz_mg = BoardInt(angled), BoardInt((port - q) % 65536 - 32768)
            sample.button = BoardInt(1 if dt_ms == 10 and i < 180 else 0)
            now_ms = (now_ms + dt_ms) % (MOST + 1)
            unit.tick(BoardInt(now_ms), sample)
            ticks += 1
    return ticks


@pytest.fixture(autouse=True)
def board_figures(monkeypatch):
    """The figures are constants of a module, not of the unit."""
    monkeypatch.setattr(figures, "FIGURES", made_of_board_ints(figures.FIGURES))
    assert voice.figures is figures


def as_words(rows):
    """Legs in 0.1 Pa as words of a sensor of +-2500 Pa."""
    def word(dpa):
        return min(max((1638 * 50000 + (dpa + 25000) * 13108 + 25000) // 50000, 0), 16383)
    return [(row[0], *map(word, row[1:5]), *row[5:]) for row in rows]


def test_every_branch_fits():
    for changes in ({}, {"plumbing": "pitot-port"}, {"window_ms": 400, "lead_ms": 150}):
        fly(Unit(settings_with(**changes), CURVES, (5000, -5000)), ALL, MOST - 20000)
    fly(Unit(settings_with(**SENSOR), CURVES, (0, 0)), EDGES + AIR, MOST - 5)
    wide = {"pitot_low_dpa": -25000, "pitot_high_dpa": 25000, "angled_low_dpa": -25000,
            "angled_high_dpa": 25000, "plumbing": "opposed", "jump_pm": 1000, "balance_pm": 1000}
    fly(Unit(settings_with(**SENSOR, **wide), CURVES, (0, 0)), as_words(DOUBTS + PAIRS + LOST),
        MOST - 5)
    fly(Refusal(), ALL[:20], MOST - 5)


def test_the_farthest_reading_ahead_fits():
    """Lead and gap at their largest, and remainders of every size in the line's division."""
    transfer = Transfer("direct", -100000, 100000, 1)
    channel = made_of_board_ints(Channel(transfer, 200, 400, 300, 150))
    rng = np.random.default_rng(1)
    for word in rng.integers(-99999, 100000, 1500):
        channel.step(BoardInt(int(rng.choice([5, 300]))), BoardInt(FRESH), BoardInt(int(word)))
        assert not channel.dropped


@pytest.mark.parametrize("flight", [
    capture_flights.flight("hw_stall_1g", press_s=((1.0, 1700),)),
    capture_flights.flight("hw_stall_1g", "opposed", with_n=False, press_s=((1.0, 1700),)),
    capture_flights.flight("tp_fast_entry"),
    capture_flights.flight("hw_stall_1g", press_s=((1.0, 1700), (26, 300)), min_q_dpa=200)],
    ids=["with-n", "opposed", "fast", "marked"])
def test_captures_fit(flight):
    unit = made_of_board_ints(make_session(flight.job(1))._unit)
    sample = Sample()
    for row in flight.rows.tolist():
        (now_ms, sample.pitot_status, sample.pitot_word, sample.angled_status, sample.angled_word,
         sample.nz_status, sample.nz_mg, sample.flap, sample.button) = map(BoardInt, row)
        unit.tick(now_ms, sample)
    assert unit.capture.verdicts + unit.capture.refusal > 0


@settings(max_examples=120)
@given(st.one_of(settings_records(corners=True), settings_records()), flap_curves(),
       st.sampled_from([None, (0, 0), (5000, 5000), (-5000, 5000), (5000, -5000)]),
       st.lists(spans(), min_size=1, max_size=10), st.integers(0, MOST))
def test_extreme_inputs_fit(record, curves, zero, parts, now_ms):
    rows = [(ticks, word, word + step * ticks, port, port - step * ticks, pitot, angled, flap,
             dt_ms) for ticks, dt_ms, pitot, word, angled, port, step, flap in parts]
    fly(Unit(load(record)[0], curves, zero), rows, now_ms)


@settings(max_examples=60)
@given(settings_records(corners=True, window_ms=400, sample_rate_hz=200, lead_ms=150, gap_ms=300,
                        pitot_output="direct", angled_output="direct"),
       st.sampled_from([(5000, -5000), (-5000, 5000), (5000, 5000)]),
       st.lists(st.tuples(st.integers(1, 90), st.sampled_from([99999, -99999]),
                          st.sampled_from([99999, -99999]), st.sampled_from([5, 150, 300])),
                min_size=3, max_size=8))
def test_full_scale_steps_through_the_longest_window_fit(record, zero, parts):
    """Full-scale steps, and after each the longest wait that does not empty the window."""
    rows = []
    for ticks, q, port, wait_ms in parts:
        rows += [(ticks, q, q, port, port, FRESH, FRESH, -1, 5),
                 (2, q, q, port, port, FRESH, FRESH, -1, wait_ms)]
    rows.insert(0, (90, 99999, 99999, 0, 0, FRESH, FRESH, -1, 5))
    fly(Unit(load(record)[0], CURVES, zero), rows, 0)
