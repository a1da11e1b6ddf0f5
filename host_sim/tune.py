"""`alula tune`: constants for a kit, judged over many flights by the firmware's own decisions."""

import argparse
import json
import os
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from host_sim.errors import NoResult, UsageError
from host_sim.output.progress import Progress
from host_sim.output.whole_file import check_targets, whole_file
from host_sim.reading.csv_choice import add_csv_arguments
from host_sim.reading.profile_file import sensors_of, wrap
from host_sim.tuning.candidates import SHIPPED, TUNABLE, Axis, read_grid, record_of
from host_sim.tuning.choosing.goals import GOALS
from host_sim.tuning.choosing.result import Tuning, tune
from host_sim.tuning.choosing.search import RunPieces
from host_sim.tuning.choosing.verdict import checks, verdict
from host_sim.tuning.fleet.loading import load_fleet
from host_sim.tuning.telling.explain import explain, explained
from host_sim.tuning.telling.table import (
    candidates_csv,
    comparison,
    gained,
    settings_rows,
    summary,
)
from host_sim.tuning.work import crews
from host_sim.tuning.work.dask_cluster import cluster
from host_sim.tuning.work.pieces import OtherCode, Piece

FILES = ("settings.json", "page.html", "candidates.csv")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("files", type=Path, nargs="*", metavar="LOG", help="units' logs, or CSVs "
                        "as for `replay`")
    parser.add_argument("--out", type=Path, help="folder for settings.json, page.html, "
                        "candidates.csv and the finished pieces")
    parser.add_argument("--truth", action="store_true", help="CSVs: a column `stall` says when "
                        "the wing broke (0, and 1 from the stall to the recovery)")
    parser.add_argument("--stalls", type=Path, metavar="FILE", help="a CSV `flight,stall_s`, "
                        "as `calibrate --stalls` writes it, says when; without either, the "
                        "captures in the logs count, and what the same capture finds on the desk")
    parser.add_argument("--grid", type=Path, metavar="FILE", help="TOML, one setting a line: a "
                        "list, or {from, to, step}; default: a small grid round the shipped "
                        "values, which the search may leave")
    parser.add_argument("--goal", choices=GOALS, default="even", help="; ".join(
        f"{name}: {goal.text}" for name, goal in GOALS.items()) + " (default: %(default)s)")
    parser.add_argument("--budget", type=int, default=200, help="so many candidates more beside "
                        "the grid's values (default: %(default)s; 0: the grid only)")
    parser.add_argument("--folds", type=int, default=4, help="groups of flights, each left out "
                        "once (default: %(default)s)")
    parser.add_argument("--name", default="unnamed", help="name of the profile")
    parser.add_argument("--version-number", type=int, default=1, help="of the profile")
    parser.add_argument("--calibration", type=Path, help="calibration, JSON; without it that of "
                        "the log, or for CSVs what their captures give")
    parser.add_argument("--settings", type=Path, help="settings, JSON, laid over the log's")
    parser.add_argument("--plumbing", help="CSVs: port-static, pitot-port or opposed")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1,
                        help="processes (default: one a core)")
    parser.add_argument("--cluster", metavar="ADDRESS", help="of a Dask scheduler, in place of "
                        "processes here")
    parser.add_argument("--explain", metavar="SETTING", help="what a setting does to delay and "
                        "noise, in numbers; needs no flights")
    parser.add_argument("--json", action="store_true", help="print JSON instead of a summary")
    add_csv_arguments(parser, one_file=False)


def run(arguments: argparse.Namespace) -> None:
    """Tune, or explain."""
    if arguments.explain is not None:
        if arguments.files or arguments.out:
            raise UsageError("--explain takes no flights and writes nothing; leave them out")
        print(json.dumps(explained(arguments.explain)) if arguments.json
              else "\n".join(explain(arguments.explain)))
        return
    _check(arguments)
    axes = read_grid(arguments.grid)
    wrap(arguments.name, arguments.version_number, {})
    there = arguments.out.exists()
    try:
        _tune(arguments, axes)
    except BaseException:
        if not there:
            with suppress(OSError):  # finished pieces stay
                arguments.out.rmdir()
        raise


