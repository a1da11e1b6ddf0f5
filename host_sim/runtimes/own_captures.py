"""The stall captures that a pilot flew, as the unit itself judged them: from its log.

The log says at which tick the unit gave a verdict, not when the wing stalled. So the firmware goes
through the log again with the records that the unit had, and its judge is asked at that tick. A
log without a verdict is not replayed.
"""

from array import array
from dataclasses import dataclass, field

import numpy as np

from host_sim.reading.unit_log import Timed, UnitSession
from host_sim.reading.unit_log_blocks import Content
from host_sim.reading.unit_log_head import UnitChange
from host_sim.reading.unit_log_ticks import TICK_COLUMNS
from host_sim.runtimes.capture_runs import Run, judged_run
from host_sim.runtimes.log_run import Instead, job_of, logged_rows, steps_of
from host_sim.runtimes.log_session import LogSession
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.session import OUT_COLUMNS, OUT_WIDTH

use_firmware()

from alula.stall_capture import capture as states  # noqa: E402

_VERDICTS = TICK_COLUMNS.index("verdicts")
_STATE_NOW, _VERDICTS_NOW = OUT_COLUMNS.index("capture"), OUT_COLUMNS.index("verdicts")


@dataclass
class OwnCaptures:
    """runs: as judged in flight, times as the session counts. unclear: verdicts that the log holds
    and that this firmware does not give at the same tick; they are not among the runs."""

    runs: list[Run] = field(default_factory=list)
    unclear: int = 0


def own_captures(name: str, session: UnitSession, content: Content) -> OwnCaptures:
    """Every verdict of a session; none without its head, for then it cannot be replayed."""
    if session.head is None or not any(
            isinstance(item, Timed) and len(_verdicts(item, item.ticks.context.verdicts))
            for item in session.items(content)):
        return OwnCaptures()
    replay = _Replay(name, LogSession(job_of(session.head, Instead())))
    for item, step in steps_of(session, content):
        if step and step[0] == "restart":
            replay.restart(step[1])
        if isinstance(item, UnitChange):
            replay.unit.change(item.kind, item.value)
        elif isinstance(item, Timed):
            replay.block(item)
    return replay.found


def _verdicts(item: Timed, before: int) -> np.ndarray:
    """Rows of a block at which the unit gave one."""
    return np.flatnonzero(np.diff(item.ticks.rows[:, _VERDICTS], prepend=before))


class _Replay:
    """A unit on its way through a log, stopped at each verdict."""

    def __init__(self, name: str, unit: LogSession) -> None:
        self.unit, self.found = unit, OwnCaptures()
        self._name = name
        self._state = self._now = self._judged_from_ms = 0

    def restart(self, zero: dict | None) -> None:
        """A fresh unit after a gap."""
        self.unit.restart(zero)
        self._state = self._now = 0

    def block(self, item: Timed) -> None:
        """All ticks of a block."""
        stops = _verdicts(item, item.ticks.context.verdicts) + 1
        rows, first = logged_rows(item), 0
        for after in (*stops.tolist(), len(rows)):
            out = self._run(rows[first:after])
            self._watch(out, item.time_ms[first:after])
            if after in stops and len(out):
                self._verdict(out)
            if len(out):
                self._state, self._now = (int(out[-1, at]) for at in (_STATE_NOW, _VERDICTS_NOW))
            first = after

    def _run(self, rows: np.ndarray) -> np.ndarray:
        out = array("i", bytes(4 * OUT_WIDTH * len(rows)))
        self.unit.run(array("i", rows.tobytes()), len(rows), out)
        return np.frombuffer(out, np.int32).reshape(-1, OUT_WIDTH)

    def _watch(self, out: np.ndarray, time_ms: np.ndarray) -> None:
        """Note when the judging began."""
        judging = np.r_[self._state == states.JUDGING, out[:, _STATE_NOW] == states.JUDGING]
        begun = np.flatnonzero(judging[1:] & ~judging[:-1])
        if len(begun):
            self._judged_from_ms = int(time_ms[begun[-1]])

    def _verdict(self, out: np.ndarray) -> None:
        """Ask the judge, if this firmware judges at this very tick."""
        before = int(out[-2, _VERDICTS_NOW]) if len(out) > 1 else self._now
        if int(out[-1, _VERDICTS_NOW]) == before + 1:
            self.found.runs.append(judged_run(self._name, self.unit.unit, self._judged_from_ms))
        else:
            self.found.unclear += 1
