"""From the files of a command line to flights that can be tuned on; or one clear line."""

import argparse
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from host_sim.errors import UsageError
from host_sim.reading.flight_csv import ZERO_IN_FILE, read_csv
from host_sim.reading.unit_files import (
    choose_plumbing,
    direct_settings,
    read_calibration,
    read_settings,
)
from host_sim.reading.unit_log import Gap, Timed, UnitSession, is_unit_log
from host_sim.reading.unit_log_head import UnitChange
from host_sim.runtimes.log_flight import Asked, asked_for, input_rows, start_of
from host_sim.runtimes.own_captures import OwnCaptures, own_captures
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import Stream
from host_sim.tuning.fleet.flights import NO_ROWS, Packer, TuneFlight, unpack
from host_sim.tuning.fleet.marked import with_stalls
from host_sim.tuning.fleet.recorded import (
    PART,
    Recorded,
    refuse_same,
    refuse_strangers,
    refuse_twins,
    refuse_uncalibrated,
    refuse_unreadable,
)
from host_sim.tuning.fleet.truth import check_apart, column_stalls

use_firmware()

from alula.json_records import plain_calibration  # noqa: E402
from alula.record_payloads import CALIBRATION  # noqa: E402

RATES_HZ = (50, 100, 125, 200)


@dataclass(frozen=True)
class Fleet:
    """flights: in order of their names. settings: the record that all share, but for what is
    tuned. unit_settings: the unit's own record, as far as it is known: a CSV holds pressures, and
    does not say by which sensors. notes: what was found, for people."""

    flights: list[TuneFlight]
    settings: dict
    unit_settings: dict
    notes: list[str]


def load_fleet(arguments: argparse.Namespace, tuned: tuple[str, ...]) -> Fleet:
    """All flights of `files`, each with its stalls. tuned: names that may differ between them.
    UsageError as the rooms that read, and where the flights do not go together."""
    logs = _are_logs(arguments)
    found = _from_logs(arguments) if logs else _from_csvs(arguments)
    refuse_twins(found)
    refuse_strangers(found, tuned)
    found, source, notes = with_stalls(arguments, found)
    refuse_uncalibrated(found)
    flights = sorted((_tune_flight(one, source) for one in found), key=lambda one: one.name)
    refuse_same(flights)
    if not any(flight.stalls_ms for flight in flights):
        raise UsageError("no stall in these flights: nothing tells whether a warning comes in "
                         "time. Add a flight with stalls that a capture accepts, or say when the "
                         "wing broke: --truth (column stall) or --stalls FILE")
    return Fleet(flights, flights[0].settings, _unit_settings(arguments, flights[0], logs),
                 notes)


def _are_logs(arguments: argparse.Namespace) -> bool:
    """Whether the files are units' logs, and not CSVs. UsageError for both, and for neither."""
    if arguments.truth and arguments.stalls:
        raise UsageError("--truth and --stalls both say when the wing broke; give one")
    logs = [is_unit_log(path) for path in arguments.files]
    for path, log in zip(arguments.files, logs, strict=True):
        if not log:
            refuse_unreadable(path)
    if any(logs) and not all(logs):
        raise UsageError(f"{arguments.files[logs.index(False)]}: is a CSV among units' logs; "
                         "tune on logs or on CSVs")
    if any(logs) and arguments.truth:
        raise UsageError(f"{arguments.files[0]}: is a unit's log and has no column of truth; "
                         "give --stalls FILE")
    return any(logs)


def _unit_settings(arguments: argparse.Namespace, flight: TuneFlight, log: bool) -> dict:
    if log:
        return flight.settings
    return {**read_settings(arguments.settings), "plumbing": flight.settings["plumbing"]}


