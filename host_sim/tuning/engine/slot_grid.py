"""The even grid that one channel's moving line runs on, from one emptying of the windows on.

The firmware (`conditioning.Channel`) takes a median of three, stamps it with the middle sample's
time and lays it on a grid by stepping a lag. With the first median at time 0 the steps add up to:
a median at time P lies in slot k = (P + half) // period, `lag = P - k * period`; of several in one
slot the first counts; slots that were skipped lie on a straight line.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.tuning.engine.stream import Words

TILE_SLOTS = 16384
HORIZON_MOST_MS = 300  # `conditioning._HORIZON_MOST_MS`


@dataclass(frozen=True)
class Tile:
    """Sums over some thousand slots, for windows that end in them, and the slots just before.

    Slots are counted from `base`. sums[x] is the sum of the first x values, tilts[x] is sums[x]
    plus twice all sums before it. Both are whole numbers below 2^51, so float64 holds them
    exactly: 20 000 slots of at most 110 000 make 20 000^2 * 110 000 < 2^46. most: greatest value.
    events: (from, to), the grid's events whose window ends here. steady: they follow each other
    slot by slot and all have the same horizon.
    """

    base: int
    sums: np.ndarray
    tilts: np.ndarray
    most: int
    events: tuple[int, int]
    steady: bool


class SlotGrid:
    """Medians of a channel on their grid.

    at: tick of each event (a word that gave a median), slot: its slot, horizon_ms: from that slot
    to now, without lead, int16. counted: this event's median is the one in its slot. fits: and
    lies at its very beginning, so that a grid begun with it has the same slots.

    A grid that began before this stretch goes on from the first word that is left of it. Its
    first slot may then hold the wrong median; no window that is asked for reaches so far back.
    """

    def __init__(self, words: Words, times_ms: np.ndarray, first: int, stop: int,
                 period_ms: int, slots_most: int, origin_ms: int | None = None) -> None:
        """first, stop: the usable words (positions in `words.at`) that fall in this epoch.
        origin_ms: time of the grid's first median, if it began before this stretch."""
        at = words.at[first:stop]
        times = times_ms[at]
        self.at = at[2:]
        since = np.zeros(0, np.int64)
        if len(at) > 2:
            since = times[1:-1] - (times[1] if origin_ms is None else origin_ms)
        slot = (since + period_ms // 2) // period_ms
        lag = since - slot * period_ms
        slot -= slot[:1]
        self.slot = slot.astype(np.int32)
        self.horizon_ms = (lag + np.diff(times)[1:]).astype(np.int16)
        self.counted = np.diff(slot, prepend=-1) > 0
        self.fits = self.counted & (lag == 0)
        self.tile_slots = TILE_SLOTS
        self.tiles: list[Tile] = []
        if len(self.at):
            values = _filled(_medians(words.dpa[first:stop])[self.counted],
                             self.slot[self.counted])
            self._cut(values, slots_most)

    def _cut(self, values: np.ndarray, slots_most: int) -> None:
        for start in range(0, len(values), TILE_SLOTS):
            stop = min(start + TILE_SLOTS, len(values))
            base = max(0, start - slots_most + 1)
            lo, hi = (int(i) for i in np.searchsorted(self.slot, (start, stop)))
            part = values[base:stop].astype(np.float64)
            sums = np.zeros(len(part) + 1)
            np.cumsum(part, out=sums[1:])
            tilts = sums.copy()
            tilts[1:] += 2 * np.cumsum(sums[:-1])
            self.tiles.append(Tile(base, sums, tilts, int(np.abs(part).max()), (lo, hi),
                                   self._steady(lo, hi)))

    def _steady(self, lo: int, hi: int) -> bool:
        if hi <= lo:
            return False
        horizon = self.horizon_ms[lo:hi]
        return bool(self.slot[hi - 1] - self.slot[lo] == hi - lo - 1
                    and self.counted[lo:hi].all() and (horizon == horizon[0]).all())


def _medians(dpa: np.ndarray) -> np.ndarray:
    """Median of each three that follow each other."""
    a, b, c = dpa[:-2], dpa[1:-1], dpa[2:]
    return np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))


def _filled(values: np.ndarray, slot: np.ndarray) -> np.ndarray:
    """Every slot's value: skipped slots lie on a line, as in `Channel._place`."""
    skipped = np.diff(slot)
    if (skipped == 1).all():
        return values
    whole = np.repeat(np.arange(len(skipped)), skipped)
    part = np.arange(1, len(whole) + 1) - slot[:-1][whole]
    start = values[:-1].astype(np.int64)[whole]
    span = skipped[whole]
    rise = values[1:].astype(np.int64)[whole] - start
    return np.concatenate([values[:1].astype(np.int64),
                           start + (rise * part + span // 2) // span])


@dataclass(frozen=True)
class Seeded:
    """A channel between two emptyings: a grid, and the event with which it begins in it.

    stop: the first tick that is not in it. `first` > 0: the windows were emptied in the middle of
    a longer grid, on which all that follows falls into the very same slots.
    """

    grid: SlotGrid
    first: int
    stop: int

    def ready_event(self, slots: int) -> int:
        """The event with which a window of `slots` is full; as many as there are: none."""
        grid = self.grid
        if self.first >= len(grid.at):
            return len(grid.at)
        full = grid.slot[self.first] + slots - 1
        return max(self.first, int(np.searchsorted(grid.slot, np.int32(full))))
