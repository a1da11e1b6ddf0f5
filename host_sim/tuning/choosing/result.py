"""The whole of a tuning, from flights to a proposal; what is written is made from this."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from host_sim.errors import NoResult
from host_sim.tuning.candidates import SHIPPED, Axis, Candidate, candidate, full_grid
from host_sim.tuning.choosing.goals import GOALS, Chooser, folds_of, front
from host_sim.tuning.choosing.search import Judge, RunPieces, budgeted, neighbours
from host_sim.tuning.choosing.walk import walked
from host_sim.tuning.fleet.loading import Fleet
from host_sim.tuning.measuring.bench_signals import Wing
from host_sim.tuning.measuring.fleet_wing import wing_of
from host_sim.tuning.measuring.judged import Judged
from host_sim.tuning.measuring.reference import readings

# How much of the front the firmware decides, too: flight hours times candidates, the best by cost
# first; some 4 s of one core for each of them. All of a front of 30 of a fleet of 3 hours.
FIRMWARE_H, FIRMWARE_LEAST = 96.0, 6


@dataclass(frozen=True)
class Side:
    """The proposal with one setting moved. value: what it was moved to."""

    name: str
    side: int
    value: int
    judged: Judged
    cost: float


@dataclass(frozen=True)
class Held:
    """One fold held out. flights: its names. favourite: the choice of all others, None where they
    have none. costs on this fold, of that choice, of the proposal and of the shipped values.
    holds: that choice keeps the rules on this fold, and costs no more there than as shipped."""

    flights: tuple[str, ...]
    favourite: Judged | None
    favourite_cost: float | None
    proposal_cost: float
    shipped_cost: float
    holds: bool


@dataclass(frozen=True)
class Tuning:
    """Everything found. judged: all candidates, in order of their values. illegal: combinations
    of the grid that break the unit's rules. searched: candidates beside the grid's values.
    verified: decided by the firmware itself, too; corrected: of these, how many the engine had
    otherwise. left_out_s: flight in which the unit doubted its pressures."""

    fleet: Fleet
    wing: Wing
    goal: str
    axes: Sequence[Axis]
    chooser: Chooser
    shipped: Judged
    proposal: Judged
    judged: list[Judged]
    front: list[Judged]
    sides: list[Side]
    held: list[Held]
    illegal: int
    searched: int
    verified: frozenset[Candidate]
    corrected: int
    left_out_s: float


def tune(fleet: Fleet, axes: Sequence[Axis], goal: str, folds: int, budget: int,
         run: RunPieces) -> Tuning:
    """Judge, search, choose, and ask how firm the choice is. NoResult where no candidate keeps
    the rules, with how near the best of them came."""
    for flight in fleet.flights:
        if flight.stalls_ms:  # here, before any work is done or kept: is the truth possible?
            for _ in readings(flight, ()):
                pass
    wing = wing_of(fleet)
    grid, illegal = full_grid(tuple(axes), fleet.settings)
    judge = Judge(fleet.flights, wing, run)
    judge.judge([candidate(SHIPPED), *grid], "grid")
    judge.verify([candidate(SHIPPED)])
    shipped = judge.known[candidate(SHIPPED)]
    chooser = Chooser(GOALS[goal], shipped,
                      folds_of([len(flight.stalls_ms) for flight in fleet.flights], folds))
    searched = budgeted(judge, chooser, axes, fleet.settings, budget // 2)
    searched += walked(judge, chooser, axes, fleet.settings, budget - searched)
    proposal, verified = _chosen(judge, chooser, _most_verified(fleet))
    judged = [judge.known[one] for one in sorted(judge.known)]
    names = [axis.name for axis in axes]
    return Tuning(fleet, wing, goal, axes, chooser, shipped, proposal, judged,
                  _front(chooser, judged),
                  _sides(judge, chooser, proposal.values, names, fleet.settings),
                  _held(fleet, chooser, judged, proposal), illegal, searched, verified,
                  len(judge.corrected), _left_out_s(fleet, judge))


def _chosen(judge: Judge, chooser: Chooser, most: int) -> tuple[Judged, frozenset[Candidate]]:
    """The proposal, and all that the firmware itself decided: the best `most` of the front, until
    these and the best of all are among them. NoResult where nothing may be proposed."""
    done = {chooser.shipped.values}
    while True:
        judged = [judge.known[one] for one in sorted(judge.known)]
        best = chooser.best(judged)
        if best is None:
            raise NoResult(_why_none(judged, chooser))
        shown = sorted(_front(chooser, judged), key=lambda one: (chooser.total(one), one.values))
        todo = [one for one in dict.fromkeys(
            [best.values, *(each.values for each in shown[:most])]) if one not in done]
        if not todo:
            return best, frozenset(done)
        judge.verify(todo)
        chooser.forget(todo)
        done.update(todo)


def _most_verified(fleet: Fleet) -> int:
    """How many candidates the firmware is asked for, whatever machine does it."""
    hours = sum(flight.ticks for flight in fleet.flights) / (
        3600.0 * fleet.settings.get("sample_rate_hz", 100))
    return max(FIRMWARE_LEAST, int(FIRMWARE_H / max(hours, 0.01)))


def _front(chooser: Chooser, judged: Sequence[Judged]) -> list[Judged]:
    return front([one for one in judged if chooser.keeps(one)])


def _left_out_s(fleet: Fleet, judge: Judge) -> float:
    """Seconds of all flights in which the unit doubted its pressures."""
    rows = sum(after - first for spans in judge.odd for first, after in spans)
    return rows / fleet.settings.get("sample_rate_hz", 100)


def _why_none(judged: list[Judged], chooser: Chooser) -> str:
    best = min(judged, key=lambda one: (chooser.against(one), one.values))
    margins = "".join(f", least margin in slow entries {min(values):.{digits}f} {unit}"
                      for values, unit, digits in (
                          (best.all.margins_kt, "kt", 1),
                          (tuple(100 * one for one in best.all.margins_share), "%", 1)) if values)
    return (f"none of {len(judged)} candidates keeps the rules (no stall missed; 5 kt and 5 % of "
            f"margin in slow entries; no more faults than as shipped). The nearest, "
            f"{changed(best.values)}, has {best.all.misses} misses{margins}. Widen the grid, for "
            "example pressing_pm downwards, or look at the calibration. Nothing was written")


def changed(values: Candidate) -> str:
    """A candidate as the settings that differ from the shipped ones, for people."""
    differ = [f"{name} {value}" for name, value in values if value != SHIPPED[name]]
    return ", ".join(differ) or "the shipped values"


def _sides(judge: Judge, chooser: Chooser, values: Candidate, names: Sequence[str],
           base: Mapping) -> list[Side]:
    """Sensitivity: judged beside the search, so that they are no candidates themselves."""
    moved = neighbours(values, names, base)
    known = dict(judge.known)
    results = judge.judge([one for _, _, one in moved], "sensitivity")
    judge.known = known
    return [Side(name, side, dict(one)[name], result, chooser.total(result))
            for (name, side, one), result in zip(moved, results, strict=True)]


def _held(fleet: Fleet, chooser: Chooser, judged: list[Judged], proposal: Judged) -> list[Held]:
    found = []
    for k, fold in enumerate(chooser.folds.members):
        favourite = chooser.best(judged, k) if len(chooser.folds.members) > 1 else None
        found.append(Held(
            tuple(fleet.flights[i].name for i in fold), favourite,
            None if favourite is None else chooser.by_fold(favourite)[k],
            chooser.by_fold(proposal)[k], chooser.by_fold(chooser.shipped)[k],
            favourite is not None and chooser.holds(favourite, k)))
    return found
