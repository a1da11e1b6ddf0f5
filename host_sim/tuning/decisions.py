"""The decisions of a whole flight as the rows at which they change."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Decisions:
    """rows: where something changes, rising, the first is 0; from there on hold `state`, `health`
    (int8), `pulse_millihz` and `tone_hz` (int32), until the next."""

    rows: np.ndarray
    state: np.ndarray
    health: np.ndarray
    pulse_millihz: np.ndarray
    tone_hz: np.ndarray

    def of_rows(self, lo: int, hi: int) -> np.ndarray:
        """int32, shape (hi - lo, 4): state, health, pulse_millihz, tone_hz of rows lo..hi-1."""
        at = np.searchsorted(self.rows, np.arange(lo, hi), side="right") - 1
        return np.stack([column[at] for column in (
            self.state, self.health, self.pulse_millihz, self.tone_hz)], axis=1).astype(np.int32)


class Said:
    """Collects what is said, tick by tick or many at once, in order of time."""

    def __init__(self) -> None:
        self._parts: list[tuple] = []

    def at(self, tick: int, state: int, health: int, sound: tuple[int, int]) -> None:
        """From one tick on."""
        self._parts.append(([tick], [state], [health], [sound[0]], [sound[1]]))

    def many(self, ticks: np.ndarray, state, health, pulse_millihz, tone_hz) -> None:
        """From each of many ticks on; a number stands for all of them."""
        self._parts.append((ticks, *(np.broadcast_to(column, len(ticks)) for column in (
            state, health, pulse_millihz, tone_hz))))

    def decisions(self, rows_at: np.ndarray) -> Decisions:
        """All of it, without what only repeats. rows_at: row of each tick."""
        kinds = (np.int64, np.int8, np.int8, np.int32, np.int32)
        if not self._parts:
            return Decisions(*(np.zeros(0, kind) for kind in kinds))
        columns = [np.concatenate(parts).astype(kind, copy=False) for parts, kind in zip(
            zip(*self._parts, strict=True), kinds, strict=True)]
        changes = np.ones(len(columns[0]), bool)
        changes[1:] = np.logical_or.reduce(
            [column[1:] != column[:-1] for column in columns[1:]])
        kept = [column[changes] for column in columns]
        return Decisions(rows_at[kept[0]], *kept[1:])
