"""The moving line of a channel (`moving_line.MovingLine`) at many events at once, exactly.

Whole-number division without dividing: for whole x and n > 0, floor(x / n) = floor((x + 0.5) / n),
and (x + 0.5) / n is at least 0.5 / n away from any whole number. In float64, products with 1 / n
and a sum are off by less than 2^-50 of |x / n| + 1, so the floor is right while |x| < 2^48. Here
|x| <= 1000 * 6.8e8 < 2^40 (bounds of `MovingLine`), and all sums of `Tile` are exact.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from alula.transfer import LIMIT_DPA
from host_sim.tuning.engine.slot_grid import HORIZON_MOST_MS, TILE_SLOTS, Seeded, SlotGrid, Tile


@dataclass(frozen=True)
class Line:
    """The constants of a moving line: number of slots, their period, how far ahead it is read."""

    slots: int
    period_ms: int
    lead_ms: int

    @property
    def norm(self) -> int:
        """K of `MovingLine`: T N (N^2 - 1) / 3."""
        return self.period_ms * self.slots * (self.slots ** 2 - 1) // 3

    def reach_ms(self, horizon_ms):
        """(N - 1) T + 2 horizon, for horizons without lead: a number or an array."""
        ahead = np.minimum(horizon_ms + self.lead_ms, HORIZON_MOST_MS)
        return (self.slots - 1) * self.period_ms + 2 * ahead

    def at_most(self, most: int) -> float:
        """No value of the line is larger where no pressure is larger than `most`.

        |y| <= most + reach |D| / K, |D| <= most N^2 / 2, and 2 for the roundings.
        """
        reach = (self.slots - 1) * self.period_ms + 2 * HORIZON_MOST_MS
        return most * (1 + reach * self.slots ** 2 / 2 / self.norm) + 2


class Scratch:
    """Room for the arithmetic of one tile, used again and again: fresh memory would cost more
    than the arithmetic."""

    def __init__(self) -> None:
        self._rooms = np.empty((2, TILE_SLOTS))

    def take(self, i: int, count: int) -> np.ndarray:
        """Room 0 or 1, float64, with whatever was left in it."""
        return self._rooms[i, :count] if count <= TILE_SLOTS else np.empty(count)


def values(grid: SlotGrid, line: Line, zero_dpa: int, lo: int, hi: int, scratch: Scratch,
           found: np.ndarray) -> None:
    """`Channel.dpa` after the events lo..hi-1 of a grid, whose windows must be full, into found,
    int32.

    zero_dpa: taken off every pressure, which moves the line by as much.
    """
    for tile, start, stop in _parts(grid, lo, hi):
        out = found[start - lo:stop - lo]
        if tile.steady:
            first = int(grid.slot[start]) + 1 - tile.base
            ends = slice(first, first + stop - start)
            begins = slice(ends.start - line.slots, ends.stop - line.slots)
            horizon = grid.horizon_ms[start]
            _evaluate(tile, line, zero_dpa, begins, ends, line.reach_ms(horizon), out, scratch)
        else:
            last = grid.slot[start:stop] + (1 - tile.base)
            _evaluate(tile, line, zero_dpa, last - line.slots, last,
                      line.reach_ms(grid.horizon_ms[start:stop]), out, scratch)


def _parts(grid: SlotGrid, lo: int, hi: int) -> Iterator[tuple[Tile, int, int]]:
    tiles = grid.tiles[grid.slot[lo] // grid.tile_slots:grid.slot[hi - 1] // grid.tile_slots + 1]
    for tile in tiles:
        start, stop = max(lo, tile.events[0]), min(hi, tile.events[1])
        if start < stop:
            yield tile, start, stop


def _evaluate(tile: Tile, line: Line, zero_dpa: int, begins, ends, reach_ms, out: np.ndarray,
              scratch: Scratch) -> None:
    """S0 / N + reach D / K, each rounded as the firmware does; begins, ends: positions of the
    windows' ends in the tile's sums."""
    first, last = tile.sums[begins], tile.sums[ends]
    tilt, mean = scratch.take(0, len(out)), scratch.take(1, len(out))
    np.add(first, last, out=tilt)
    tilt *= line.slots  # D = N (sums + sums) - (tilts - tilts)
    tilt += tile.tilts[begins]
    tilt -= tile.tilts[ends]
    tilt *= reach_ms / line.norm
    tilt += (line.norm // 2 + 0.5) / line.norm
    np.floor(tilt, out=tilt)
    np.subtract(last, first, out=mean)
    mean *= 1 / line.slots
    mean += (line.slots // 2 + 0.5) / line.slots - zero_dpa
    np.floor(mean, out=mean)
    mean += tilt
    if line.at_most(tile.most) + abs(zero_dpa) > LIMIT_DPA:
        np.clip(mean, -LIMIT_DPA, LIMIT_DPA, out=mean)
    out[:] = mean


def at_ticks(seeded: Seeded, line: Line, zero_dpa: int, lo: int, hi: int, scratch: Scratch,
             out: np.ndarray) -> None:
    """`Channel.dpa` at ticks lo..hi-1, all ready, that of the latest event, into out, int32."""
    at = seeded.grid.at
    # A key of another type than the array would make numpy copy the whole array.
    start = int(np.searchsorted(at, np.int32(lo), side="right")) - 1
    stop = int(np.searchsorted(at, np.int32(hi)))
    if stop - start == hi - lo:
        values(seeded.grid, line, zero_dpa, start, stop, scratch, out)
        return
    found = np.empty(stop - start, np.int32)
    values(seeded.grid, line, zero_dpa, start, stop, scratch, found)
    held = np.diff(np.append(at[start:stop], hi))
    held[0] -= lo - at[start]
    out[:] = np.repeat(found, held)
