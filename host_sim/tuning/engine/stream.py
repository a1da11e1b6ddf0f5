"""What a stretch of a recorded flight holds whatever the candidate: times, usable words, ages,
reasons.

Positions: a *tick* is a row that the unit takes in; a row whose time does not rise changes nothing
(`Unit.tick`) and is left out, so ticks are numbered 0, 1, 2 ... and their times rise.

A long flight comes in stretches. Each begins with the end of the one before (`Tail`): all words
that windows, despikers and gaps can still need. So within a stretch ticks are numbered from the
first of these; `Ticks.first` is the first new one, `Ticks.base` the flight's own number of tick 0.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np

from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.conditioning import RAIL, channel_of  # noqa: E402
from alula.sample import FRESH, NO_REPLY, STALE  # noqa: E402
from alula.settings import OUTPUTS, Settings  # noqa: E402
from alula.transfer import Transfer  # noqa: E402

SIDES = ("pitot", "angled")
WINDOW_MOST_MS, GAP_MOST_MS = 400, 300  # the greatest `window_ms` and `gap_ms` of the table
# From a new tick back to the oldest word that it can need: the latest median may be one gap old,
# its middle word another; a window before that; a line over a gap into the window's first slot,
# from a median of words a gap older; and that median's neighbour, which may have its slot.
LOOK_BACK_MS = WINDOW_MOST_MS + 6 * GAP_MOST_MS


class Records(Protocol):
    """What belongs to a recorded flight. settings: a record; curves: (flap, points), at least
    one; zero: (pitot_dpa, angled_dpa) or None."""

    settings: dict
    curves: list
    zero: tuple | None


class Recorded(Records, Protocol):
    """A flight and all its rows: int32, shape (n, 9), columns as in `session.IN_COLUMNS`, times
    from 0 to below 2^29 ms."""

    rows: np.ndarray


@dataclass(frozen=True)
class Words:
    """One channel's words. at: ticks with a word that can be used; dpa: its pressure with a zero
    of 0, 0.1 Pa, int32, as many; step_dpa: one step of the sensor. before: what was known before
    the first tick: time of the latest usable word (or of the flight's first tick), reason."""

    at: np.ndarray
    dpa: np.ndarray
    step_dpa: int
    before: tuple[int, int]
    _status: np.ndarray
    _usable: np.ndarray

    def reasons(self, lo: int, hi: int) -> np.ndarray:
        """Why the latest word could not be used, at ticks lo..hi-1 (`Channel.reason`)."""
        usable, status = self._usable[:hi], self._status[:hi]
        setting = np.flatnonzero(usable | (status != STALE)).astype(np.int32)
        last = np.searchsorted(setting, np.arange(lo, hi, dtype=np.int32), side="right") - 1
        at = setting[np.maximum(last, 0)] if len(setting) else np.zeros(hi - lo, np.intp)
        found = status[at].copy()
        found[usable[at]] = STALE  # what followed a usable word and does not count as a reason
        found[usable[lo:hi]] = FRESH
        found[last < 0] = self.before[1]
        return found

    def ages_ms(self, lo: int, hi: int, times_ms: np.ndarray) -> np.ndarray:
        """Time since the latest word that could be used, at ticks lo..hi-1, ms."""
        last = np.searchsorted(self.at, np.arange(lo, hi, dtype=np.int32), side="right") - 1
        since = self.at[np.maximum(last, 0)] if len(self.at) else np.zeros(hi - lo, np.intp)
        return times_ms[lo:hi] - np.where(last < 0, self.before[0], times_ms[since])

    def known_at_end(self, times_ms: np.ndarray) -> tuple[int, int]:
        """`before` of the stretch after this."""
        count = len(times_ms)
        return (int(times_ms[self.at[-1]]) if len(self.at) else self.before[0],
                int(self.reasons(count - 1, count)[0]))


@dataclass(frozen=True)
class Tail:
    """What a stretch leaves to the next. rows, rows_at: its last LOOK_BACK_MS of ticks. count,
    read: ticks and rows until now. words: `Words.before` of both channels. pressed: the button
    has been held since the start; asked: it was, and has been let go."""

    rows: np.ndarray
    rows_at: np.ndarray
    count: int
    read: int
    words: tuple[tuple[int, int], tuple[int, int]]
    pressed: bool
    asked: bool


class Ticks:
    """A stretch of a flight, tick by tick.

    rows_at: row of each tick, rows: how many there have been. times_ms: int64. pitot, angled:
    `Words`. flap: int32; flap_changes: new ticks at which it has changed, the first too.
    asks_zero: the tick at which the button, held since the start, is let go; 0 if it has been;
    -1 if it is not. tail: for the stretch after this.
    """

    def __init__(self, rows: np.ndarray, settings: Settings, before: Tail | None = None) -> None:
        """rows: at least one."""
        kept, self.rows_at = _rising(rows, before)
        self.first = len(before.rows) if before else 0
        self.base = before.count - self.first if before else 0
        self.rows = (before.read if before else 0) + len(rows)
        self.times_ms = kept[:, 0].astype(np.int64)
        self.flap = np.ascontiguousarray(kept[:, 7])
        new = self.flap[self.first:]
        self.flap_changes = self.first + np.flatnonzero(np.diff(new, prepend=new[:1] - 1))
        known = before.words if before else ((int(rows[0, 0]), NO_REPLY),) * 2
        self.pitot = _words(kept[:, 1], kept[:, 2], settings, "pitot", known[0])
        self.angled = _words(kept[:, 3], kept[:, 4], settings, "angled", known[1])
        self.tail, self.asks_zero = self._leave(kept, before)

    def __len__(self) -> int:
        return len(self.times_ms)

    def clock_ms(self, lo: int, hi: int) -> np.ndarray:
        """Times of ticks lo..hi-1 since the tick before them; the first of all takes no time."""
        return self.times_ms[lo:hi] - self.times_ms[max(lo - 1, 0)]

    def _leave(self, kept: np.ndarray, before: Tail | None) -> tuple[Tail, int]:
        """The tail, and `asks_zero`."""
        button = kept[self.first:, 8]
        pressed = before.pressed if before else bool(button[:1].any())
        free = np.flatnonzero((button == 0) & pressed)
        asks = self.first + int(free[0]) if len(free) else 0 if before and before.asked else -1
        count = len(kept)
        start = int(np.searchsorted(self.times_ms, self.times_ms[-1] - LOOK_BACK_MS))
        return Tail(kept[start:].copy(), self.rows_at[start:].copy(), self.base + count, self.rows,
                    (self.pitot.known_at_end(self.times_ms), self.angled.known_at_end(
                        self.times_ms)), pressed and asks < 0, asks >= 0), asks


def _rising(rows: np.ndarray, before: Tail | None) -> tuple[np.ndarray, np.ndarray]:
    """The ticks' rows, those of the tail first, and their numbers."""
    times = rows[:, 0].astype(np.int64)
    latest = np.maximum.accumulate(times)
    rises = np.ones(len(times), bool)
    rises[1:] = times[1:] > latest[:-1]
    if before is None:
        if rises.all():
            return rows, np.arange(len(rows), dtype=np.int32)
        return rows[rises], np.flatnonzero(rises).astype(np.int32)
    rises &= times > before.rows[-1, 0]
    at = (before.read + np.flatnonzero(rises)).astype(np.int32)
    return np.concatenate([before.rows, rows[rises]]), np.concatenate([before.rows_at, at])


def _words(status: np.ndarray, word: np.ndarray, settings: Settings, side: str,
           before: tuple[int, int]) -> Words:
    transfer = Transfer(OUTPUTS[getattr(settings, side + "_output")],
                        getattr(settings, side + "_low_dpa"),
                        getattr(settings, side + "_high_dpa"),
                        -1 if getattr(settings, side + "_sense") else 1)
    inside = (transfer.rail_low < word) & (word < transfer.rail_high)
    usable = (status == FRESH) & inside
    at = np.flatnonzero(usable).astype(np.int32)
    said = np.where((status == FRESH) & ~inside, RAIL, status).astype(np.int8)
    return Words(at, _pressures(word[at], transfer, settings, side),
                 channel_of(settings, side).step_dpa, before, said, usable)


def _pressures(word: np.ndarray, transfer: Transfer, settings: Settings, side: str) -> np.ndarray:
    """The firmware's own transfer function, once for each word that there can be."""
    output = OUTPUTS[getattr(settings, side + "_output")]
    if output == "direct":
        return (word * transfer.sense).astype(np.int32)
    table = _table(output, getattr(settings, side + "_low_dpa"),
                   getattr(settings, side + "_high_dpa"), transfer.sense)
    return table[word - (transfer.rail_low + 1)]


@lru_cache(maxsize=8)
def _table(output: str, low_dpa: int, high_dpa: int, sense: int) -> np.ndarray:
    transfer = Transfer(output, low_dpa, high_dpa, sense)
    return np.array([transfer.to_dpa(word) for word in range(
        transfer.rail_low + 1, transfer.rail_high)], np.int32)
