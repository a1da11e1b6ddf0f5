"""Plays a session of a unit's log through the firmware, in CPython or in the MicroPython VM."""

import json
import subprocess
import tempfile
from array import array
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from host_sim.errors import UsageError
from host_sim.reading.unit_log import Gap, Timed, UnitSession
from host_sim.reading.unit_log_blocks import Content
from host_sim.reading.unit_log_head import Head, UnitChange
from host_sim.runtimes.log_session import LOG_WIDTH, LogSession
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import find_vm, vm_environment
from host_sim.runtimes.session import OUT_WIDTH

use_firmware()

from alula.json_records import plain_calibration  # noqa: E402

Item = Timed | UnitChange | Gap


@dataclass(frozen=True)
class Instead:
    """Records to use in place of the log's own, as read from JSON files; None: the log's own."""

    settings: dict | None = None
    calibration: dict | None = None


def job_of(head: Head, instead: Instead) -> dict:
    """The job of a session: see `log_session`."""
    calibration = instead.calibration
    if calibration is None and head.calibration is not None:
        calibration = plain_calibration(head.calibration)
    return {"settings": head.settings if instead.settings is None else instead.settings,
            "calibration": calibration, "zero": head.zero, "anchor": head.anchor,
            "reference_pm": head.reference, "amiss": head.amiss,
            "keep_calibration": instead.calibration is not None}


def replay_session(session: UnitSession, content: Content, instead: Instead,
                   runtime: str) -> Iterator[tuple[Item, np.ndarray]]:
    """(item, what the firmware decides now) for all of a session; the decisions are output rows
    as in `session.OUT_COLUMNS`, none for a change or a gap. UsageError without a head."""
    if session.head is None:
        raise UsageError(f"session {session.number}: {session.problem}; it cannot be replayed, "
                         "but `alula unpack` shows its samples")
    job = job_of(session.head, instead)
    run = _run_in_vm if runtime == "micropython" else _run_here
    try:
        yield from run(session, content, job)
    except ValueError as error:
        raise UsageError(f"session {session.number}: the records give no unit that measures: "
                         f"{error}") from error


def steps_of(session: UnitSession, content: Content) -> Iterator[tuple[Item, list]]:
    """Each item and its step. After a gap the next block restarts the unit."""
    broken = False
    for item in session.items(content):
        if isinstance(item, Gap):
            broken = True
            yield item, []
        elif isinstance(item, UnitChange):
            yield item, ["change", item.kind, item.value]
        else:
            if broken:
                yield item, ["restart", item.ticks.context.zero()]
            broken = False
            yield item, ["ticks", len(item.ticks.rows)]


def logged_rows(item: Timed) -> np.ndarray:
    """A block's ticks as `LogSession.run` takes them."""
    return np.ascontiguousarray(item.ticks.rows[:, :LOG_WIDTH])


def _run_here(session: UnitSession, content: Content,
              job: dict) -> Iterator[tuple[Item, np.ndarray]]:
    unit = LogSession(job)
    nothing = np.zeros((0, OUT_WIDTH), np.int32)
    for item, step in steps_of(session, content):
        if step and step[0] == "restart":
            unit.restart(step[1])
        elif isinstance(item, UnitChange):
            unit.change(item.kind, item.value)
            yield item, nothing
        elif isinstance(item, Gap):
            yield item, nothing
        else:
            out = array("i", bytes(4 * OUT_WIDTH * step[1]))
            unit.run(array("i", logged_rows(item).tobytes()), step[1], out)
            yield item, np.frombuffer(out, np.int32).reshape(-1, OUT_WIDTH)


def _run_in_vm(session: UnitSession, content: Content,
               job: dict) -> Iterator[tuple[Item, np.ndarray]]:
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(folder) / name for name in ("job", "steps", "rows", "out")]
        paths[0].write_text(json.dumps(job))
        with paths[1].open("w") as steps, paths[2].open("wb") as rows:
            for item, step in steps_of(session, content):
                if step:
                    steps.write(json.dumps(step) + "\n")
                if step and step[0] == "ticks":
                    assert isinstance(item, Timed)
                    rows.write(logged_rows(item).tobytes())
        script = Path(__file__).with_name("log_vm_main.py")
        done = subprocess.run([find_vm(), "-X", "heapsize=16m", script, *paths],
                              env=vm_environment(), capture_output=True, text=True, check=False)
        if "ValueError" in done.stderr + done.stdout:
            raise ValueError((done.stderr + done.stdout).strip().splitlines()[-1])
        if done.returncode:
            raise RuntimeError("the firmware stopped in the VM:\n" + done.stdout + done.stderr)
        with paths[3].open("rb") as out:
            for item, step in steps_of(session, content):
                count = step[1] if step and step[0] == "ticks" else 0
                if step and step[0] == "restart":
                    continue
                data = out.read(4 * OUT_WIDTH * count)
                yield item, np.frombuffer(data, np.int32).reshape(-1, OUT_WIDTH)
