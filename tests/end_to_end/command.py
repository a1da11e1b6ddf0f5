"""Runs the real command, as a user does, in a folder of its own."""

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from host_sim.runtimes.paths import ROOT
from tests.external.truth import Probe, calibration, load, pressures


@dataclass(frozen=True)
class Done:
    """How a command ended."""

    code: int
    out: str
    err: str

    def json(self) -> dict:
        """Standard output as JSON."""
        return json.loads(self.out)


def alula(folder: Path, *words: object, **environment: str) -> Done:
    """`python -m host_sim WORDS...` with `folder` as the current one; any Python warning fails."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "host_sim", *map(str, words)], cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment}, capture_output=True,
        text=True, check=False, timeout=120)
    return Done(done.returncode, done.stdout, done.stderr)


def refused(folder: Path, *words: object, says: tuple[str, ...]) -> None:
    """The command must end with 2, one line that says all of `says`, and leave no file behind."""
    before = files(folder)
    done = alula(folder, *words)
    assert done.code == 2, done
    assert done.out == ""
    lines = done.err.splitlines()
    assert len(lines) == 1, done.err
    assert lines[0].startswith("alula: ")
    for part in says:
        assert part in lines[0], lines[0]
    assert files(folder) == before


def files(folder: Path) -> dict[str, bytes]:
    """Every file under a folder, with its content."""
    return {str(path.relative_to(folder)): path.read_bytes()
            for path in sorted(folder.rglob("*")) if path.is_file()}


def write_flight(path: Path, name: str, plumbing: str = "port-static", first_s: float = 0.0,
                 rows: int | None = None) -> None:
    """A truth flight as the CSV a user would have; columns in another order than the manual's."""
    flight = load(name)
    pitot, angled = pressures(flight, plumbing, Probe())
    time_s = flight["time_s"] - flight["time_s"][0] + first_s
    lines = ["nz_g,time_s,angled_pa,pitot_pa"]
    lines += [f"{n:.3f},{t:.3f},{a:.2f},{p:.2f}" for n, t, a, p in zip(
        flight["nz_g"], time_s, angled, pitot, strict=True)]
    path.write_text("\n".join(lines[:None if rows is None else rows + 1]) + "\n")


def write_calibration(path: Path, name: str = "tp_stall_1g",
                      plumbing: str = "port-static") -> None:
    """The calibration that the formula gives for a truth flight."""
    path.write_text(json.dumps(calibration(name, plumbing, Probe())))


def read_trace(path: Path) -> dict[str, np.ndarray]:
    """Columns of a trace, as text."""
    header, *rows = (line.split(",") for line in path.read_text().splitlines())
    assert {len(row) for row in rows} <= {len(header)}
    return dict(zip(header, np.array(rows).T, strict=True))
