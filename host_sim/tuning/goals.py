"""Which trade is wanted: a few named goals, each one formula; and the choice that an odd flight
does not make.

The cost of a candidate, less is better, against the shipped values (index 0):

    d (D + 0.10)/(D0 + 0.10) + n N/N0 + u (U + 1)/(U0 + 1) + w W0/W

D: delay at 3 deg/s, s; 0.10 s stand for tubes, sensor and sound, out of the 0.15 s that the whole
may take. N: noise at 1.20 Vs. U: nuisance an hour plus changes a minute in gusts plus calm changes
a minute. W: mean warning lead, s. The weights are our own; no source knows better ones.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from host_sim.tuning.candidates import ROWS, Candidate
from host_sim.tuning.judged import Judged, Totals, totals

OTHER_DELAY_S = 0.10
BROKEN = 1000.0  # added to the cost of what breaks a rule, so that it is never the least


@dataclass(frozen=True)
class Goal:
    """Weights of delay, noise, unrest and warning lead, and what they mean."""

    delay: float
    noise: float
    unrest: float
    lead: float
    text: str


GOALS = {
    "even": Goal(1.0, 1.0, 1.0, 1.0, "delay, noise, unrest and warning lead count alike"),
    "sooner": Goal(2.0, 0.5, 0.5, 3.0, "an early warning counts most; some unrest is paid for it"),
    "calmer": Goal(0.5, 1.0, 3.0, 0.5, "few sounds in normal flight count most; warnings may come "
                   "as late as the rules allow"),
}


@dataclass(frozen=True)
class Folds:
    """members: for each fold the places of its flights in the fleet's order."""

    members: tuple[tuple[int, ...], ...]


def folds_of(stalls: Sequence[int], wanted: int) -> Folds:
    """Deal flights out, those with stalls first, so that every fold has some if there are enough.

    stalls: number of stalls of each flight, in the fleet's order (which is that of the names)."""
    count = max(1, min(wanted, len(stalls)))
    dealt = sorted(range(len(stalls)), key=lambda i: (not stalls[i], i))
    return Folds(tuple(tuple(sorted(dealt[k::count])) for k in range(count)))


def cost(goal: Goal, one: Judged, shipped: Judged, over: Totals, shipped_over: Totals) -> float:
    """The formula above, over some of the flights; without stalls among them, without its last
    term."""
    found = (goal.delay * (one.delay_s + OTHER_DELAY_S) / (shipped.delay_s + OTHER_DELAY_S)
             + goal.noise * one.noise_pm / max(shipped.noise_pm, 0.01)
             + goal.unrest * (over.unrest + 1.0) / (shipped_over.unrest + 1.0))
    if shipped_over.leads_s and over.leads_s:
        mean, shipped_mean = (sum(each.leads_s) / len(each.leads_s)
                              for each in (over, shipped_over))
        found += goal.lead * shipped_mean / max(mean, 0.05)
    return found


@dataclass
class Chooser:
    """Costs by fold, and the choice. The cost that counts is the median over the folds: a fold
    whose flights are odd moves it no further than its neighbours. Rules are kept on all flights.
    """

    goal: Goal
    shipped: Judged
    folds: Folds

    def __post_init__(self) -> None:
        self._shipped = [self._over(self.shipped, fold) for fold in self.folds.members]
        self._known: dict = {}

    def by_fold(self, one: Judged) -> tuple[float, ...]:
        """The cost on each fold."""
        found = self._known.get(one.values)
        if found is None:
            found = self._known[one.values] = tuple(
                cost(self.goal, one, self.shipped, self._over(one, fold), shipped)
                for fold, shipped in zip(self.folds.members, self._shipped, strict=True))
        return found

    def forget(self, candidates: Sequence[Candidate]) -> None:
        """Costs of these are worked out anew: their numbers may have changed."""
        for one in candidates:
            self._known.pop(one, None)

    def total(self, one: Judged, without: int | None = None) -> float:
        """What is minimised; without: a fold that is left out. Rules are kept on the rest."""
        costs = [cost for k, cost in enumerate(self.by_fold(one)) if k != without]
        broken = one.broken(self.shipped.all.fault_s)
        return median(costs) + (BROKEN + broken if broken else 0.0)

    def best(self, judged: Sequence[Judged], without: int | None = None) -> Judged | None:
        """The least total; of equals the one nearest to the shipped values. None where every
        candidate breaks a rule."""
        found = min(judged, key=lambda one: (round(self.total(one, without), 9),
                                             round(self._far(one), 9), one.values))
        return None if found.broken(self.shipped.all.fault_s) else found

    def _over(self, one: Judged, fold: tuple[int, ...]) -> Totals:
        return totals(one.seen[i] for i in fold)

    def _far(self, one: Judged) -> float:
        return sum(abs(value - shipped) / (ROWS[name][3] - ROWS[name][2])
                   for (name, value), (_, shipped) in zip(one.values, self.shipped.values,
                                                          strict=True))


def front(judged: Sequence[Judged], fault_s: float) -> list[Judged]:
    """Of those that keep the rules: all that no other beats in one of delay, noise and unrest
    without losing in another. In order of delay. fault_s: see `Judged.broken`."""
    keepers = sorted((one for one in judged if not one.broken(fault_s)),
                     key=lambda one: (one.axes, one.values))
    found: list[Judged] = []
    for one in keepers:  # whoever beats it stands before it in this order
        if not any(dominates(other.axes, one.axes) for other in found):
            found.append(one)
    return found


def dominates(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """No worse in anything and better in something; less is better."""
    return one != other and all(a <= b for a, b in zip(one, other, strict=True))
