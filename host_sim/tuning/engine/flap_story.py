"""Which lift curve is in use at which tick: `flap_curves.FlapCurves`, by changes of flap."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from alula.flap_curves import _NONE_YET as NONE_YET
from host_sim.tuning.engine.ratio_values import CurveTable
from host_sim.tuning.engine.stream import Ticks


@dataclass(frozen=True)
class Flap:
    """What a stretch leaves to the next: the setting in use, the one that is wanted, from what
    time on that is timed, and the latest tick's."""

    used: int = NONE_YET
    wanted: int = NONE_YET
    since_ms: int = 0
    latest: int = NONE_YET


class FlapStory:
    """The curves of a stretch, piece by piece. left: for the stretch after it."""

    def __init__(self, tables: list[tuple[int, CurveTable]], ticks: Ticks, settle_ms: int,
                 before: Flap) -> None:
        """tables: (flap, table), at least one."""
        self._tables = dict(tables)
        self._cautious = min((table for _, table in tables), key=lambda table: table.stall_bp)
        self._flap, self._wanted, self._since_ms = before.used, before.wanted, before.since_ms
        self._from: list[int] = []
        self._curve: list[CurveTable] = []
        if before.used != NONE_YET:
            self._start(ticks.first)
        flap, starts, latest = ticks.flap, ticks.flap_changes, before.latest
        for start, stop in zip(starts, [*starts[1:], len(flap)], strict=False):
            self._walk(int(flap[start]), int(start), int(stop), ticks.times_ms, settle_ms,
                       latest)
            latest = int(flap[start])
        self.left = Flap(self._flap, self._wanted, self._since_ms, latest)

    def _walk(self, flap: int, start: int, stop: int, times_ms: np.ndarray, settle_ms: int,
              latest: int) -> None:
        """Ticks start..stop-1 all have one flap setting; the tick before them had `latest`."""
        if flap == self._flap:
            return
        if self._flap == NONE_YET:
            self._use(flap, start)
            return
        # A setting that was wanted just before is timed from its first tick back, any other from
        # its second; one that goes on from the stretch before, from where it was.
        first = start
        if flap != self._wanted:
            first, self._since_ms = start + 1, int(times_ms[start])
        elif flap != latest:
            self._since_ms = int(times_ms[start - 1])
        self._wanted = flap
        settled = max(first, int(np.searchsorted(times_ms, self._since_ms + settle_ms)))
        if settled < stop:
            self._use(flap, settled)

    def _use(self, flap: int, tick: int) -> None:
        self._flap = self._wanted = flap
        self._start(tick)

    def _start(self, tick: int) -> None:
        self._from.append(tick)
        self._curve.append(self._tables.get(self._flap, self._cautious))

    def pieces(self, lo: int, hi: int) -> Iterator[tuple[CurveTable, int, int]]:
        """(table, from, to) for ticks lo..hi-1."""
        start = lo
        at = int(np.searchsorted(self._from, lo, side="right")) - 1
        while start < hi:
            stop = min(hi, self._from[at + 1]) if at + 1 < len(self._from) else hi
            yield self._curve[at], start, stop
            start, at = stop, at + 1
