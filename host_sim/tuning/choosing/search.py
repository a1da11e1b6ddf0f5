"""The search: the full grid, then so many more candidates between its values, and round the best.

Between the values scipy.optimize's differential evolution looks: it takes whole numbers, needs no
slope (counts of changes have none), asks for a whole generation at once, which suits a pool of
workers, and is the same with the same seed. optuna would do as well; its trials come one by one.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from host_sim.errors import UsageError
from host_sim.tuning.candidates import (
    ROWS,
    SHIPPED,
    STEPS,
    Axis,
    Candidate,
    candidate,
    problem,
)
from host_sim.tuning.choosing.goals import BROKEN, Chooser
from host_sim.tuning.fleet.flights import TuneFlight
from host_sim.tuning.measuring.bench_signals import Wing
from host_sim.tuning.measuring.judged import Judged
from host_sim.tuning.measuring.reference import Spans
from host_sim.tuning.work.pieces import Piece, code_hash, cut

SEED = 11
AROUND_S = 3  # round rows with a doubt: windows and releases of any candidate
MOVED = 4  # steps to each side, for the sensitivity
GENERATION = 4  # candidates a generation, for each constant
ILLEGAL = 10.0 * BROKEN

RunPieces = Callable[[list[Piece], str], list[list]]


class Judge:
    """Judges candidates over all flights; each once."""

    def __init__(self, flights: list[TuneFlight], wing: Wing, run: RunPieces) -> None:
        self._flights, self._run = flights, run
        self.known: dict[Candidate, Judged] = {}
        self.corrected: list[Candidate] = []
        self.odd = self._doubted()
        self._subjects: list[tuple[TuneFlight | Wing, Spans]] = [
            (wing, ()), *zip(flights, self.odd, strict=True)]

    def judge(self, candidates: Iterable[Candidate], label: str) -> list[Judged]:
        """In the order asked. label: for the progress bar."""
        asked = list(candidates)
        new = [one for one in dict.fromkeys(asked) if one not in self.known]
        pieces = cut(self._subjects, new)
        found: dict[Candidate, list] = {one: [] for one in new}
        for piece, results in zip(pieces, self._run(pieces, label), strict=True):
            for one, result in zip(piece.block, results, strict=True):
                found[one].append(result)
        for one, (bench, *seen) in found.items():
            self.known[one] = Judged(one, tuple(bench[0]), tuple(bench[1]), tuple(seen))
        return [self.known[one] for one in asked]

    def verify(self, candidates: Sequence[Candidate]) -> None:
        """Let the firmware decide them, flight by flight; where the engine was wrong, the
        firmware's own numbers take the place of the engine's."""
        pieces = [Piece(flight, (one,), code_hash(), odd, True) for one in candidates
                  for flight, odd in zip(self._flights, self.odd, strict=True)]
        results = iter(self._run(pieces, "firmware"))
        for one in candidates:
            seen = [next(results)[0][0] for _ in self._flights]
            if tuple(seen) != self.known[one].seen:
                self.corrected.append(one)
                self.known[one] = replace(self.known[one], seen=tuple(seen))

    def _doubted(self) -> list[Spans]:
        """For each flight the rows on which the firmware decides otherwise than the engine with
        the shipped values: it doubts the pressures there. Some seconds before and after too."""
        pieces = [Piece(flight, (candidate(SHIPPED),), code_hash(), (), True)
                  for flight in self._flights]
        return [tuple(_widened(spans, flight.settings) for spans in result[0][1])
                for flight, result in zip(self._flights, self._run(pieces, "firmware"),
                                          strict=True)]


def _widened(span: list[int], settings: Mapping) -> tuple[int, int]:
    around = AROUND_S * settings.get("sample_rate_hz", 100)
    return max(0, span[0] - around), span[1] + around


class Spent(Exception):
    """The budget is used up."""


def budgeted(judge: Judge, chooser: Chooser, axes: Sequence[Axis], base: Mapping,
             budget: int) -> int:
    """Look at up to `budget` more candidates between the grid's ends. Returns how many."""
    loose = [axis for axis in axes if axis.step and len(axis.values) > 1]
    if not loose or budget < 1:
        return 0
    try:
        from scipy.optimize import differential_evolution
    except ImportError as error:
        raise UsageError("the search between grid values needs scipy: pip install 'alula[tune]', "
                         "or search the grid only with --budget 0") from error
    before, start = len(judge.known), ranked(judge, chooser)[0].values

    def costs(places: np.ndarray) -> np.ndarray:
        wanted = [_at(start, loose, column) for column in np.rint(places).astype(int).T]
        legal = [one for one in wanted if problem(base, one) is None]
        left = before + budget - len(judge.known)
        new = list(dict.fromkeys(one for one in legal if one not in judge.known))
        judge.judge(new[:max(0, left)], "search")
        if len(new) > left:
            raise Spent
        return np.array([chooser.total(judge.known[one]) if one in judge.known else ILLEGAL
                         for one in wanted])

    ends = [(0, (axis.values[-1] - axis.values[0]) // axis.step) for axis in loose]
    with suppress(Spent):
        differential_evolution(
            costs, ends, integrality=[True] * len(loose), vectorized=True, updating="deferred",
            rng=SEED, init=_first(judge, chooser, loose, ends), polish=False, tol=0.0,
            maxiter=budget)
    return len(judge.known) - before


def _at(start: Candidate, loose: Sequence[Axis], places: np.ndarray) -> Candidate:
    """The candidate at a place of the search; what is not searched stays as in `start`."""
    return candidate({**dict(start), **{axis.name: axis.values[0] + axis.step * int(place)
                                        for axis, place in zip(loose, places, strict=True)}})


def ranked(judge: Judge, chooser: Chooser) -> list[Judged]:
    """Everything judged so far, the least cost first."""
    return sorted(judge.known.values(), key=lambda one: (chooser.total(one), one.values))


def _first(judge: Judge, chooser: Chooser, loose: Sequence[Axis],
           ends: Sequence[tuple[int, int]]) -> np.ndarray:
    """The first generation: the best of the grid, and others drawn at random."""
    size = max(5, GENERATION * len(loose))
    rng = np.random.default_rng(SEED)
    rows = [[_place(dict(one.values)[axis.name], axis, end[1])
             for axis, end in zip(loose, ends, strict=True)]
            for one in ranked(judge, chooser)[:size // 2]]
    rows += [[int(rng.integers(0, end[1] + 1)) for end in ends]
             for _ in range(size - len(rows))]
    return np.array(rows, float)


def _place(value: int, axis: Axis, last: int) -> int:
    return min(max((value - axis.values[0]) // axis.step, 0), last)


def neighbours(values: Candidate, names: Sequence[str],
               base: Mapping) -> list[tuple[str, int, Candidate]]:
    """(setting, side, candidate): each named setting moved alone by MOVED steps, down (side -1)
    and up (1), not past its limits; what the rules refuse is left out."""
    found = []
    for name in names:
        move = MOVED * STEPS[name]
        for side in (-1, 1):
            value = min(max(dict(values)[name] + side * move, ROWS[name][2]), ROWS[name][3])
            one = candidate({**dict(values), name: value})
            if one != values and problem(base, one) is None:
                found.append((name, side, one))
    return found
