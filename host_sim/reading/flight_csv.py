"""A flight as CSV, from our own tools or from elsewhere: pressures signed and as plumbed.

`open_flight` reads the file once through and learns all about it, or refuses it; `Flight.blocks`
reads it again and gives the rows, block by block, so that memory does not grow with the file.
How a file is read is described in hardware_notes/flight_csv.md.
"""

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from host_sim.errors import UsageError
from host_sim.output.progress import Progress
from host_sim.reading.csv_checks import check_columns, check_times, check_units, remarks
from host_sim.reading.csv_choice import Choice, choice_from
from host_sim.reading.csv_columns import Layout, read_layout
from host_sim.reading.csv_decimal import find_decimal
from host_sim.reading.csv_lines import Lines
from host_sim.reading.csv_report import Repair, Report
from host_sim.reading.csv_rows import ANGLED, LINE, PITOT, T_MS, Row, RowReader
from host_sim.reading.csv_survey import Session, Survey
from host_sim.reading.csv_times import in_order
from host_sim.runtimes.session import IN_WIDTH

NO_CHOICE = Choice()
BLOCK_ROWS = 4000
LONGEST_S = 500_000  # times are kept in a counter of 2^30 ms, half of it to be safe
WORD_LIMIT = 1_000_000  # 0.1 Pa; anything past the unit's own limit is a rail to it

OnBytes = Callable[[int], None]
ZERO_IN_FILE = {"pitot_dpa": 0, "angled_dpa": 0}  # pressures in a CSV have their zero taken off


@dataclass(frozen=True)
class Flight:
    """A file that can be read. size: its bytes. sessions: those that were chosen."""

    path: Path
    size: int
    layout: Layout
    decimal: str
    survey: Survey
    sessions: list[Session]
    repairs: list[Repair]
    remarks: list[str]

    def blocks(self, session: Session, progress: OnBytes | None = None) -> Iterator[np.ndarray]:
        """Input rows for the firmware (see `session.IN_COLUMNS`, output type "direct") of one
        session, its time counted from its first row; int32, at most about BLOCK_ROWS rows each.
        UsageError where the file is no longer what it was."""
        rows = 0
        with _opened(self.path) as file:
            lines = Lines(str(self.path), file, self.size, Report(), progress)
            pieces = in_order(self._reader(Report()).rows(iter(lines)), Report())
            for number, piece in pieces:
                if number > session.number:
                    break
                if number == session.number:
                    rows += len(piece)
                    yield from _as_blocks(piece, session.first_ms)
        if rows != session.rows:
            raise UsageError(f"{self.path}: changed while it was read; try again")

    def rows(self, session: Session) -> np.ndarray:
        """All rows of one session at once."""
        return np.concatenate(list(self.blocks(session)))

    def as_json(self) -> dict:
        """What was found in the file, for machines."""
        return {"sessions": [{**asdict(one), "duration_s": one.seconds()}
                             for one in self.survey.sessions],
                "repairs": [{**asdict(repair), "text": repair.text()} for repair in self.repairs],
                "remarks": self.remarks}

    def lines(self) -> list[str]:
        """The same for people."""
        found = self.survey.sessions
        said = [] if len(found) == 1 else [
            f"session {one.number}: from line {one.first_line}, {one.first_ms / 1000:.3f} s, "
            f"{one.rows} samples, {one.seconds():.1f} s"
            + ("" if one in self.sessions else ", not chosen") for one in found]
        return [*said, *(f"repaired: {repair.text()}" for repair in self.repairs),
                *(f"note: {remark}" for remark in self.remarks)]

    def _reader(self, report: Report) -> RowReader:
        return RowReader(str(self.path), self.layout, self.decimal, report)


def open_flight(path: Path, choice: Choice = NO_CHOICE,
                progress: OnBytes | None = None) -> Flight:
    """Read a file through. UsageError names file, line and remedy; nothing is guessed.
    progress: called now and then with the bytes read so far."""
    where = str(path)
    with _opened(path) as file:
        size = file.seek(0, 2)
        file.seek(0)
        lines = Lines(where, file, size, Report())
        layout = read_layout(where, lines.number, lines.header, choice)
        decimal = choice.decimal or find_decimal(where, iter(lines), layout)
        file.seek(0)
        report, survey = Report(), Survey()
        reader = RowReader(where, layout, decimal, report)
        lines = Lines(where, file, size, report, progress)
        for number, piece in in_order(reader.rows(iter(lines)), report):
            _take(where, survey, number, piece)
    _check_any(where, survey, report)
    check_times(where, survey, report, reader.equal_times)
    check_columns(where, survey, layout)
    if not choice.believe_units:
        check_units(where, survey, layout)
    return Flight(path, size, layout, decimal, survey, _chosen(where, survey, choice.session),
                  report.repairs(), remarks(survey, layout))


def read_csv(path: Path, arguments: argparse.Namespace) -> Flight:
    """One CSV as `csv_choice.add_csv_arguments` lets a user describe it, with a progress bar."""
    choice = choice_from(arguments)
    with Progress("reading", path.stat().st_size if path.is_file() else 0) as bar:
        return open_flight(path, choice, bar.to)


def read_flight(path: Path, choice: Choice = NO_CHOICE) -> tuple[np.ndarray, int]:
    """All rows of a file with one session, or of the chosen one, and the time of the first row in
    ms. UsageError as `open_flight`, and where there are several sessions and none was chosen."""
    flight = open_flight(path, choice)
    if len(flight.sessions) > 1:
        raise UsageError(f"{path}:{flight.sessions[1].first_line}: a second session begins here; "
                         "choose one, or split the file")
    return flight.rows(flight.sessions[0]), flight.sessions[0].first_ms


@contextmanager
def _opened(path: Path) -> Iterator:
    try:
        with path.open("rb") as file:
            if not file.seekable():
                raise UsageError(f"{path}: is no plain file; save it to one and name that")
            yield file
    except OSError as error:
        raise UsageError(f"{path}: cannot be read ({error.strerror}); check the name") from error


def _take(where: str, survey: Survey, number: int, piece: list[Row]) -> None:
    survey.add(number, piece)
    session = survey.sessions[-1]
    if session.seconds() > LONGEST_S:
        raise UsageError(f"{where}:{abs(piece[-1][LINE])}: more than {LONGEST_S} s after the "
                         f"first row of its session (line {session.first_line}); split the file "
                         "by flights")


def _chosen(where: str, survey: Survey, number: int | None) -> list[Session]:
    if number is None:
        return survey.sessions
    if number > len(survey.sessions):
        raise UsageError(f"{where}: --session {number}: the file holds "
                         f"{len(survey.sessions)}, counted from 1")
    return [survey.sessions[number - 1]]


def _as_blocks(piece: list[Row], first_ms: int) -> Iterator[np.ndarray]:
    for start in range(0, len(piece), BLOCK_ROWS):
        table = np.array(piece[start:start + BLOCK_ROWS], dtype=np.int64)
        table[:, T_MS] -= first_ms
        for at in (PITOT, ANGLED):
            np.clip(table[:, at], -WORD_LIMIT, WORD_LIMIT, out=table[:, at])
        yield table[:, :IN_WIDTH].astype(np.int32)


def _check_any(where: str, survey: Survey, report: Report) -> None:
    if not survey.rows:
        said = [repair.text() for repair in report.repairs()]
        raise UsageError(f"{where}:1: has no data rows" + (
            f" that can be used ({said[0]})" if said else "")
            + "; record or export the flight again")
