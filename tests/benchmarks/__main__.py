"""`make bench`: measures and prints one table. Nothing here passes or fails."""

import json
import statistics
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from assembly import make_unit
from host_sim.compile_mpy import ARCHITECTURES, compile_firmware
from host_sim.listen import sweep
from host_sim.reading.flight_csv import read_flight
from host_sim.runtimes.run import Stream, find_vm, run_stream, vm_environment
from host_sim.runtimes.session import make_session
from tests.benchmarks.log_bench import LoggedWords, cost_rows, replay_row, review_rows, size_rows
from tests.benchmarks.target_cost import usual_and_worst

HOUR_S = 3600
RATE_HZ = 100
RUNS = 5


def hour() -> Stream:
    """One hour at 100 Hz: sweeps from quiet to the stall and back, end to end, with noise."""
    one = sweep({}, 20)
    times = HOUR_S * RATE_HZ // len(one.rows) + 1
    rows = np.tile(one.rows, (times, 1))[:HOUR_S * RATE_HZ]
    rows[:, 0] = np.arange(len(rows)) * (1000 // RATE_HZ)
    noise = np.random.default_rng(1).normal(0, 10, (len(rows), 2))
    rows[:, 2] += np.rint(noise[:, 0]).astype(np.int32)
    rows[:, 4] += np.rint(noise[:, 1]).astype(np.int32)
    return Stream(rows, one.settings, one.calibration, one.zero)


def seconds(action: Callable[[], object]) -> float:
    """Median time of an action over RUNS, after one run that does not count."""
    action()
    found = []
    for _ in range(RUNS):
        begun = time.perf_counter()
        action()
        found.append(time.perf_counter() - begun)
    return statistics.median(found)


def replay_rows(stream: Stream) -> list[tuple[str, str]]:
    """Speed of the firmware in both interpreters, as multiples of real time."""
    rows = []
    ticks = len(stream.rows)
    for runtime, aim in (("cpython", 1000), ("micropython", 300)):
        spent = seconds(lambda runtime=runtime: run_stream(stream, runtime))
        rows.append((f"replay of 1 h at 100 Hz, {runtime}",
                     f"{HOUR_S / spent:.0f} x real time (aim {aim}), "
                     f"{spent / ticks * 1e6:.1f} us a tick"))
    return rows


def csv_row(stream: Stream) -> tuple[str, str]:
    """Speed of reading the same hour as CSV."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hour.csv"
        lines = ["time_s,pitot_pa,angled_pa"] + [
            f"{row[0] / 1000:.2f},{row[2] / 10:.1f},{row[4] / 10:.1f}" for row in stream.rows]
        path.write_text("\n".join(lines) + "\n")
        spent = seconds(lambda: read_flight(path))
    return "reading that hour from CSV", f"{HOUR_S / spent:.0f} x real time"


def vm_rows(stream: Stream) -> list[tuple[str, str]]:
    """Allocation, time and heap of the whole loop, drivers and all, in the VM."""
    record = {**stream.settings}
    for channel in ("pitot", "angled"):
        record |= {f"{channel}_output": "hsc-a", f"{channel}_low_dpa": -68948,
                   f"{channel}_high_dpa": 68948}
    job = Stream(stream.rows[:1], record, stream.calibration, stream.zero, "bench").job(1)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.json"
        path.write_text(json.dumps(job))
        done = subprocess.run([find_vm(), Path(__file__).with_name("in_vm.py"), path],
                              env=vm_environment(), capture_output=True, text=True, check=True)
    found = json.loads(done.stdout)
    return [("loop with drivers over fake hardware, VM", f"{found['us_a_tick']:.1f} us a tick"),
            ("allocated in that loop", f"{found['bytes_a_tick']:g} bytes a tick (promise: 0)"),
            ("heap of unit and loop, 64-bit VM", f"{found['heap_unit_and_loop']} bytes "
             "(a 32-bit board needs about half)")]


def estimates(stream: Stream) -> list[tuple[str, str]]:
    """A tick on the target, without and with its log."""
    found = []
    unit = make_unit(stream.settings, stream.calibration, stream.zero)[0]
    for name, session in (("logic of a tick", make_session(stream.job(1))),
                          ("the same and the log", LoggedWords(unit))):
        usual, worst = usual_and_worst(session, stream.rows[1400:2200])
        found.append((f"{name} on a 125 MHz RP2040, estimated", f"{usual / 1000:.2f} ms usual, "
                      f"{worst / 1000:.2f} ms worst (aim 1.0, never 5)"))
    return found


def main() -> None:
    """Measure and print."""
    stream = hour()
    rows = replay_rows(stream) + [csv_row(stream)] + vm_rows(stream) + estimates(stream)
    rows += size_rows() + cost_rows() + replay_row(seconds) + review_rows(stream, seconds)
    for arch in ARCHITECTURES:
        sizes = compile_firmware(arch)
        rows.append((f"firmware as .mpy for {arch}",
                     f"{sum(sizes.values())} bytes in {len(sizes)} files"))
    width = max(len(name) for name, _ in rows)
    for name, value in rows:
        print(f"{name:<{width}}  {value}")
    print("Medians of 5 runs on this machine; the RP2040 figure is an estimate from counted work,"
          " not a measurement.")


if __name__ == "__main__":
    main()