def _tune(arguments: argparse.Namespace, axes: tuple[Axis, ...]) -> None:
    check_targets({f"--out {name}": arguments.out / name for name in FILES}, _sources(arguments))
    fleet = load_fleet(arguments, TUNABLE)
    with _runner(arguments) as run_pieces:
        try:
            tuning = tune(fleet, axes, arguments.goal, arguments.folds, arguments.budget,
                          run_pieces)
        except OtherCode as error:
            raise UsageError(str(error)) from error
        except crews.Lost as error:
            raise NoResult(str(error)) from error
    profile = wrap(arguments.name, arguments.version_number,
                   record_of(fleet.unit_settings, tuning.proposal.values))
    _write(arguments, tuning, profile)
    print(_json(tuning, profile) if arguments.json
          else "\n".join(summary(tuning, str(arguments.out))))


def _check(arguments: argparse.Namespace) -> None:
    if not arguments.files:
        raise UsageError("no flights: name units' logs or CSVs, or ask --explain SETTING")
    if arguments.out is None:
        raise UsageError("--out is missing: name a folder for the settings, the page and the CSV")
    for name, least in (("budget", 0), ("folds", 1), ("jobs", 1)):
        if getattr(arguments, name) < least:
            raise UsageError(f"--{name} must be {least} or more")
    if arguments.out.exists() and not arguments.out.is_dir():
        raise UsageError(f"--out {arguments.out}: is a file; name a folder")


def _sources(arguments: argparse.Namespace) -> list[Path]:
    return [*arguments.files, *(path for path in (
        arguments.settings, arguments.calibration, arguments.grid, arguments.stalls,
        arguments.map) if path)]


@contextmanager
def _runner(arguments: argparse.Namespace) -> Iterator[RunPieces]:
    """Who does the pieces, with a progress bar; what is finished lies in OUT/pieces."""
    store = crews.Store(arguments.out / "pieces")

    with ExitStack() as stack:
        make, workers = (stack.enter_context(cluster(arguments.cluster)) if arguments.cluster
                         else (crews.processes(arguments.jobs), lambda: arguments.jobs))
        crew = stack.enter_context(crews.Crew(make))

        def run_pieces(pieces: list[Piece], label: str) -> list[list]:
            with Progress(label, len(pieces)) as bar:
                return crews.run(pieces, crew, store, workers, bar.to)

        yield run_pieces


def _write(arguments: argparse.Namespace, tuning: Tuning, profile: dict) -> None:
    from host_sim.tuning.telling.page import page
    texts = (json.dumps(profile, indent=1) + "\n",
             page(tuning, arguments.name, arguments.version_number,
                  sensors_of(profile["settings"])), candidates_csv(tuning))
    for name, text in zip(FILES, texts, strict=True):
        with whole_file(arguments.out / name) as temporary:
            temporary.write_text(text, encoding="utf-8", newline="\n")


def _json(tuning: Tuning, profile: dict) -> str:
    return json.dumps({
        "flights": [{"name": flight.name, "stalls_s": [one / 1000 for one in flight.stalls_ms]}
                    for flight in tuning.fleet.flights],
        "profile": profile["profile"], "goal": tuning.goal, "gained": gained(tuning),
        "verdict": verdict(tuning),
        "candidates": len(tuning.judged), "searched": tuning.searched,
        "front": len(tuning.front), "notes": [*tuning.fleet.notes, *checks(tuning)],
        "settings": {name: int(value) for name, _, value in settings_rows(tuning)
                     if int(value) != SHIPPED[name]},
        "shipped": tuning.shipped.columns(), "proposal": tuning.proposal.columns(),
        "measures": [[name, unit] for name, unit, _, _ in comparison(tuning)]})
