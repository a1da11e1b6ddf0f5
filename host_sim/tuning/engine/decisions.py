"""The decisions of a flight, or of a stretch of it, as the rows at which they change."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Decisions:
    """rows: where something changes, rising, the first is the stretch's first tick; from there on
    hold `state`, `health` (int8), `pulse_millihz` and `tone_hz` (int32), until the next."""

    rows: np.ndarray
    state: np.ndarray
    health: np.ndarray
    pulse_millihz: np.ndarray
    tone_hz: np.ndarray

    def of_rows(self, rows: np.ndarray) -> np.ndarray:
        """int32, shape (n, 4): state, health, pulse_millihz, tone_hz of some rows."""
        at = np.searchsorted(self.rows, rows, side="right") - 1
        return np.stack([column[at] for column in (
            self.state, self.health, self.pulse_millihz, self.tone_hz)], axis=1).astype(np.int32)


class Said:
    """Collects what is said, tick by tick or many at once. What is said of one tick later counts;
    otherwise in any order."""

    def __init__(self) -> None:
        self._points: list[tuple[int, int, int, int, int]] = []
        self._parts: list[tuple] = []

    def at(self, tick: int, state: int, health: int, sound: tuple[int, int]) -> None:
        """From one tick on."""
        self._points.append((tick, state, health, *sound))

    def many(self, ticks: np.ndarray, *columns: np.ndarray) -> None:
        """From each of many ticks on: state, health, pulse_millihz, tone_hz."""
        self._parts.append((ticks, *columns))

    def decisions(self, rows_at: np.ndarray) -> Decisions:
        """All of it, without what only repeats. rows_at: row of each tick."""
        points = np.array(self._points, np.int64).reshape(-1, 5).T
        ticks, *columns = (np.concatenate(parts) for parts in zip(
            points, *self._parts, strict=True))
        order = np.argsort(ticks, kind="stable")
        order = order[np.diff(ticks[order], append=-1) != 0]  # the latest of each tick
        ticks, columns = ticks[order], [column[order] for column in columns]
        changes = np.ones(len(ticks), bool)
        changes[1:] = np.logical_or.reduce([column[1:] != column[:-1] for column in columns])
        kept = [column[changes].astype(kind) for column, kind in zip(
            columns, (np.int8, np.int8, np.int32, np.int32), strict=True)]
        return Decisions(rows_at[ticks[changes]], *kept)
