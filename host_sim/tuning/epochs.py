"""Between two emptyings of the windows: where gaps in the data and new zeros cut a flight.

Both channels are emptied together (`Unit.tick`). A gap: for longer than `gap_ms` no usable word
after one that was taken in since the last emptying.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.tuning.slot_grid import Seeded, SlotGrid
from host_sim.tuning.stream import Ticks, Words

WINDOW_MOST_MS = 400  # the greatest `window_ms` of the settings table
OWN_MOST = 2


@dataclass(frozen=True)
class Epoch:
    """Ticks first..stop-1, all after one emptying and before the next; the tick that is `stop`
    empties the windows, unless the flight ends there. pitot, angled: the channels in it."""

    first: int
    stop: int
    pitot: Seeded
    angled: Seeded


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
    """Makes the epochs of one flight and one gap_ms; keeps the latest grids."""

    def __init__(self, ticks: Ticks, gap_ms: int, period_ms: int) -> None:
        self._ticks = ticks
        self._period_ms = period_ms
        self._slots_most = max(4, WINDOW_MOST_MS // period_ms)
        self.emptyings = Emptyings(ticks, gap_ms)
        self._kept: dict[int, Epoch] = {}
        self._own: list[int] = []  # emptied by a zero, and the longer epoch's grids did not fit

    def after(self, emptied: int, longer: Epoch | None = None) -> Epoch:
        """The epoch that follows an emptying at tick `emptied` (-1: the start). longer: an epoch
        in the middle of which that tick lies: its grids serve, where they fit."""
        if emptied not in self._kept:
            stop = self.emptyings.after(emptied)
            parts = [self._seeded(words, emptied, stop, old) for words, old in (
                (self._ticks.pitot, longer and longer.pitot),
                (self._ticks.angled, longer and longer.angled))]
            self._kept[emptied] = Epoch(emptied + 1, stop, *parts)
            if longer and {id(longer.pitot.grid), id(longer.angled.grid)} != {
                    id(part.grid) for part in parts}:
                self._own.append(emptied)
                if len(self._own) > OWN_MOST:
                    del self._kept[self._own.pop(0)]
        return self._kept[emptied]

    def _seeded(self, words: Words, emptied: int, stop: int, longer: Seeded | None) -> Seeded:
        first, last = (int(i) for i in np.searchsorted(words.at, (emptied + 1, stop)))
        if longer is not None and longer.stop == stop:
            grid = longer.grid
            event = int(np.searchsorted(grid.at, emptied, side="right")) + 2
            if event < len(grid.at) and grid.aligned[event] and grid.counted[event]:
                return Seeded(grid, event, stop)
        grid = SlotGrid(words, self._ticks.times_ms, first, last, self._period_ms,
                        self._slots_most)
        return Seeded(grid, 0, stop)
