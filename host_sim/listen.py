"""`alula listen`: the sounds of the unit as a WAV."""

import argparse
from pathlib import Path

import numpy as np

from host_sim import replay
from host_sim.errors import UsageError
from host_sim.output.changes import changes, table
from host_sim.output.sound import write_wav
from host_sim.output.whole_file import check_targets
from host_sim.reading.unit_files import direct_settings, read_settings
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import Stream, run_stream

use_firmware()

from alula.sample import FLAP_NOT_WIRED, NOT_FITTED  # noqa: E402

SWEEP_Q_DPA = 4000  # 400 Pa, about 50 kt; any value gives the same sounds
SWEEP_POINTS = [[1000, 100], [10000, 1000]]  # ratio 1000..10000 for lift 100..1000: easy to read


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("file", nargs="?", type=Path, help="a flight, CSV as for `replay`; "
                        "without it, a sweep from quiet to the stall and back")
    parser.add_argument("--out", type=Path, help="WAV to write (default: sweep.wav, or the "
                        "flight's name with .wav, in this folder)")
    parser.add_argument("--seconds", type=float, default=30, help="length of the sweep up")
    parser.add_argument("--calibration", type=Path, help="for a flight: calibration, JSON")
    parser.add_argument("--settings", type=Path, help="settings, JSON")
    parser.add_argument("--plumbing", help="for a flight: port-static, pitot-port or opposed")


def run(arguments: argparse.Namespace) -> None:
    """Write one WAV."""
    if arguments.file:
        stream, _ = replay.read_stream(arguments)
        target = arguments.out or Path(arguments.file.with_suffix(".wav").name)
    else:
        stream = sweep(read_settings(arguments.settings), arguments.seconds)
        target = arguments.out or Path("sweep.wav")
    check_targets({"--out": target}, replay.sources(arguments))
    out = run_stream(stream)
    seconds = write_wav(target, out)
    print("\n".join([*table(changes(out)), f"{target}: {seconds:.1f} s of sound"]))


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
                  {"points": SWEEP_POINTS}, replay.ZERO_IN_FILE)
