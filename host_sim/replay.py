"""`alula replay`: a recorded flight through the firmware."""

import argparse
import json
from pathlib import Path

import numpy as np

from host_sim.output.changes import as_json, changes, seconds_in_states, table
from host_sim.output.trace import write_trace
from host_sim.output.whole_file import check_targets
from host_sim.reading.flight_csv import read_flight, sample_spacings_ms
from host_sim.reading.unit_files import (
    choose_plumbing,
    direct_settings,
    read_calibration,
    read_settings,
)
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import RUNTIMES, Stream, run_stream

use_firmware()

from alula.calibration import curves_of  # noqa: E402
from alula.sample import FLAP_NOT_WIRED  # noqa: E402
from host_sim.runtimes.session import IN_COLUMNS  # noqa: E402

ZERO_IN_FILE = {"pitot_dpa": 0, "angled_dpa": 0}  # pressures in a CSV have their zero taken off


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("file", type=Path, help="CSV: time_s,pitot_pa,angled_pa[,nz_g][,flap]")
    parser.add_argument("--calibration", type=Path, help="calibration, JSON; without it the unit "
                        "is uncalibrated and gives no margin sounds")
    parser.add_argument("--settings", type=Path, help="settings, JSON")
    parser.add_argument("--plumbing", help="port-static, pitot-port or opposed")
    parser.add_argument("--trace", type=Path, help="write every tick's decision to this CSV")
    parser.add_argument("--picture", type=Path, help="PNG to write (default: FILE's name with "
                        ".png, beside the trace or in this folder)")
    parser.add_argument("--no-picture", action="store_true", help="write no picture")
    parser.add_argument("--sound", type=Path, help="write what was heard to this WAV")
    parser.add_argument("--runtime", choices=RUNTIMES, default="cpython",
                        help="which interpreter runs the firmware")
    parser.add_argument("--json", action="store_true", help="print JSON instead of a summary")


def run(arguments: argparse.Namespace) -> None:
    """Replay one file."""
    stream, first_ms = read_stream(arguments)
    picture = None if arguments.no_picture else arguments.picture or _picture_path(arguments)
    check_targets({"--trace": arguments.trace, "--picture": picture, "--sound": arguments.sound},
                  sources(arguments))
    out = run_stream(stream, arguments.runtime)
    if arguments.trace:
        write_trace(arguments.trace, out, first_ms)
    if picture:
        from host_sim.output.picture import draw
        draw(picture, out, stream.checked_settings(), f"Replay of {arguments.file.name}",
             first_ms=first_ms)
    if arguments.sound:
        from host_sim.output.sound import write_wav
        write_wav(arguments.sound, out)
    print(_json(out, first_ms) if arguments.json
          else _summary(arguments, stream, out, first_ms, picture))


def read_stream(arguments: argparse.Namespace) -> tuple[Stream, int]:
    """Everything that a replay needs, read and checked, and the time of the first row in ms."""
    settings = read_settings(arguments.settings)
    plumbing = choose_plumbing(arguments.plumbing, settings, arguments.calibration)
    calibration = read_calibration(arguments.calibration, plumbing)
    rows, first_ms = read_flight(arguments.file)
    return Stream(rows, direct_settings(settings, plumbing), calibration, ZERO_IN_FILE), first_ms


def sources(arguments: argparse.Namespace) -> list[Path]:
    """The files that a replay reads."""
    return [path for path in (arguments.file, arguments.settings, arguments.calibration) if path]


def flaps_without_curve(stream: Stream) -> list[int]:
    """Flap settings in the flight that the calibration has no curve for."""
    if stream.calibration is None:
        return []
    own = {flap for flap, _ in curves_of(stream.calibration)}
    return sorted(set(np.unique(stream.rows[:, IN_COLUMNS.index("flap")]).tolist()) - own
                  - {FLAP_NOT_WIRED})


def _picture_path(arguments: argparse.Namespace) -> Path:
    name = Path(arguments.file.name).with_suffix(".png").name
    return arguments.trace.parent / name if arguments.trace else Path(name)


def _duration_s(out: np.ndarray) -> float:
    return float(out[-1, 0] - out[0, 0]) / 1000


def _json(out: np.ndarray, first_ms: int) -> str:
    return json.dumps({"samples": len(out), "duration_s": _duration_s(out),
                       "seconds": seconds_in_states(out),
                       "changes": as_json(changes(out, first_ms))})


def _summary(arguments: argparse.Namespace, stream: Stream, out: np.ndarray, first_ms: int,
             picture: Path | None) -> str:
    usual_ms, longest_ms = sample_spacings_ms(stream.rows)
    lines = [f"{arguments.file}: {len(out)} samples, {_duration_s(out):.1f} s, one every "
             f"{usual_ms} ms (longest gap {longest_ms} ms), {stream.settings['plumbing']}, "
             f"firmware in {arguments.runtime}"]
    if stream.calibration is None:
        lines.append("No calibration given: the unit gives no margin sounds. Add --calibration.")
    strange = flaps_without_curve(stream)
    if strange:
        lines.append(f"Flap {', '.join(map(str, strange))}: no curve of its own; the most "
                     "cautious curve was used, and may warn late.")
    lines += table(changes(out, first_ms))
    lines.append("in each state: " + ", ".join(
        f"{word} {seconds:.1f} s" for word, seconds in seconds_in_states(out).items()))
    for what, path in (("trace", arguments.trace), ("picture", picture),
                       ("sound", arguments.sound)):
        if path:
            lines.append(f"{what}: {path}")
    lines.append("A replay helps judgement; it proves nothing about an aeroplane. "
                 "The unit supplements, and never replaces, the primary stall warning.")
    return "\n".join(lines)
