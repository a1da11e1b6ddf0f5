"""The walk from the best of the search, on a bowl whose lowest place is known."""


from host_sim.tuning.candidates import DEFAULT, ROWS, SHIPPED, STEPS, Axis, candidate
from host_sim.tuning.choosing.walk import around, walked
from tests.tuning.made import SETTINGS, judged


class Bowl:
    """Judge and chooser in one: the cost is the distance, in steps, from a place."""

    def __init__(self, lowest):
        self.lowest, self.known = lowest, {}
        self.judge([candidate(SHIPPED)], "")

    def judge(self, candidates, label):
        for one in candidates:
            self.known[one] = judged(**dict(one))

    def total(self, one):
        values = dict(one.values)
        return sum(abs(values[name] - at) / STEPS[name] for name, at in self.lowest.items())

    def best(self):
        return dict(min(self.known.values(), key=self.total).values)


def test_it_leaves_the_default_grid_where_that_pays():
    lowest = {"window_ms": 360, "hysteresis_pm": 56}
    assert max(DEFAULT[0].values) < 360
    bowl = Bowl(lowest)
    used = walked(bowl, bowl, DEFAULT, SETTINGS, 500)
    assert {name: bowl.best()[name] for name in lowest} == lowest
    assert used == len(bowl.known) - 1 < 500


def test_a_grid_of_the_kit_makers_own_is_not_left():
    axis = Axis("window_ms", (160, 200, 240), 10)
    bowl = Bowl({"window_ms": 360})
    walked(bowl, bowl, [axis], SETTINGS, 500)
    assert {dict(one)["window_ms"] for one in bowl.known} <= set(range(160, 241))
    assert bowl.best()["window_ms"] == 240


def test_a_list_is_looked_at_as_it_stands():
    assert around(candidate(SHIPPED), [Axis("window_ms", (160, 240))], SETTINGS) == []


def test_it_keeps_to_the_budget():
    for budget in (0, 1, 7):
        bowl = Bowl({"window_ms": 360})
        assert walked(bowl, bowl, DEFAULT, SETTINGS, budget) == budget


def test_it_stops_at_the_units_own_limits():
    bowl = Bowl({"window_ms": 9999})
    walked(bowl, bowl, DEFAULT[:1], SETTINGS, 500)
    assert bowl.best()["window_ms"] == ROWS["window_ms"][3]
