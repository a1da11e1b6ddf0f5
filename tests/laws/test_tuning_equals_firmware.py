"""The tuning engine against the firmware itself: every output of every tick, bit for bit.

The expectation is the firmware's own, run tick by tick, never a number that the engine made.
"""

import os

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import settings as profile
from hypothesis import strategies as st

from alula.calibration import curves_of
from alula.health import WORDS
from alula.settings import load
from alula.unit import Unit
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.runtimes.run import run_rows
from host_sim.runtimes.session import WordSession
from host_sim.tuning.engine import line_values, slot_grid, takeoff
from host_sim.tuning.engine.decided import Course, decide
from host_sim.tuning.engine.prepared import prepare
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario
from tests.both.core_rig import record
from tests.laws.inputs import flap_curves, spans
from tests.laws.tuning_compare import by_engine, verify
from tests.laws.tuning_flights import (
    Made,
    any_flight,
    candidates,
    disturbed_start,
    just_fitting,
    legal,
    sparse,
    undoubting,
    uneven_start,
)

# `make test` flies a sample; all of it with ALULA_FULL_LAWS=1.
EACH = 30 if os.environ.get("ALULA_FULL_LAWS") == "1" else 1


def assert_same(flight: Made, settings, blocks=None) -> None:
    """Engine and firmware agree where the firmware has no doubts. blocks: see `verify`."""
    rows = verify(flight, settings, undoubting(settings, flight), blocks)
    assert not len(rows), f"from row {rows[0]}: {flight.rows[rows[0]]}"


@profile(max_examples=40 * EACH)
@given(st.integers(0, 1 << 30), candidates())
def test_any_flight_with_any_candidate(seed, wanted):
    """Every setting that a candidate may change, over streams with everything in them."""
    flight = any_flight(seed)
    assert_same(flight, legal(flight.settings, wanted))


@profile(max_examples=40 * EACH)
@given(st.lists(spans(), min_size=1, max_size=12), flap_curves(), candidates(),
       st.sampled_from((None, (0, 0), (40, -25))))
def test_spans_of_wild_words(parts, curves, wanted, zero):
    """Whatever a sensor says; times from 0, without the wrap of the board's counter."""
    rows, now_ms = [], 0
    for ticks, dt_ms, pitot, word, angled, other, step, flap in parts:
        for i in range(ticks):
            now_ms += max(-7, min(dt_ms, 2500))
            rows.append([now_ms, pitot, word + i * step, angled, other - i * step, 4, 0, flap, 0])
    found = np.array(rows, np.int32)
    found[:, 0] -= found[:, 0].min()
    flight = Made(found, record(), curves, zero)
    assert_same(flight, legal(flight.settings, wanted))


def seen(flight: Made, settings, blocks=None) -> np.ndarray:
    """Everything that the engine says, row by row."""
    return np.concatenate([told for _, told in by_engine(flight, settings, blocks)])


@profile(max_examples=40 * EACH)
@given(just_fitting())
def test_times_that_just_fit(case):
    """Every timer, a tick before it ends, as it ends, and a tick after."""
    flight, wanted = case
    assert_same(flight, legal(flight.settings, wanted))


@profile(max_examples=10 * EACH)
@given(st.integers(0, 1 << 30), st.integers(8, 40))
def test_a_zero_on_an_uneven_grid(seed, windows):
    """A new zero begins the grid anew, and nothing lies where it lay before."""
    flight = uneven_start(seed)
    settings = legal(flight.settings, {"window_ms": 10 * windows})
    assert_same(flight, settings)


