"""Which lift curve is in use at which tick: `flap_curves.FlapCurves`, by changes of flap."""

from collections.abc import Iterator

import numpy as np

from alula.flap_curves import _NONE_YET as NONE_YET
from host_sim.tuning.ratio_values import CurveTable
from host_sim.tuning.stream import Ticks


class FlapStory:
    """The curves of a flight, piece by piece."""

    def __init__(self, tables: list[tuple[int, CurveTable]], ticks: Ticks, settle_ms: int) -> None:
        """tables: (flap, table), at least one."""
        self._tables = dict(tables)
        self._cautious = min((table for _, table in tables), key=lambda table: table.stall_bp)
        self._flap = self._wanted = NONE_YET
        self._from: list[int] = []
        self._curve: list[CurveTable] = []
        flap = ticks.flap
        starts = ticks.flap_changes
        for start, stop in zip(starts, np.append(starts[1:], len(flap)), strict=True):
            self._walk(int(flap[start]), int(start), int(stop), ticks.times_ms, settle_ms)

    def _walk(self, flap: int, start: int, stop: int, times_ms: np.ndarray,
              settle_ms: int) -> None:
        """Ticks start..stop-1 all have one flap setting."""
        if flap == self._flap:
            return
        if self._flap == NONE_YET:
            self._use(flap, start)
            return
        # A setting that was wanted just before is timed from its first tick back, any other from
        # its second.
        since = times_ms[start - 1] if flap == self._wanted else times_ms[start]
        first = start if flap == self._wanted else start + 1
        self._wanted = flap
        settled = max(first, int(np.searchsorted(times_ms, since + settle_ms)))
        if settled < stop:
            self._use(flap, settled)

    def _use(self, flap: int, tick: int) -> None:
        self._flap = self._wanted = flap
        self._from.append(tick)
        self._curve.append(self._tables.get(flap, self._cautious))

    def pieces(self, lo: int, hi: int) -> Iterator[tuple[CurveTable, int, int]]:
        """(table, from, to) for ticks lo..hi-1."""
        start = lo
        at = int(np.searchsorted(self._from, lo, side="right")) - 1
        while start < hi:
            stop = min(hi, self._from[at + 1]) if at + 1 < len(self._from) else hi
            yield self._curve[at], start, stop
            start, at = stop, at + 1