def _from_csvs(arguments: argparse.Namespace) -> list[Recorded]:
    settings = read_settings(arguments.settings)
    plumbing = choose_plumbing(arguments.plumbing, settings, arguments.calibration)
    calibration = read_calibration(arguments.calibration, plumbing)
    found = []
    for path in arguments.files:
        flight = read_csv(path, arguments)
        stalls = column_stalls(flight) if arguments.truth else None
        for one in flight.sessions:
            packer = Packer()
            for rows in flight.blocks(one):
                packer.add(rows)
            packed = packer.done()
            record = direct_settings(settings, plumbing)
            record.setdefault("sample_rate_hz", _rate_hz(path, next(unpack(packed))))
            several = len(flight.sessions) > 1
            found.append(Recorded(
                path.name + (f"#{one.number}" if several else ""), packed, packer.last_ms,
                Stream(NO_ROWS, record, calibration, ZERO_IN_FILE), one.first_ms,
                None if stalls is None else tuple(
                    time for time in stalls if one.first_ms <= time <= one.last_ms)))
    return found


def _rate_hz(path: Path, rows: np.ndarray) -> int:
    """The unit's rate for a CSV that was sampled at one of its rates."""
    every_ms = float(np.median(np.diff(rows[:, 0]))) if len(rows) > 1 else 0.0
    for rate_hz in RATES_HZ:
        if abs(every_ms - 1000 / rate_hz) < 0.6:
            return rate_hz
    raise UsageError(f"{path}: one sample every {every_ms:g} ms is no rate of the unit "
                     f"({', '.join(map(str, RATES_HZ))} Hz): constants found on it would not hold")


def _from_logs(arguments: argparse.Namespace) -> list[Recorded]:
    found = []
    for path in arguments.files:
        asked = asked_for(argparse.Namespace(**{**vars(arguments), "file": path,
                                                "session": None}))
        several = len(asked.sessions) > 1
        for one in asked.sessions:
            name = path.name + (f"#{one.number}" if several else "")
            own = OwnCaptures() if arguments.stalls else own_captures(
                name, one, asked.log.content)
            found += [replace(part, own=own) for part in _session(asked, one, name)]
    return found


@dataclass
class _Part:
    """Of a session, up to the next missing block. first_ms: time of its first row."""

    zero: object
    packer: Packer = field(default_factory=Packer)
    first_ms: int = 0

    def add(self, rows: np.ndarray) -> None:
        if not self.packer.rows:
            self.first_ms = int(rows[0, 0])
        rows[:, 0] -= self.first_ms
        self.packer.add(rows)


def _session(asked: Asked, session: UnitSession, name: str) -> list[Recorded]:
    """A session as one flight, or as several where blocks are missing between them."""
    start = start_of(session, asked.instead)
    calibration, parts = start.calibration, [_Part(start.zero)]
    for item in session.items(asked.log.content):
        if isinstance(item, Gap) and parts[-1].packer.rows:
            parts.append(_Part(None))
        elif isinstance(item, Timed) and len(item.time_ms):
            if len(parts) > 1 and not parts[-1].packer.rows:
                parts[-1].zero = item.ticks.context.zero() or start.zero
            parts[-1].add(input_rows(item))
        elif isinstance(item, UnitChange) and item.kind == CALIBRATION and (
                asked.instead.calibration is None):
            assert isinstance(item.value, dict)
            calibration = plain_calibration(item.value)
    found = []
    for number, part in enumerate(parts, 1):
        if part.packer.rows:
            stream = Stream(NO_ROWS, start.settings, calibration, _as_record(part.zero))
            found.append(Recorded(name + (f"{PART}{number}" if len(parts) > 1 else ""),
                                  part.packer.done(), part.packer.last_ms, stream,
                                  part.first_ms))
    return found


def _as_record(zero) -> dict | None:
    if zero is None or isinstance(zero, dict):
        return zero
    return {"pitot_dpa": zero[0], "angled_dpa": zero[1]}


def _tune_flight(one: Recorded, source: str) -> TuneFlight:
    stalls = check_apart(one.name, [time - one.first_ms for time in one.stalls_ms or ()],
                         one.last_ms)
    assert one.stream.calibration is not None
    return TuneFlight(one.name, one.packed, one.stream.settings,
                      one.stream.calibration, one.stream.zero, stalls, source)


