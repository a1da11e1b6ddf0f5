"""Laws of the front, the folds and the choice, over candidates that hypothesis makes up."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from host_sim.tuning.candidates import SHIPPED
from host_sim.tuning.choosing import rules
from host_sim.tuning.choosing.goals import GOALS, Chooser, cost, dominates, folds_of, front
from host_sim.tuning.measuring.judged import totals
from tests.tuning.made import judged, seen

FLIGHTS = st.lists(st.builds(
    seen, lead_s=st.one_of(st.none(), st.floats(0.5, 12)), margin_kt=st.floats(2, 15),
    nuisance=st.integers(0, 5), gusts=st.integers(0, 9), fault_s=st.sampled_from([0.0, 3.0])),
    min_size=3, max_size=3)
ONE = st.tuples(st.sampled_from([0.02, 0.03, 0.04]), st.sampled_from([1.5, 2.0, 3.0]), FLIGHTS)
SHIPPED_ONE = judged(flights=[seen(), seen(), seen()])


@st.composite
def fleets(draw):
    """Up to twelve candidates, told apart by their window."""
    made = draw(st.lists(ONE, min_size=1, max_size=12))
    return [judged(delay, noise, flights, window_ms=80 + 10 * i)
            for i, (delay, noise, flights) in enumerate(made)]


@given(fleets())
def test_the_front_holds_what_nothing_beats_and_nothing_else(candidates):
    keepers = [one for one in candidates if not rules.broken(one.seen, SHIPPED_ONE.seen)]
    found = front(keepers)
    expected = {one.values for one in keepers
                if not any(dominates(other.axes, one.axes) for other in keepers)}
    assert {one.values for one in found} == expected


@given(fleets(), st.randoms())
def test_the_order_of_candidates_changes_nothing(candidates, random):
    mixed = list(candidates)
    random.shuffle(mixed)
    assert front(mixed) == front(candidates)
    chooser = Chooser(GOALS["even"], SHIPPED_ONE, folds_of([1, 1, 1], 3))
    assert chooser.best(mixed) == chooser.best(candidates)


@given(fleets(), st.integers(1, 5), st.sampled_from(sorted(GOALS)))
def test_the_choice_is_a_candidate_that_keeps_the_rules_and_costs_least(candidates, folds, goal):
    chooser = Chooser(GOALS[goal], SHIPPED_ONE, folds_of([1, 0, 1], folds))
    for without in (None, *range(len(chooser.folds.members) if folds > 1 else 0)):
        best = chooser.best(candidates, without)
        keepers = [one for one in candidates if not chooser.against(one, without)]
        if best is None:
            assert not keepers
            continue
        assert best in keepers
        assert chooser.total(best, without) <= min(
            chooser.total(one, without) for one in keepers) + 1e-9


@given(st.lists(st.integers(0, 3), min_size=1, max_size=15), st.integers(1, 8))
def test_folds_hold_every_flight_once_and_spread_the_stalls(stalls, wanted):
    found = folds_of(stalls, wanted)
    assert sorted(i for fold in found.members for i in fold) == list(range(len(stalls)))
    sizes = [len(fold) for fold in found.members]
    assert max(sizes) - min(sizes) <= 1
    having = [sum(stalls[i] > 0 for i in fold) for fold in found.members]
    assert max(having) - min(having) <= 1


@given(st.floats(0.5, 100))
def test_one_odd_flight_does_not_choose(much):
    """Three folds of one flight each: on two the candidate is better, on the third as much worse
    as one likes (goal `sooner`: the others allow no more nuisance). The mean would change its
    mind; the median does not."""
    worse = seen(nuisance=round(much * 20), hours=1.0)
    better = judged(noise_pm=1.6, flights=[seen(), seen(), worse], window_ms=250)
    chooser = Chooser(GOALS["sooner"], SHIPPED_ONE, folds_of([1, 1, 1], 3))
    assert chooser.best([SHIPPED_ONE, better]) is better


def test_the_cost_of_the_shipped_values_is_the_sum_of_the_weights():
    """By the formula: every quotient is one."""
    for goal in GOALS.values():
        over = totals(SHIPPED_ONE.seen)
        assert abs(cost(goal, SHIPPED_ONE, SHIPPED_ONE, over, over) - (
            goal.delay + goal.noise + goal.unrest + goal.lead)) < 1e-12


def test_cost_by_hand():
    """Half the delay with its 0.10 s (0.13 to 0.115), twice the noise, unrest 0 to 3, lead 5 to
    10 s; weights of "sooner": 2, 0.5, 0.5, 3."""
    one = judged(0.015, 4.0, [seen(lead_s=10.0, nuisance=3)])
    shipped = replace(SHIPPED_ONE, seen=SHIPPED_ONE.seen[:1])
    found = cost(GOALS["sooner"], one, shipped, totals(one.seen), totals(shipped.seen))
    assert abs(found - (2 * 0.115 / 0.13 + 0.5 * 2 + 0.5 * 4 + 3 * 0.5)) < 1e-12


def test_what_breaks_a_rule_is_never_chosen_however_cheap():
    """No stall missed; 5 kt (14 CFR 23.207(c)) and 5 % (25.207(c)) in slow entries; no more
    time in fault than as shipped."""
    chooser = Chooser(GOALS["even"], SHIPPED_ONE, folds_of([1, 1, 1], 3))
    for bad in (seen(lead_s=None), seen(margin_kt=4.99), seen(margin_kt=2.4), seen(fault_s=1.0)):
        cheap = judged(0.0, 0.1, [seen(), seen(), bad], window_ms=300)
        assert not chooser.keeps(cheap)
        assert chooser.best([cheap, SHIPPED_ONE]) is SHIPPED_ONE
        assert chooser.best([cheap]) is None


CHEAP = [
    ("later", [seen(lead_s=4.8), seen(), seen()], {"calmer"}),
    ("a tenth later", [seen(lead_s=4.91), seen(), seen()], set(GOALS)),
    ("a later warble", [seen(warble_s=0.8), seen(), seen()], {"calmer"}),
    ("more nuisance", [seen(nuisance=1), seen(), seen()], {"sooner"}),
    ("neither", [seen(), seen(), seen()], set(GOALS))]


@pytest.mark.parametrize(("what", "flights", "allowed"), CHEAP)
def test_what_a_goal_keeps_of_the_shipped_values(what, flights, allowed):
    """5.0 s of lead and 1.0 s of warble as shipped; however cheap the candidate is otherwise."""
    cheap = judged(0.0, 0.1, flights, window_ms=300)
    for name, goal in GOALS.items():
        chooser = Chooser(goal, SHIPPED_ONE, folds_of([1, 1, 1], 1))
        chosen = chooser.best([cheap, SHIPPED_ONE])
        assert (chosen is cheap) == (name in allowed), (what, name)


def test_ten_seconds_before_a_stall_is_early_whatever_the_shipped_values_do():
    shipped = judged(flights=[seen(lead_s=30.0)])
    for lead_s, kept in ((9.95, True), (9.8, False)):
        assert (rules.later_s([seen(lead_s=lead_s)], shipped.seen) == 0) == kept


def test_where_the_shipped_values_break_a_rule_they_hold_nobody_back():
    """As shipped a stall is missed; the cure may cost nuisance."""
    shipped = judged(flights=[seen(lead_s=None), seen(), seen()])
    cure = judged(flights=[seen(nuisance=3), seen(), seen()], pressing_pm=650)
    chooser = Chooser(GOALS["even"], shipped, folds_of([1, 1, 1], 3))
    assert chooser.best([shipped, cure]) is cure


def test_a_fold_that_is_left_out_is_left_out_of_the_rules_too():
    """Its stall is missed by the cheap one; only who does not see it chooses that, and there it
    does not hold."""
    cheap = judged(0.0, 0.1, [seen(lead_s=None), seen(), seen()], window_ms=300)
    chooser = Chooser(GOALS["even"], SHIPPED_ONE, folds_of([1, 1, 1], 3))
    assert chooser.best([cheap, SHIPPED_ONE], 0) is cheap
    assert not chooser.holds(cheap, 0)
    assert chooser.best([cheap, SHIPPED_ONE], 1) is SHIPPED_ONE


def test_of_equals_the_one_nearest_to_the_shipped_values():
    chooser = Chooser(GOALS["even"], SHIPPED_ONE, folds_of([1, 1, 1], 3))
    three = [seen(), seen(), seen()]
    near = judged(flights=three, urgency_pm=SHIPPED["urgency_pm"] + 50)
    far = judged(flights=three, urgency_pm=SHIPPED["urgency_pm"] + 500)
    assert chooser.best([far, near]) is near
