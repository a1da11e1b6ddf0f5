"""`alula listen`: the sounds of the unit as a WAV."""

import argparse
from pathlib import Path

import numpy as np

from host_sim import replay
from host_sim.errors import UsageError
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.output.changes import changes, table
from host_sim.output.progress import Progress
from host_sim.output.sound import write_wav
from host_sim.output.whole_file import check_targets
from host_sim.reading.csv_choice import add_csv_arguments
from host_sim.reading.flight_csv import ZERO_IN_FILE
from host_sim.reading.unit_files import direct_settings, read_settings
from host_sim.reading.unit_log import is_unit_log
from host_sim.runtimes.log_flight import asked_for, log_flight
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.recorded import play
from host_sim.runtimes.run import Stream, run_stream
from host_sim.world.faults import FAULTS, inject
from host_sim.world.flight import fly as fly_world
from host_sim.world.scenario import load_scenario

use_firmware()

from alula.sample import FLAP_NOT_WIRED, NOT_FITTED  # noqa: E402

FAULT_SCENARIO, FAULT_AT_S, FAULT_LONG_S = "ordinary", 120, 12
SWEEP_Q_DPA = 4000  # 400 Pa, about 50 kt; any value gives the same sounds
SWEEP_POINTS = [[1000, 100], [10000, 1000]]  # ratio 1000..10000 for lift 100..1000: easy to read


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("file", nargs="?", type=Path, help="a unit's log, or a CSV as for "
                        "`replay`; without it, a sweep from quiet to the stall and back")
    parser.add_argument("--out", type=Path, help="WAV to write (default: sweep.wav, or the "
                        "flight's name with .wav, in this folder)")
    parser.add_argument("--faults", action="store_true", help="write what each fault sounds "
                        "like, a WAV each, into the folder --out (default: faults)")
    parser.add_argument("--seconds", type=float, default=30, help="length of the sweep up")
    parser.add_argument("--calibration", type=Path, help="for a flight: calibration, JSON")
    parser.add_argument("--settings", type=Path, help="settings, JSON")
    parser.add_argument("--plumbing", help="for a flight: port-static, pitot-port or opposed")
    add_csv_arguments(parser)


def run(arguments: argparse.Namespace) -> None:
    """Write one WAV, or one for each fault."""
    if arguments.faults:
        _write_faults(arguments.out or Path("faults"))
        return
    if arguments.file:
        target = arguments.out or Path(arguments.file.with_suffix(".wav").name)
        check_targets({"--out": target}, replay.sources(arguments))
        out = _flight(arguments)
    else:
        stream = sweep(read_settings(arguments.settings), arguments.seconds)
        target = arguments.out or Path("sweep.wav")
        check_targets({"--out": target}, replay.sources(arguments))
        out = run_stream(stream)
    seconds = write_wav(target, out)
    print("\n".join([*table(changes(out)), f"{target}: {seconds:.1f} s of sound"]))


def _flight(arguments: argparse.Namespace) -> np.ndarray:
    """What is heard in a recorded flight; the sessions of a CSV one after another."""
    if is_unit_log(arguments.file):
        return log_flight(asked_for(arguments)).out
    flight, stream = replay.read_inputs(arguments)
    with Progress("replay", sum(one.rows for one in flight.sessions)) as bar:
        return replay.heard(play(flight, stream, "cpython", bar.to, []), flight)


def _write_faults(folder: Path) -> None:
    """Each fault in the cruise of an ordinary flight, from a second before it on."""
    flight = fly_world(load_scenario(FAULT_SCENARIO), 1)
    rows = sensor_rows(flight, 1)
    settings = scenario_settings(flight.scenario, "port-static", {})
    for name, fault in FAULTS.items():
        changed, _ = inject(rows, f"{name}@{FAULT_AT_S:g}", 1, flight)
        stop = np.searchsorted(changed[:, 0], (FAULT_AT_S + FAULT_LONG_S) * 1000)
        out = run_stream(Stream(changed[:stop], settings, perfect_calibration(flight),
                                stored_zero(flight.scenario), "bench"))
        heard = out[out[:, 0] >= (FAULT_AT_S - 1) * 1000].copy()
        heard[:, 0] -= heard[0, 0]
        target = folder / f"{name}.wav"
        write_wav(target, heard)
        print(f"{target}: {fault.text}")


def sweep(settings: dict, seconds: float) -> Stream:
    """Lift from 0.40 up to 1.05 in `seconds`, held for 3 s, and down again in half the time."""
    if not 5 <= seconds <= 600:
        raise UsageError(f"--seconds is {seconds:g}; choose 5 to 600")
    rate_hz = settings.get("sample_rate_hz", 100)
    up = np.linspace(400, 1050, int(seconds * rate_hz))
    lift_pm = np.r_[up, np.full(3 * rate_hz, 1050), up[::-2], np.full(3 * rate_hz, 400)]
    rows = np.zeros((len(lift_pm), 9), np.int32)
    rows[:, 0] = np.arange(len(lift_pm)) * (1000 // rate_hz)
    rows[:, 2] = SWEEP_Q_DPA
    rows[:, 4] = np.rint(SWEEP_Q_DPA * lift_pm / 1000)
    rows[:, 5] = NOT_FITTED
    rows[:, 7] = FLAP_NOT_WIRED
    return Stream(rows, direct_settings(settings, "port-static"),
                  {"points": SWEEP_POINTS}, ZERO_IN_FILE)
