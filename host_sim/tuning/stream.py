"""What a recorded flight holds whatever the candidate: times, usable words, ages, reasons.

Positions: a *tick* is a row that the unit takes in; a row whose time does not rise changes nothing
(`Unit.tick`) and is left out, so ticks are numbered 0, 1, 2 ... and their times rise.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.conditioning import RAIL, channel_of  # noqa: E402
from alula.sample import FRESH, NO_REPLY, STALE  # noqa: E402
from alula.settings import OUTPUTS, Settings  # noqa: E402
from alula.transfer import Transfer  # noqa: E402

SIDES = ("pitot", "angled")


class Recorded(Protocol):
    """One recorded flight, as `flights.TuneFlight`: rows int32, shape (n, 9), columns as in
    `session.IN_COLUMNS`, times from 0 to below 2^29 ms; settings: a record; curves: (flap,
    points), at least one; zero: (pitot_dpa, angled_dpa) or None."""

    rows: np.ndarray
    settings: dict
    curves: list
    zero: tuple | None


@dataclass(frozen=True)
class Words:
    """One channel's words. at: ticks with a word that can be used; dpa: its pressure with a zero
    of 0, 0.1 Pa, int32, as many; step_dpa: one step of the sensor."""

    at: np.ndarray
    dpa: np.ndarray
    step_dpa: int
    _status: np.ndarray
    _usable: np.ndarray

    def reasons(self, lo: int, hi: int) -> np.ndarray:
        """Why the latest word could not be used, at ticks lo..hi-1 (`Channel.reason`)."""
        usable, status = self._usable[:hi], self._status[:hi]
        setting = np.flatnonzero(usable | (status != STALE))
        last = np.searchsorted(setting, np.arange(lo, hi), side="right") - 1
        at = setting[np.maximum(last, 0)] if len(setting) else np.zeros(hi - lo, np.intp)
        found = status[at].copy()
        found[usable[at]] = STALE  # what followed a usable word and does not count as a reason
        found[usable[lo:hi]] = FRESH
        found[last < 0] = NO_REPLY  # where nothing but stale words has come, it is never said
        return found

    def ages_ms(self, lo: int, hi: int, times_ms: np.ndarray) -> np.ndarray:
        """Time since the latest word that could be used, at ticks lo..hi-1, ms."""
        last = np.searchsorted(self.at, np.arange(lo, hi), side="right") - 1
        since = self.at[np.maximum(last, 0)] if len(self.at) else np.zeros(hi - lo, np.intp)
        return times_ms[lo:hi] - times_ms[np.where(last < 0, 0, since)]


class Ticks:
    """A flight's ticks.

    rows_at: row of each tick. times_ms: int64. pitot, angled: `Words`. flap: int32;
    flap_changes: ticks at which it has changed, the first too.
    asks_zero: the tick at which the button, held since the start, is let go; -1 if it is not.
    """

    def __init__(self, flight: Recorded, settings: Settings) -> None:
        rows = flight.rows
        times = rows[:, 0].astype(np.int64)
        rises = np.ones(len(times), bool)
        rises[1:] = times[1:] > np.maximum.accumulate(times)[:-1]
        self.rows_at = np.flatnonzero(rises)
        every = len(self.rows_at) == len(rows)
        self.times_ms = times if every else times[rises]
        kept = rows if every else rows[rises]
        self.flap = np.ascontiguousarray(kept[:, 7])
        self.flap_changes = np.flatnonzero(np.diff(self.flap, prepend=self.flap[:1] - 1))
        self.pitot = _words(kept[:, 1], kept[:, 2], settings, "pitot")
        self.angled = _words(kept[:, 3], kept[:, 4], settings, "angled")
        self.asks_zero = _let_go(kept[:, 8])

    def __len__(self) -> int:
        return len(self.times_ms)

    def clock_ms(self, lo: int, hi: int) -> np.ndarray:
        """Times of ticks lo..hi-1 since the tick before them; the first of all takes no time."""
        return self.times_ms[lo:hi] - self.times_ms[max(lo - 1, 0)]


def _words(status: np.ndarray, word: np.ndarray, settings: Settings, side: str) -> Words:
    transfer = Transfer(OUTPUTS[getattr(settings, side + "_output")],
                        getattr(settings, side + "_low_dpa"),
                        getattr(settings, side + "_high_dpa"),
                        -1 if getattr(settings, side + "_sense") else 1)
    inside = (transfer.rail_low < word) & (word < transfer.rail_high)
    usable = (status == FRESH) & inside
    at = np.flatnonzero(usable)
    said = np.where((status == FRESH) & ~inside, RAIL, status).astype(np.int8)
    return Words(at, _pressures(word[at], transfer, settings, side),
                 channel_of(settings, side).step_dpa, said, usable)


def _pressures(word: np.ndarray, transfer: Transfer, settings: Settings, side: str) -> np.ndarray:
    """The firmware's own transfer function, once for each word that there can be."""
    if OUTPUTS[getattr(settings, side + "_output")] == "direct":
        return (word * transfer.sense).astype(np.int32)
    low = transfer.rail_low + 1
    table = np.array([transfer.to_dpa(w) for w in range(low, transfer.rail_high)], np.int32)
    return table[word - low]


def _let_go(button: np.ndarray) -> int:
    if not len(button) or not button[0]:
        return -1
    free = np.flatnonzero(button == 0)
    return int(free[0]) if len(free) else -1
