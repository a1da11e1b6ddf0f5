"""A unit's log as the verbs take it: what the command line asks for, and a session in memory."""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from host_sim.errors import UsageError
from host_sim.reading.profile_file import refuse_other_sensors
from host_sim.reading.unit_files import read_calibration, read_settings
from host_sim.reading.unit_log import Gap, Timed, UnitLog, UnitSession, open_log
from host_sim.reading.unit_log_compare import Comparison
from host_sim.runtimes.log_run import Instead, job_of, replay_session
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import Stream

use_firmware()

from alula.json_records import plain_calibration  # noqa: E402
from alula.record_payloads import CALIBRATION  # noqa: E402
from alula.settings import load  # noqa: E402
from host_sim.runtimes.session import IN_WIDTH  # noqa: E402

_OF_A_CSV = ("plumbing", "columns", "units", "map", "separator", "decimal", "believe_units")


@dataclass(frozen=True)
class Asked:
    """A log, the sessions of it that are asked for, and records to use in place of its own."""

    log: UnitLog
    sessions: list[UnitSession]
    instead: Instead

    def one(self) -> UnitSession:
        """The only session; UsageError where there are more."""
        if len(self.sessions) > 1:
            raise UsageError(f"{self.log.path}: holds sessions "
                             f"{', '.join(str(one.number) for one in self.sessions)}; choose one "
                             "with --session N")
        return self.sessions[0]


@dataclass(frozen=True)
class LogFlight:
    """A session, replayed. stream: its raw words and the records it started with, but the
    calibration that was used last. out: what the firmware decides now. Times in ms since the first
    tick. made_with: what measured and judged; remarks: gaps, damage, other decisions."""

    stream: Stream
    out: np.ndarray
    made_with: str
    remarks: tuple[str, ...]


def asked_for(arguments: argparse.Namespace) -> Asked:
    """From `file`, `session`, `settings` and `calibration` of a command line. UsageError where
    the log cannot be read, or an option is given that only a CSV needs."""
    for name in _OF_A_CSV:
        if getattr(arguments, name, None):
            raise UsageError(f"{arguments.file}: is a unit's log, which says all that itself; "
                             f"leave out --{name.replace('_', '-')}")
    log = open_log(arguments.file)
    sessions = _chosen(log, arguments.session)
    return Asked(log, sessions, _instead(arguments, sessions))


def _chosen(log: UnitLog, wanted: int | None) -> list[UnitSession]:
    """The sessions, by the unit's own number."""
    if wanted is None:
        return log.sessions
    found = [session for session in log.sessions if session.number == wanted]
    if not found:
        raise UsageError(f"{log.path}: has no session {wanted}; it has "
                         + ", ".join(str(session.number) for session in log.sessions))
    return found


def _instead(arguments: argparse.Namespace, sessions: list[UnitSession]) -> Instead:
    """Records from the command line; settings are laid over those of the log."""
    settings = read_settings(arguments.settings) if arguments.settings else None
    heads = [session.head for session in sessions if session.head]
    if settings is not None and heads:
        refuse_other_sensors(arguments.settings, heads[0].settings)
        settings = {**heads[0].settings, **settings}
    plumbing = (settings or (heads[0].settings if heads else {})).get("plumbing", "")
    path = getattr(arguments, "calibration", None)
    calibration = read_calibration(path, plumbing) if path else None
    problems = load(settings)[1] if settings else []
    if problems:
        raise UsageError(f"{arguments.settings}: with the settings of the log, "
                         f"{problems[0][0]} {problems[0][1]}")
    return Instead(settings, calibration)


def raw_blocks(log: UnitLog, session: UnitSession) -> Iterator[np.ndarray]:
    """The raw words of a session block by block, as input rows."""
    for item in session.items(log.content):
        if isinstance(item, Timed):
            yield input_rows(item)


def input_rows(item: Timed) -> np.ndarray:
    """A block's raw words as input rows, times as the session counts."""
    rows = item.ticks.rows[:, :IN_WIDTH].copy()
    rows[:, 0] = item.time_ms
    return rows


def start_of(session: UnitSession, instead: Instead) -> Stream:
    """The records that a session began with; no rows. UsageError where its head is lost."""
    if session.head is None:
        raise UsageError(f"session {session.number}: {session.problem}; `alula unpack` shows its "
                         "samples")
    job = job_of(session.head, instead)
    return Stream(np.zeros((0, IN_WIDTH), np.int32), job["settings"], job["calibration"],
                  job["zero"])


def log_flight(asked: Asked) -> LogFlight:
    """Replay the one session that is asked for, in CPython. Memory: 104 bytes a tick."""
    log, session = asked.log, asked.one()
    start = start_of(session, asked.instead)
    calibration, compared = start.calibration, Comparison()
    rows, decided, gaps = [start.rows], [], []
    for item, out in replay_session(session, log.content, asked.instead, "cpython"):
        if isinstance(item, Gap):
            compared.gap(item)
            gaps.append(item.text())
        elif isinstance(item, Timed):
            compared.block(item, out)
            rows.append(input_rows(item))
            out = out.copy()
            out[:, 0] = item.time_ms
            decided.append(out)
        elif item.kind == CALIBRATION and asked.instead.calibration is None:
            assert isinstance(item.value, dict)
            calibration = plain_calibration(item.value)
    if not decided:
        raise UsageError(f"{log.path}: session {session.number} holds no ticks")
    stream = Stream(np.concatenate(rows), start.settings, calibration, start.zero)
    return LogFlight(stream, np.concatenate(decided), _made_with(session, asked.instead),
                     tuple([*gaps, *session.notes, *log.notes, *_differs(compared)]))


def _differs(compared: Comparison) -> list[str]:
    first = compared.first()
    return [] if first is None else [
        "this firmware, or these records, decide otherwise than the unit did in flight: first at "
        f"{first.text()}; `alula replay` has the rest"]


def _made_with(session: UnitSession, instead: Instead) -> str:
    head = session.head
    assert head is not None
    return (f"session {session.number} of a unit with firmware {head.firmware} on {head.board}, "
            f"started by {head.start}; settings: "
            f"{'the log, changed by --settings' if instead.settings else 'the log'}; calibration: "
            f"{'from --calibration' if instead.calibration else 'the log'}")
