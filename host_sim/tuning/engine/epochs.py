"""Between two emptyings of the windows: where gaps in the data and new zeros cut a flight.

Both channels are emptied together (`Unit.tick`). A gap: for longer than `gap_ms` no usable word
after one that was taken in since the last emptying.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.tuning.engine.latest import Kept
from host_sim.tuning.engine.slot_grid import Seeded, SlotGrid
from host_sim.tuning.engine.stream import WINDOW_MOST_MS, Ticks, Words

OWN_MOST = 2


@dataclass(frozen=True)
class Begun:
    """How a channel's grid began: tick of its first usable word, as the flight counts, and time
    of its first median. Before the second usable word there is none."""

    tick: int
    origin_ms: int


@dataclass(frozen=True)
class Open:
    """What an epoch that is cut by the end of a stretch leaves to the next: the tick that had
    emptied the windows, as the flight counts; and how the channels began, None where they had
    not when the stretch ended."""

    emptied: int = -1
    begun: tuple[Begun | None, Begun | None] = (None, None)


@dataclass(frozen=True)
class Epoch:
    """Ticks first..stop-1, all after one emptying and before the next; the tick that is `stop`
    empties the windows, unless the flight ends there. pitot, angled: the channels in it."""

    first: int
    stop: int
    pitot: Seeded
    angled: Seeded
    begun: tuple[Begun | None, Begun | None]


class Emptyings:
    """The emptyings of a flight by gaps longer than gap_ms."""

    def __init__(self, ticks: Ticks, gap_ms: int) -> None:
        found = [_gaps(words.at, ticks.times_ms, gap_ms) for words in (ticks.pitot, ticks.angled)]
        at, since = (np.concatenate(parts) for parts in zip(*found, strict=True))
        order = np.argsort(at, kind="stable")
        self._at, self._since = at[order], since[order]
        self._most = len(ticks)

    def after(self, emptied: int) -> int:
        """The first tick at which a gap empties the windows that were emptied last at tick
        `emptied` (-1: at the start); the number of ticks where none does."""
        start = int(np.searchsorted(self._at, emptied, side="right"))
        held = np.flatnonzero(self._since[start:] > emptied)
        return int(self._at[start + held[0]]) if len(held) else self._most


def _gaps(at: np.ndarray, times_ms: np.ndarray, gap_ms: int) -> tuple[np.ndarray, np.ndarray]:
    """(tick, last usable word before it) of every gap, as if nothing else emptied the window."""
    following = np.searchsorted(times_ms, times_ms[at] + gap_ms, side="right")
    before = np.append(at[1:], len(times_ms) - 1) if len(at) else at
    real = following <= before
    return following[real], at[real]


class EpochMaker:
    """Makes the epochs of one stretch and one gap_ms; keeps the latest grids."""

    def __init__(self, ticks: Ticks, gap_ms: int, period_ms: int) -> None:
        self._ticks = ticks
        self._period_ms = period_ms
        self._slots_most = max(4, WINDOW_MOST_MS // period_ms)
        self.emptyings = Emptyings(ticks, gap_ms)
        self._kept: dict[tuple, Epoch] = {}
        self._older: Kept = Kept(2 * OWN_MOST)
        self._own: list[tuple] = []  # emptied by a zero, and the longer epoch's grids did not fit

    def after(self, opened: Open, longer: Epoch | None = None) -> Epoch:
        """The epoch that follows an emptying. longer: an epoch in the middle of which that tick
        lies: its grids serve, where they fit."""
        if opened.emptied < self._ticks.base and opened != Open():
            return self._made(opened, None)  # from a stretch before; its grids are kept by phase
        key = (opened, longer is None)
        if key not in self._kept:
            self._kept[key] = found = self._made(opened, longer)
            if longer and {id(longer.pitot.grid), id(longer.angled.grid)} != {
                    id(found.pitot.grid), id(found.angled.grid)}:
                self._own.append(key)
                if len(self._own) > OWN_MOST:
                    del self._kept[self._own.pop(0)]
        return self._kept[key]

    def _made(self, opened: Open, longer: Epoch | None) -> Epoch:
        emptied = opened.emptied - self._ticks.base
        stop = self.emptyings.after(emptied)
        old = (longer.pitot, longer.angled) if longer else (None, None)
        words = (self._ticks.pitot, self._ticks.angled)
        begun = [self._begun(each, emptied, one) for each, one in zip(
            words, opened.begun, strict=True)]
        parts = [self._seeded(*each, emptied, stop) for each in zip(
            words, old, begun, strict=True)]
        return Epoch(emptied + 1, stop, parts[0], parts[1], (begun[0], begun[1]))

    def _begun(self, words: Words, emptied: int, begun: Begun | None) -> Begun | None:
        """How a channel begins, from its first two words, if no stretch before has seen them."""
        if begun is not None:
            return begun
        times, first = self._ticks.times_ms, int(np.searchsorted(words.at, emptied + 1))
        if first + 1 >= len(words.at):
            return None
        return Begun(self._ticks.base + int(words.at[first]), int(times[words.at[first + 1]]))

    def _seeded(self, words: Words, longer: Seeded | None, begun: Begun | None, emptied: int,
                stop: int) -> Seeded:
        first, last = (int(i) for i in np.searchsorted(words.at, (emptied + 1, stop)))
        if longer is not None and longer.stop == stop:
            grid = longer.grid
            event = int(np.searchsorted(grid.at, emptied, side="right")) + 2
            if event < len(grid.at) and grid.fits[event]:
                return Seeded(grid, event, stop)
        if begun is None or begun.tick >= self._ticks.base:
            return Seeded(self._grid(words, first, last), 0, stop)
        phase_ms = begun.origin_ms % self._period_ms  # all else of a grid's begin is past
        grid = self._older.get((id(words), last, phase_ms),
                               lambda: self._grid(words, first, last, phase_ms))
        return Seeded(grid, 0, stop)

    def _grid(self, words: Words, first: int, last: int,
              origin_ms: int | None = None) -> SlotGrid:
        return SlotGrid(words, self._ticks.times_ms, first, last, self._period_ms,
                        self._slots_most, origin_ms)
