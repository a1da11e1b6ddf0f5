"""`alula replay`: a recorded flight through the firmware."""

import argparse
import json
from contextlib import ExitStack
from pathlib import Path

import numpy as np

from host_sim import replay_log
from host_sim.errors import UsageError
from host_sim.output.changes import as_json, changes, seconds_in_states, table
from host_sim.output.kept import Thinned
from host_sim.output.progress import Progress
from host_sim.output.trace import trace_in_blocks
from host_sim.output.whole_file import check_targets
from host_sim.reading.csv_choice import add_csv_arguments
from host_sim.reading.flight_csv import ZERO_IN_FILE, Flight, read_csv
from host_sim.reading.unit_files import (
    choose_plumbing,
    direct_settings,
    read_calibration,
    read_settings,
)
from host_sim.reading.unit_log import is_unit_log
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.recorded import Played, Take, end_to_end, play
from host_sim.runtimes.run import RUNTIMES, Stream

use_firmware()

from alula.calibration import curves_of  # noqa: E402
from alula.sample import FLAP_NOT_WIRED, FLAP_UNCLEAR  # noqa: E402
from host_sim.runtimes.session import IN_WIDTH  # noqa: E402


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("file", type=Path, help="a unit's log, or a CSV: time_s,pitot_pa,angled_pa"
                        "[,nz_g][,flap][,speed_kt]; other names and units: see --columns and "
                        "--units")
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
    replay_log.add_arguments(parser)
    add_csv_arguments(parser)


def run(arguments: argparse.Namespace) -> None:
    """Replay one file."""
    if is_unit_log(arguments.file):
        replay_log.run(arguments)
        return
    if arguments.compare:
        raise UsageError(f"{arguments.file}: is a CSV; --compare needs the unit's own log, which "
                         "holds what was decided in flight")
    flight, stream = read_inputs(arguments)
    picture = None if arguments.no_picture else arguments.picture or _picture_path(arguments)
    check_targets({"--trace": arguments.trace, "--picture": picture, "--sound": arguments.sound},
                  sources(arguments))
    thinned = Thinned()
    with ExitStack() as stack:
        trace = stack.enter_context(trace_in_blocks(arguments.trace, len(flight.sessions) > 1))
        bar = stack.enter_context(Progress("replay", sum(one.rows for one in flight.sessions)))
        takes: list[Take] = [lambda out, one: trace(out, one.first_ms, one.number)]
        if picture:
            takes.append(lambda out, one: thinned.add(end_to_end(out, one, flight.sessions)))
        played = play(flight, stream, arguments.runtime, bar.to, takes)
        first_ms = flight.sessions[0].first_ms
        if picture:
            from host_sim.output.picture import draw
            draw(picture, thinned.rows(), stream.checked_settings(),
                 _title(arguments.file, flight, thinned.stride), first_ms=first_ms)
        if arguments.sound:
            from host_sim.output.sound import write_wav
            write_wav(arguments.sound, heard(played, flight))
    print(_json(flight, played) if arguments.json
          else _summary(arguments, flight, stream, played, picture))


def read_inputs(arguments: argparse.Namespace) -> tuple[Flight, Stream]:
    """Everything that a replay needs, read and checked; the rows stay in the file."""
    settings = read_settings(arguments.settings)
    plumbing = choose_plumbing(arguments.plumbing, settings, arguments.calibration)
    calibration = read_calibration(arguments.calibration, plumbing)
    flight = read_csv(arguments.file, arguments)
    return flight, Stream(np.zeros((0, IN_WIDTH), np.int32), direct_settings(settings, plumbing),
                          calibration, ZERO_IN_FILE)


def heard(played: list[Played], flight: Flight) -> np.ndarray:
    """What is kept of all sessions, one after another, for the sound."""
    return np.concatenate([end_to_end(one.kept.rows(), one.session, flight.sessions)
                           for one in played])


def sources(arguments: argparse.Namespace) -> list[Path]:
    """The files that a replay reads."""
    return [path for path in (arguments.file, arguments.settings, arguments.calibration,
                              arguments.map) if path]


def flaps_without_curve(flight: Flight, calibration: dict | None) -> list[int]:
    """Flap settings in the flight that the calibration has no curve for."""
    if calibration is None:
        return []
    own = {flap for flap, _ in curves_of(calibration)}
    return sorted(flight.survey.flaps - own - {FLAP_NOT_WIRED, FLAP_UNCLEAR})


def _picture_path(arguments: argparse.Namespace) -> Path:
    name = Path(arguments.file.name).with_suffix(".png").name
    return arguments.trace.parent / name if arguments.trace else Path(name)


def _title(path: Path, flight: Flight, stride: int) -> str:
    return f"Replay of {path.name}" + (
        f", {len(flight.sessions)} sessions end to end" if len(flight.sessions) > 1 else "") + (
        f", of {stride} ticks the one with the most lift" if stride > 1 else "")


def _totals(played: list[Played]) -> tuple[int, float, dict[str, float]]:
    """Samples, seconds, and seconds in each state, of all sessions."""
    seconds: dict[str, float] = {}
    for one in played:
        for word, value in seconds_in_states(one.kept.rows()).items():
            seconds[word] = round(seconds.get(word, 0.0) + value, 3)
    return (sum(one.kept.count for one in played),
            sum(one.session.seconds() for one in played), seconds)


def _json(flight: Flight, played: list[Played]) -> str:
    samples, duration_s, seconds = _totals(played)
    found = [{**change, "session": one.session.number} for one in played
             for change in as_json(changes(one.kept.rows(), one.session.first_ms))]
    return json.dumps({"samples": samples, "duration_s": duration_s, "seconds": seconds,
                       "changes": found, "reading": flight.as_json()})


def _summary(arguments: argparse.Namespace, flight: Flight, stream: Stream, played: list[Played],
             picture: Path | None) -> str:
    samples, duration_s, seconds = _totals(played)
    lines = [f"{arguments.file}: {samples} samples, {duration_s:.1f} s, one every "
             f"{flight.survey.usual_ms()} ms (longest gap {flight.survey.longest_ms} ms), "
             f"{stream.settings['plumbing']}, firmware in {arguments.runtime}"]
    if stream.calibration is None:
        lines.append("No calibration given: the unit gives no margin sounds. Add --calibration.")
    strange = flaps_without_curve(flight, stream.calibration)
    if strange:
        lines.append(f"Flap {', '.join(map(str, strange))}: no curve of its own; the most "
                     "cautious curve was used, and may warn late.")
    for one in played:
        if len(played) > 1:
            lines.append(f"session {one.session.number}: a fresh unit")
        lines += table(changes(one.kept.rows(), one.session.first_ms))
    lines.append("in each state: " + ", ".join(
        f"{word} {value:.1f} s" for word, value in seconds.items()))
    lines += flight.lines()
    written = {"trace": arguments.trace, "picture": picture, "sound": arguments.sound}
    lines += [f"{what}: {path}" for what, path in written.items() if path]
    lines.append("A replay helps judgement; it proves nothing about an aeroplane. "
                 "The unit supplements, and never replaces, the primary stall warning.")
    return "\n".join(lines)
