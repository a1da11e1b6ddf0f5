"""`alula calibrate`: the unit's own stall capture over recorded flights."""

import argparse
import json
from dataclasses import asdict
from pathlib import Path

from host_sim.errors import NoResult
from host_sim.output.whole_file import check_targets, whole_file
from host_sim.reading.csv_choice import add_csv_arguments
from host_sim.runtimes.capture_files import CaptureFile, flights_from
from host_sim.runtimes.capture_runs import Captured, Run, capture_flight, combine

CAUTION = ("Prove a calibration in flight before you rely on it: at a safe height, straight, in "
           "turns and in accelerated stalls. The unit supplements, and never replaces, the "
           "primary stall warning.")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("files", type=Path, nargs="+", metavar="FILE",
                        help="flights: units' logs, or CSVs as for `replay`; with an "
                        "accelerometer the capture uses n/q")
    parser.add_argument("--plumbing", help="port-static, pitot-port or opposed")
    parser.add_argument("--settings", type=Path, help="settings, JSON")
    parser.add_argument("--out", type=Path, help="write the calibration to this JSON file")
    parser.add_argument("--stalls", type=Path, metavar="FILE", help="write the accepted runs to "
                        "this CSV, flight,stall_s, as `tune --stalls` takes it")
    parser.add_argument("--picture", type=Path, help="PNG to write (default: the first FILE's "
                        "name with -runs.png, beside --out or in this folder)")
    parser.add_argument("--no-picture", action="store_true", help="write no picture")
    parser.add_argument("--json", action="store_true", help="print JSON instead of a summary")
    add_csv_arguments(parser, one_file=False)


def run(arguments: argparse.Namespace) -> None:
    """Find, judge and combine the stall runs of all files."""
    flights = flights_from(arguments)
    picture = None if arguments.no_picture else arguments.picture or _picture_path(arguments)
    check_targets({"--out": arguments.out, "--picture": picture, "--stalls": arguments.stalls},
                  [*arguments.files, *(path for path in (arguments.settings, arguments.map)
                                       if path)])
    captured = [capture_flight(one.name, one.start, one.first_ms, one.blocks())
                for flight in flights for one in flight.sessions]
    calibration, reason = combine(captured, flights[0].settings)
    if arguments.out and calibration:
        with whole_file(arguments.out) as temporary:
            temporary.write_text(json.dumps(calibration, indent=1) + "\n")
    stalls = _write_stalls(arguments.stalls, captured)
    if picture:
        from host_sim.output.capture_picture import draw
        draw(picture, captured, calibration)
    print(_json(flights, captured, calibration, reason) if arguments.json
          else _summary(arguments, flights, captured, calibration, reason, picture))
    for path, found, why in ((arguments.out, calibration, reason),
                             (arguments.stalls, stalls, "no accepted stall run")):
        if path and not found:
            raise NoResult(f"{path} not written: {why}")


def _write_stalls(path: Path | None, captured: list[Captured]) -> int:
    """The accepted runs as a list for `alula tune`, if it is asked for. How many there are."""
    stalls = [f"{run.file},{run.stall_time_s:.2f}" for flight in captured for run in flight.runs
              if run.accepted]
    if path and stalls:
        with whole_file(path) as temporary:
            temporary.write_text("\n".join(["flight,stall_s", *stalls]) + "\n")
    return len(stalls)


def _picture_path(arguments: argparse.Namespace) -> Path:
    name = arguments.files[0].stem + "-runs.png"
    return arguments.out.parent / name if arguments.out else Path(name)


def _json(flights: list[CaptureFile], captured: list[Captured], calibration: dict | None,
          reason: str) -> str:
    runs = [asdict(run) for flight in captured for run in flight.runs]
    return json.dumps({"runs": runs, "calibration": calibration, "reason": reason or None,
                       "reading": [{"file": str(flight.path), **flight.report}
                                   for flight in flights]})


def _line(run: Run) -> str:
    ratio = "-" if run.stall_ratio_bp is None else f"{run.stall_ratio_bp / 10000:.4f}"
    verdict = "accepted" if run.accepted else f"{run.refusal} ({run.number} {run.number_is})"
    return (f"  {run.file:<28} {run.stall_time_s:8.1f} s  {run.entry_rate_kt_s:5.2f} kt/s  "
            f"ratio {ratio:>7}  {run.method:<15} {verdict}")


def _summary(arguments: argparse.Namespace, flights: list[CaptureFile], captured: list[Captured],
             calibration: dict | None, reason: str, picture: Path | None) -> str:
    runs = [run for flight in captured for run in flight.runs]
    lines = [f"{len(captured)} flights, {len(runs)} stall runs"]
    for run in runs:
        lines.append(_line(run))
        if not run.accepted:
            lines.append(f"{'':30} -> {run.remedy}")
    if calibration is None:
        lines.append(f"No calibration: {reason}")
    else:
        for curve in calibration.get("curves", [calibration]):
            lines.append(f"flap {curve['flap']}: stall at ratio "
                         f"{curve['points'][-1][0] / 10000:.4f}, {len(curve['points'])} points")
        if arguments.out:
            lines.append(f"calibration: {arguments.out}")
    if picture:
        lines.append(f"picture: {picture}")
    for one in flights:
        lines += [f"{one.path}: {line}" for line in one.lines]
    return "\n".join([*lines, CAUTION])
