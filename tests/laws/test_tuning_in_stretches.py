"""A flight cut into stretches against the same flight in one: every output of every row, bit for
bit, wherever the cuts lie. That the uncut engine is the firmware: `test_tuning_equals_firmware`.
"""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import settings as profile
from hypothesis import strategies as st

from alula.sample import NO_REPLY
from host_sim.runtimes.session import UNKNOWN
from tests.laws.test_tuning_equals_firmware import (
    EACH,
    LEVELS,
    assert_same,
    circuits,
    seen,
    slow_down,
)
from tests.laws.tuning_flights import (
    Made,
    any_flight,
    candidates,
    disturbed_start,
    just_fitting,
    legal,
    sparse,
    uneven_start,
)

__all__ = ["circuits"]  # a fixture


def cut(rows: np.ndarray, at) -> list[np.ndarray]:
    """Blocks of rows, none of them empty."""
    edges = sorted({0, len(rows), *(1 + int(one) % (len(rows) - 1) for one in at)})
    return [rows[lo:hi] for lo, hi in zip(edges, edges[1:], strict=False)]


CUTS = st.lists(st.integers(0, 1 << 30), min_size=1, max_size=6)


def assert_cut_anywhere(flight: Made, settings, at) -> None:
    """The same, whole and in stretches."""
    whole = seen(flight, settings)
    found = seen(flight, settings, cut(flight.rows, at))
    differs = np.flatnonzero((whole != found).any(axis=1))
    assert not len(differs), (differs[:3], whole[differs[0]], found[differs[0]])


@profile(max_examples=60 * EACH)
@given(st.integers(0, 1 << 30), candidates(), CUTS)
def test_any_flight_cut_anywhere(seed, wanted, at):
    """Gaps, lost reads, zeros, flaps, ground: whatever is going on at a cut."""
    flight = any_flight(seed)
    assert_cut_anywhere(flight, legal(flight.settings, wanted), at)


@profile(max_examples=40 * EACH)
@given(just_fitting(), CUTS)
def test_timers_cut_anywhere(case, at):
    """No timer loses or gains a tick at a cut."""
    flight, wanted = case
    assert_cut_anywhere(flight, legal(flight.settings, wanted), at)


@profile(max_examples=15 * EACH)
@given(st.integers(0, 1 << 30), st.integers(8, 40), CUTS)
def test_zeros_cut_anywhere(seed, windows, at):
    """Attempts, new zeros and the grids after them."""
    flight = uneven_start(seed)
    assert_cut_anywhere(flight, legal(flight.settings, {"window_ms": 10 * windows}), at)


@profile(max_examples=25 * EACH)
@given(st.integers(0, 1 << 30), CUTS)
def test_disturbed_zeros_cut_anywhere(seed, at):
    """An attempt begins anew after a gap, and goes on over a cut; a button let go counts later,
    too."""
    flight = disturbed_start(seed)
    assert_cut_anywhere(flight, legal(flight.settings, {}), at)


@pytest.mark.parametrize("seed", range(6))
def test_a_button_let_go_before_there_are_data(seed):
    """It asks for a zero that is taken in a later stretch."""
    flight = uneven_start(seed)
    flight.rows[:40, 8] = 1
    flight.rows[:60, [1, 3]] = NO_REPLY
    flight.rows[60:, 2] += 400  # further off than an unasked zero may be
    assert_same(flight, legal(flight.settings, {}), np.split(flight.rows, [50]))


@profile(max_examples=10 * EACH)
@given(st.integers(0, 1 << 30), st.integers(1, 40))
def test_words_of_long_ago(seed, size):
    """As far back as a window can reach."""
    flight, wanted = sparse(seed)
    assert_cut_anywhere(flight, legal(flight.settings, wanted), range(size, 1490, size))


@pytest.mark.parametrize("levels", LEVELS, ids=("lost_ms", "landing_ms"))
def test_a_slow_down_that_just_counts_cut_in_its_middle(levels):
    """What ran before the cut counts."""
    settings = legal(slow_down([(1, 0, 200)]).settings, {"landing_ms": 10000})
    for ticks in range(20, 50):
        flight = slow_down(levels(ticks))
        assert_same(flight, settings, np.split(flight.rows, [110, len(flight.rows) - 70]))


@pytest.mark.parametrize("rises", (False, True))
def test_standing_still_over_a_cut(rises):
    """Slowed down with a warning on: only so long at rest ends the flight, and what came before
    more q does not count. Cut in the rest, and where q comes back."""
    rest = [(40, 60, 0), (30, 1000, 800)] if rises else []
    flight = slow_down([(100, 5000, 400), (50, 1000, 800), *rest, (70, 60, 0)])
    settings = legal(flight.settings, {"ground_ms": 1000})
    known = seen(flight, settings)[:, 3] != UNKNOWN
    changes = np.flatnonzero(np.diff(known)) + 1
    for at in ([170], [185], [200], changes):
        assert_same(flight, settings, np.split(flight.rows, at))


def test_the_calm_tick_is_due_over_a_cut():
    """So long after the take-off roll, wherever that time is cut."""
    flight = slow_down([(50, 0, 200), (400, 5000, 560)])
    settings = legal(flight.settings, {"calm_after_ms": 5000})
    tones = seen(flight, settings)[:, 7]
    assert tones[250] == 0 and tones[-1] > 0
    for cuts in ([200], [100, 300], [75, 76, 325]):
        assert_same(flight, settings, np.split(flight.rows, cuts))


@profile(max_examples=15 * EACH)
@given(st.integers(0, 1 << 30), candidates(), st.integers(1, 40))
@example(1, {}, 1)  # an outage that ends with a stretch, and another one later
def test_many_small_stretches(seed, wanted, size):
    """Far shorter than what they need of the stretches before."""
    flight = any_flight(seed, 500)
    assert_cut_anywhere(flight, legal(flight.settings, wanted),
                        range(size - 1, len(flight.rows) - 1, size))


@pytest.mark.parametrize("name", ("ordinary", "tightened-turn", "touch-and-go"))
@profile(max_examples=2 * EACH)
@given(wanted=candidates(), at=CUTS)
def test_simulated_flights_cut_anywhere(circuits, name, wanted, at):
    """From the brakes to the brakes, against the firmware."""
    flight = circuits[name]
    assert_same(flight, legal(flight.settings, wanted), cut(flight.rows, at))