def slow_down(levels) -> Made:
    """(ticks of 20 ms, q_dpa, lift_pm) after one another, from a start in the air."""
    rows = np.zeros((sum(ticks for ticks, _, _ in levels), 9), np.int32)
    rows[:, 0], rows[:, 5], rows[:, 7] = 20 * np.arange(len(rows)), 4, -1
    rows[:, 2] = np.concatenate([np.full(ticks, q) for ticks, q, _ in levels])
    rows[:, 4] = np.concatenate([np.full(ticks, (lift - 200) * q // 1000)
                                 for ticks, q, lift in levels])
    return Made(rows, record(sample_rate_hz=50, window_ms=80), [(0, [[0, 200], [8000, 1000]])],
                (0, 0))


LEVELS = (lambda ticks: [(100, 5000, 400), (ticks, 1000, 400), (60, 300, 400)],
          lambda ticks: [(100, 5000, 400), (465 + ticks, 1000, 300), (60, 300, 300)])


@pytest.mark.parametrize("levels", LEVELS, ids=("lost_ms", "landing_ms"))
def test_a_slow_down_that_just_counts(levels):
    """Tick by tick round the two limits between a landing and a q that was lost."""
    settings = legal(slow_down([(1, 0, 200)]).settings, {"landing_ms": 10000})
    health = set()
    for ticks in range(20, 50):
        flight = slow_down(levels(ticks))
        assert_same(flight, settings)
        prepared = prepare(flight)
        told = decide(prepared, settings).health.tolist()
        health.add(WORDS[told[-1]])
    assert health == {"on-ground", "q-lost"}


@profile(max_examples=10 * EACH)
@given(st.integers(0, 1 << 30))
def test_a_disturbed_start(seed):
    """Gaps and the button while a zero is taken."""
    flight = disturbed_start(seed)
    assert_same(flight, legal(flight.settings, {}))


@profile(max_examples=10 * EACH)
@given(st.integers(0, 1 << 30))
def test_hardly_any_words(seed):
    """The longest window, filled over the longest gaps."""
    flight, wanted = sparse(seed)
    assert_same(flight, legal(flight.settings, wanted))


def test_those_zeros_are_taken_once_and_twice():
    """Else the test above would say nothing about zeros."""
    taken = set()
    for seed in range(16):
        flight = uneven_start(seed)
        group = prepare(flight).conditioned(load(flight.settings)[0])
        taken.add(sum(span.hides for span in group.spans))
    assert taken == {0, 1, 2}


@pytest.fixture(scope="module")
def circuits() -> dict[str, Made]:
    """Simulated flights as raw 14-bit words, parked at first, so that zeros are taken."""
    found = {}
    for name in ("ordinary", "tightened-turn", "touch-and-go"):
        flight = fly(load_scenario(name), 1)
        zero = stored_zero(flight.scenario)
        found[name] = Made(sensor_rows(flight, 1),
                           scenario_settings(flight.scenario, "port-static", {}),
                           curves_of(perfect_calibration(flight)),
                           (zero["pitot_dpa"], zero["angled_dpa"]))
    return found


@pytest.mark.parametrize("name", ("ordinary", "tightened-turn", "touch-and-go"))
@profile(max_examples=3 * EACH)
@given(wanted=candidates())
@example(wanted={})
def test_simulated_flights(circuits, name, wanted):
    """From the brakes to the brakes: zeros on the ground, take-off, landing, raw words."""
    assert_same(circuits[name], legal(circuits[name].settings, wanted))


def test_a_zero_is_taken_in_a_simulated_flight(circuits):
    """Else the test above would say nothing about zeros."""
    flight = circuits["ordinary"]
    group = prepare(flight).conditioned(load(flight.settings)[0])
    assert any(span.hides for span in group.spans)


@profile(max_examples=15 * EACH)
@given(st.integers(0, 1 << 30), candidates(), st.integers(1, 300))
def test_cut_into_pieces_it_is_the_same(seed, wanted, piece):
    """However small the tiles and blocks: the same numbers, so that their size may be chosen for
    speed and memory."""
    flight = any_flight(seed)
    settings = legal(flight.settings, wanted)
    whole = seen(flight, settings)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(slot_grid, "TILE_SLOTS", piece)
        patch.setattr(line_values, "TILE_SLOTS", piece)
        patch.setattr(takeoff, "BLOCK_TICKS", piece)
        assert (seen(flight, settings) == whole).all()


@profile(max_examples=8 * EACH)
@given(st.integers(0, 1 << 30), st.lists(candidates(), min_size=2, max_size=5))
def test_what_is_kept_between_candidates_changes_nothing(seed, many):
    """One prepared flight, candidate after candidate, there and back."""
    flight = any_flight(seed, 800)
    shared = prepare(flight)
    for wanted in many + many[::-1]:
        settings = legal(flight.settings, wanted)
        found = [Course(settings).step(prepared) for prepared in (shared, prepare(flight))]
        for one, other in zip(*[(*group.shown(settings.min_q_dpa, 0, len(shared.ticks)),
                                 *vars(told).values()) for group, told in found], strict=True):
            assert np.array_equal(one, other)


@profile(max_examples=15 * EACH)
@given(st.integers(0, 1 << 30))
def test_until_the_first_doubt_it_is_the_whole_firmware(seed):
    """With its doubts: nothing differs before one is raised, or a step begins to be watched."""
    flight = any_flight(seed, 1200)
    settings = load(flight.settings)[0]
    unit = Unit(settings, flight.curves, flight.zero)
    session, first = WordSession(unit), len(flight.rows)
    for i in range(first):
        run_rows(session, flight.rows[i:i + 1])
        doubts = unit._doubts
        if doubts.code or doubts.jumping or doubts._jumps.off:
            first = i
            break
    differs = verify(flight, settings)
    assert not len(differs) or differs[0] >= first


@profile(max_examples=15 * EACH)
@given(st.integers(0, 1 << 30))
def test_the_bound_of_a_sensor_step_bounds(seed):
    """What is looked at closely must include all that matters; it is the dearer of the two."""
    flight = any_flight(seed, 600)
    settings = load(flight.settings)[0]
    group = prepare(flight).conditioned(settings)
    used = np.flatnonzero(group.q_dpa >= settings.min_q_dpa)
    if len(used):
        assert (group.slack_most_pm[used] >= group.slack_pm(used)).all()
        assert (group.slack_pm(used) <= group.slack_above_pm(settings.min_q_dpa)).all()


def test_other_sensors_are_refused():
    """A candidate cannot say what recorded words mean."""
    flight = any_flight(1)
    other = load({**flight.settings, "plumbing": "opposed" if flight.settings["plumbing"]
                  != "opposed" else "port-static"})[0]
    with pytest.raises(ValueError, match="plumbing"):
        prepare(flight).conditioned(other)
