"""What is said of a proposal, and how much of a front the firmware decides."""

from types import SimpleNamespace

import pytest

from host_sim.tuning.candidates import SHIPPED, candidate
from host_sim.tuning.choosing import result
from host_sim.tuning.choosing.goals import GOALS, Chooser, folds_of
from host_sim.tuning.choosing.result import Held, Side
from host_sim.tuning.choosing.verdict import checks, kept, verdict, why_not
from tests.tuning.made import judged, seen

SHIPPED_ONE = judged(flights=[seen()] * 4)
PROPOSAL = judged(noise_pm=1.5, flights=[seen()] * 4, window_ms=250)


def tuning(holds=(True, True), proposal=PROPOSAL, goal="even", stalls=8, hours=1.0, **more):
    """A tuning with what the words need."""
    one, shipped = (judged(noise_pm=noise_pm, flights=[seen(hours=hours)] * stalls, **values)
                    for noise_pm, values in ((1.5, {"window_ms": 250}), (2.0, {})))
    held = [Held((f"f{k}",), None if hold is None else one, 3.0, 3.0, 4.0, bool(hold))
            for k, hold in enumerate(holds)]
    return SimpleNamespace(**{
        "shipped": shipped, "proposal": one if proposal is PROPOSAL else proposal,
        "held": held, "front": [one], "verified": frozenset([one.values, SHIPPED_ONE.values]),
        "corrected": 0, "sides": [], "left_out_s": 0.0,
        "chooser": Chooser(GOALS[goal], shipped, folds_of([1] * stalls, 2)), **more})


def test_all_groups_must_agree():
    assert verdict(tuning((True, True))).startswith("These flights agree")
    assert verdict(tuning((True, False, True))).startswith("Not settled: for 1 of 3")
    assert verdict(tuning((None,))).startswith("Not settled: with one group")
    assert verdict(tuning(proposal=SHIPPED_ONE)).startswith("Nothing to change")


def test_few_stalls_or_hours_are_said_to_be_few():
    assert "only 3 stalls" in verdict(tuning(stalls=3))
    assert "only 0.5 h in the air" in verdict(tuning(stalls=10, hours=0.05))
    assert "only" not in verdict(tuning(stalls=6))


def test_a_front_that_the_firmware_has_not_decided_to_its_end_is_told():
    rest = [judged(0.01 * k, flights=[seen()] * 8, window_ms=100 + k) for k in range(3)]
    found = tuning()
    assert "the whole front" in checks(found)[0]
    found.front += rest
    assert "the best 1 of 4 on the front" in checks(found)[0]
    found.corrected = 1
    assert "1 of them otherwise" in checks(found)[0]


def test_a_better_neighbour_is_told():
    found = tuning()
    cheap = judged(0.0, 0.1, [seen()] * 8, window_ms=300)
    found.sides = [Side("window_ms", 1, 300, cheap, found.chooser.total(cheap))]
    assert any("window_ms 300 would cost less" in line for line in checks(found))


@pytest.mark.parametrize(("goal", "flight", "why"), [
    ("even", seen(), ""), ("even", seen(nuisance=1), "more nuisance"),
    ("sooner", seen(nuisance=1), ""), ("even", seen(lead_s=3.0), "warns later"),
    ("calmer", seen(lead_s=3.0), ""), ("calmer", seen(lead_s=None), "breaks a rule"),
    ("sooner", seen(lead_s=3.0, nuisance=1), "warns later")])
def test_why_one_is_not_proposed(goal, flight, why):
    one = judged(flights=[flight, *[seen()] * 7], window_ms=300)
    assert why_not(tuning(goal=goal), one) == why


def test_what_a_goal_keeps_is_said_in_words():
    for name, goal in GOALS.items():
        text = kept(tuning(goal=name))
        assert ("may come later" in text) == goal.later
        assert ("nuisance may be more" in text) == goal.nuisance


class Judge:
    """The firmware finds each candidate as noisy as the engine says; who is asked is noted."""

    def __init__(self, known):
        self.known, self.asked = {one.values: one for one in known}, []

    def verify(self, candidates):
        self.asked += candidates


@pytest.mark.parametrize(("most", "asked"), [(2, 2), (99, 12)])
def test_the_firmware_is_asked_for_so_much_of_the_front(most, asked):
    front = [judged(0.02 + k / 2000, 1.9 - k / 100, [seen()] * 4, window_ms=210 + k)
             for k in range(12)]
    judge = Judge([SHIPPED_ONE, *front])
    chooser = Chooser(GOALS["even"], SHIPPED_ONE, folds_of([1] * 4, 2))
    best, done = result._chosen(judge, chooser, most)
    assert best is chooser.best([SHIPPED_ONE, *front])
    assert len(judge.asked) == len(set(judge.asked)) == asked
    assert done == {candidate(SHIPPED), *judge.asked}
    assert best.values in done


def test_how_much_depends_on_the_fleet_alone():
    """96 flight hours: 32 candidates for 3 hours; 6 at least."""
    hour = SimpleNamespace(ticks=360_000)
    for hours, expected in ((1, 96), (3, 32), (100, 6)):
        fleet = SimpleNamespace(flights=[hour] * hours, settings={"sample_rate_hz": 100})
        assert result._most_verified(fleet) == expected
