"""Which trade is wanted: a few named goals, each one formula; and the choice that an odd flight
does not make.

The cost of a candidate, less is better, against the shipped values (index 0):

    d (D + 0.10)/(D0 + 0.10) + n N/N0 + u (U + 1)/(U0 + 1) + w W0/W

D: delay at 3 deg/s, s; 0.10 s stand for tubes, sensor and sound, out of the 0.15 s that the whole
may take. N: noise at 1.20 Vs. U: nuisance an hour plus changes a minute in gusts plus calm changes
a minute plus seconds of overstay: one warning for nothing counts as much as sixty changes. W: mean
warning lead, s. The weights are our own; no source knows better ones.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from host_sim.tuning.candidates import ROWS, Candidate
from host_sim.tuning.choosing import rules
from host_sim.tuning.measuring.judged import Judged, Totals, totals

OTHER_DELAY_S = 0.10
BROKEN = 1000.0  # added to the cost of what may not be proposed, so that it is never the least


@dataclass(frozen=True)
class Goal:
    """Weights of delay, noise, unrest and warning lead, and what they mean. later, nuisance:
    whether a proposal may warn later than the shipped values, or more often in normal flight."""

    delay: float
    noise: float
    unrest: float
    lead: float
    text: str
    later: bool = False
    nuisance: bool = False


GOALS = {
    "even": Goal(1.0, 1.0, 1.0, 1.0, "delay, noise, unrest and warning lead count alike; no "
                 "warning later and no more nuisance than as shipped"),
    "sooner": Goal(2.0, 0.5, 0.5, 3.0, "an early warning counts most; more nuisance than as "
                   "shipped may be paid for it", nuisance=True),
    "calmer": Goal(0.5, 1.0, 3.0, 0.5, "few sounds in normal flight count most; warnings may come "
                   "as late as the rules allow", later=True),
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
    whose flights are odd moves it no further than its neighbours. Rules are kept on all flights:
    there an odd flight can hold a candidate back, but never choose one."""

    goal: Goal
    shipped: Judged
    folds: Folds

    def __post_init__(self) -> None:
        self._shipped = [self._over(self.shipped, fold) for fold in self.folds.members]
        self._known: dict[Candidate, tuple[float, ...]] = {}
        self._against: dict[tuple[Candidate, int | None], float] = {}

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
            for without in (None, *range(len(self.folds.members))):
                self._against.pop((one, without), None)

    def total(self, one: Judged, without: int | None = None) -> float:
        """What is minimised; without: a fold that is left out, of costs and of rules."""
        costs = [cost for k, cost in enumerate(self.by_fold(one)) if k != without]
        against = self.against(one, without)
        return median(costs) + (BROKEN + against if against else 0.0)

    def keeps(self, one: Judged) -> bool:
        """Whether it keeps the rules, on all flights."""
        return not rules.broken(one.seen, self.shipped.seen)

    def against(self, one: Judged, without: int | None = None) -> float:
        """What stands against proposing it, 0 if nothing: broken rules, and what the goal keeps
        of the shipped values where these keep the rules themselves."""
        found = self._against.get((one.values, without))
        if found is None:
            places = self._places(without)
            found = self._against[one.values, without] = self._weigh(
                [one.seen[i] for i in places], [self.shipped.seen[i] for i in places])
        return found

    def holds(self, one: Judged, k: int) -> bool:
        """Whether it keeps the rules on one fold, and costs no more there than as shipped."""
        fold = self.folds.members[k]
        kept = not rules.broken([one.seen[i] for i in fold], [self.shipped.seen[i] for i in fold])
        return kept and self.by_fold(one)[k] <= self.by_fold(self.shipped)[k] + 1e-9

    def best(self, judged: Sequence[Judged], without: int | None = None) -> Judged | None:
        """The least total; of equals the one nearest to the shipped values. None where something
        stands against every candidate."""
        found = min(judged, key=lambda one: (round(self.total(one, without), 9),
                                             round(self._far(one), 9), one.values))
        return None if self.against(found, without) else found

    def _weigh(self, seen: rules.Seen, shipped: rules.Seen) -> float:
        found = rules.broken(seen, shipped)
        if rules.broken(shipped, shipped):
            return found
        if not self.goal.later:
            found += rules.later_s(seen, shipped)
        return found if self.goal.nuisance else found + rules.more_nuisance(seen, shipped)

    def _places(self, without: int | None) -> list[int]:
        return [i for k, fold in enumerate(self.folds.members) if k != without for i in fold]

    def _over(self, one: Judged, fold: tuple[int, ...]) -> Totals:
        return totals(one.seen[i] for i in fold)

    def _far(self, one: Judged) -> float:
        return sum(abs(value - shipped) / (ROWS[name][3] - ROWS[name][2])
                   for (name, value), (_, shipped) in zip(one.values, self.shipped.values,
                                                          strict=True))


def front(keepers: Sequence[Judged]) -> list[Judged]:
    """Of those that keep the rules: all that no other beats in one of delay, noise and unrest
    without losing in another. In order of delay."""
    found: list[Judged] = []
    for one in sorted(keepers, key=lambda one: (one.axes, one.values)):
        if not any(dominates(other.axes, one.axes) for other in found):
            found.append(one)  # whoever beats it stands before it in this order
    return found


def dominates(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """No worse in anything and better in something; less is better."""
    return one != other and all(a <= b for a, b in zip(one, other, strict=True))
