"""The flight log and the review: bytes a sample pair, cost of a tick, speed of replay, an hour's
page."""

import contextlib
import io
import json
import subprocess
import tempfile
import zlib
from array import array
from collections.abc import Callable
from pathlib import Path

import numpy as np

from alula.sample import NOT_FITTED, Sample
from alula.unit import Unit
from assembly import make_unit
from host_sim.cli import main as alula
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.listen import SWEEP_POINTS
from host_sim.runtimes.run import Stream, find_vm, vm_environment
from host_sim.runtimes.session import IN_COLUMNS, fill
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario
from tests.both.log_rig import Logged
from tests.log_flight import flown

BLOCK_BYTES = 4096
Rows = list[tuple[str, str]]


def ordinary(accelerometer: bool) -> tuple[np.ndarray, Unit]:
    """An ordinary circuit as raw words, and a unit for it."""
    flight = fly(load_scenario("ordinary"), 1)
    rows = sensor_rows(flight, 1)
    if not accelerometer:
        rows[:, IN_COLUMNS.index("nz_status")] = NOT_FITTED
        rows[:, IN_COLUMNS.index("nz_mg")] = 0
    unit, _, _ = make_unit(scenario_settings(flight.scenario, "port-static", {}),
                           perfect_calibration(flight), stored_zero(flight.scenario))
    assert isinstance(unit, Unit)
    return rows, unit


class LoggedWords:
    """Raw words through a unit and its log, as `session.WordSession` runs them."""

    def __init__(self, unit: Unit) -> None:
        self.logged = Logged(unit)
        self._sample = Sample()

    def run(self, rows: array, count: int, out: array) -> None:
        """One row; `out` stays as it is."""
        fill(self._sample, rows, 0)
        self.logged.unit.tick(rows[0], self._sample)
        self.logged.log.step(rows[0], self._sample, self.logged.unit, 0)
        self.logged.collect()


def size_rows() -> Rows:
    """Bytes a sample pair in the log, and what `deflate` would make of the bare words."""
    found = []
    for accelerometer in (False, True):
        rows, unit = ordinary(accelerometer)
        session = LoggedWords(unit)
        for row in rows:
            session.run(array("i", row.tobytes()), 1, array("i"))
        log = session.logged.end()
        names = ["pitot_word", "angled_word"] + ["nz_mg"] * accelerometer
        bare = rows[:, [IN_COLUMNS.index(name) for name in names]].astype("<i2").tobytes()
        with_n = " and accelerometer" if accelerometer else ""
        found.append((f"log, ordinary flight, two pressures{with_n}",
                      f"{len(log) / len(rows):.2f} bytes a tick, all in"
                      + ("" if accelerometer else " (aim under 3)")))
        found.append(("  deflate (level 9) of the bare words, without a decision",
                      f"{len(zlib.compress(bare, 9)) / len(rows):.2f} bytes a tick; of that log: "
                      f"{len(zlib.compress(log, 9)) / len(rows):.2f}"))
    return found


def cost_rows() -> Rows:
    """Encoding in the VM."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rows"
        rows, _ = ordinary(True)
        path.write_bytes(np.ascontiguousarray(rows[3000:5000]).tobytes())
        done = subprocess.run(
            [find_vm(), "-X", "heapsize=16m", Path(__file__).with_name("log_in_vm.py"), path],
            env=vm_environment(), capture_output=True, text=True, check=True)
    found = json.loads(done.stdout)
    return [("encoding a tick for the log, VM", f"{found['us_a_tick']:.2f} us, "
             f"{found['bytes_a_tick']:g} bytes of heap (promise: 0)")]


def replay_row(timed: Callable[[Callable[[], object]], float]) -> Rows:
    """A whole log, read, decided again and compared."""
    with tempfile.TemporaryDirectory() as folder:
        log, out = flown(Path(folder), "ordinary")

        def replay() -> None:
            with contextlib.redirect_stdout(io.StringIO()):
                assert alula(["replay", str(log), "--no-picture", "--json"]) == 0

        spent = timed(replay)
    return [("replay of a unit's log, reading and comparing", f"{len(out) / 100 / spent:.0f} x "
             f"real time, {spent / len(out) * 1e6:.1f} us a tick")]


def review_rows(stream: Stream, timed: Callable[[Callable[[], object]], float]) -> Rows:
    """The page of an hour."""
    with tempfile.TemporaryDirectory() as folder:
        flight, wing, out = (Path(folder) / name for name in ("hour.csv", "wing.json", "out"))
        flight.write_text("\n".join(["time_s,pitot_pa,angled_pa"] + [
            f"{row[0] / 1000:.2f},{row[2] / 10:.1f},{row[4] / 10:.1f}" for row in stream.rows]))
        wing.write_text(json.dumps({"points": SWEEP_POINTS}))
        words = ["review", str(flight), "--calibration", str(wing), "--plumbing", "port-static",
                 "--out", str(out), "--no-pictures"]

        def review() -> None:
            with contextlib.redirect_stdout(io.StringIO()):
                assert alula(words) == 0

        spent = timed(review)
        size = (out / "review.html").stat().st_size
    return [("review page of 1 h at 100 Hz", f"{spent:.1f} s to make, {size / 1e6:.1f} MB")]
