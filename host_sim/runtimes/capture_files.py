"""The files that `alula calibrate` is given, CSVs or units' logs; rows stay in the file."""

import argparse
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from host_sim.errors import UsageError
from host_sim.reading.flight_csv import ZERO_IN_FILE, read_csv
from host_sim.reading.unit_files import choose_plumbing, direct_settings, read_settings
from host_sim.reading.unit_log import is_unit_log
from host_sim.runtimes.log_flight import asked_for, raw_blocks, start_of
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import Stream

use_firmware()

from alula.settings import load  # noqa: E402
from alula.vault import fingerprint  # noqa: E402
from host_sim.runtimes.session import IN_WIDTH  # noqa: E402

_NO_ROWS = np.zeros((0, IN_WIDTH), np.int32)


@dataclass(frozen=True)
class CaptureSession:
    """One session. start: the records it is judged with, without rows; blocks: gives the rows."""

    name: str
    start: Stream
    first_ms: int
    blocks: Callable[[], Iterable[np.ndarray]]


@dataclass(frozen=True)
class CaptureFile:
    """One file. report, lines: what was found in reading it, for machines and for people."""

    path: Path
    sessions: list[CaptureSession]
    report: dict
    lines: list[str]

    @property
    def settings(self) -> dict:
        """The record that its sessions are judged with."""
        return self.sessions[0].start.settings


def flights_from(arguments: argparse.Namespace) -> list[CaptureFile]:
    """All files of a command line. UsageError where one cannot be read, where logs and CSVs are
    mixed, or where units measured with other sensors than each other."""
    logs = [is_unit_log(path) for path in arguments.files]
    if any(logs) and not all(logs):
        raise UsageError(f"{arguments.files[logs.index(False)]}: is a CSV among units' logs; "
                         "calibrate from logs or from CSVs")
    if not any(logs):
        return _from_csvs(arguments)
    files = [_from_log(arguments, path) for path in arguments.files]
    _check_sensors(files)
    return files


def _from_csvs(arguments: argparse.Namespace) -> list[CaptureFile]:
    settings = read_settings(arguments.settings)
    plumbing = choose_plumbing(arguments.plumbing, settings, None)
    start = Stream(_NO_ROWS, direct_settings(settings, plumbing), None, ZERO_IN_FILE)
    found = []
    for path in arguments.files:
        flight = read_csv(path, arguments)
        several = len(flight.sessions) > 1
        found.append(CaptureFile(path, [
            CaptureSession(path.name + (f"#{one.number}" if several else ""), start, one.first_ms,
                           partial(flight.blocks, one)) for one in flight.sessions],
            flight.as_json(), flight.lines()))
    return found


def _from_log(arguments: argparse.Namespace, path: Path) -> CaptureFile:
    asked = asked_for(argparse.Namespace(**{**vars(arguments), "file": path, "session": None,
                                            "calibration": None}))
    several = len(asked.sessions) > 1
    sessions = [CaptureSession(
        path.name + (f"#{one.number}" if several else ""),
        replace(start_of(one, asked.instead), calibration=None), 0,
        partial(raw_blocks, asked.log, one)) for one in asked.sessions]
    notes = [*asked.log.notes, *(note for one in asked.sessions for note in one.notes)]
    return CaptureFile(path, sessions, {"sessions": [one.number for one in asked.sessions],
                                        "notes": notes}, [f"note: {note}" for note in notes])


def _check_sensors(files: list[CaptureFile]) -> None:
    """Ratios of other sensors or plumbing cannot be combined."""
    marks: dict[int, str] = {}
    for file in files:
        for session in file.sessions:
            settings, problems = load(session.start.settings)
            if problems:
                raise UsageError(f"{file.path}: settings of {session.name}: {problems[0][0]} "
                                 f"{problems[0][1]}")
            marks.setdefault(fingerprint(settings), session.name)
    if len(marks) > 1:
        one, two = list(marks.values())[:2]
        raise UsageError(f"{one} and {two} were measured with other sensors or plumbing; "
                         "calibrate each by itself")
