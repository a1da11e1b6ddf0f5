"""Flights as they were read, and whether they go together."""

from dataclasses import dataclass, field
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.runtimes.own_captures import OwnCaptures
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import Stream
from host_sim.tuning.fleet.flights import TuneFlight

use_firmware()

from alula.settings import load  # noqa: E402
from alula.vault import fingerprint  # noqa: E402

PART = " part "  # between the name of a session and the number of a part, where blocks are missing


@dataclass(frozen=True)
class Recorded:
    """A flight as read. packed: its rows, as `TuneFlight.packed`; last_ms: time of the last.
    stream: the rest, without rows: those of a whole fleet would be too many. first_ms: what its
    own clock said at its first row. stalls_ms: by that clock, from a truth column; None where
    none was asked for. own: the captures in its log, by that clock, of all parts of it."""

    name: str
    packed: tuple[bytes, ...]
    last_ms: int
    stream: Stream
    first_ms: int = 0
    stalls_ms: tuple[int, ...] | None = None
    own: OwnCaptures = field(default_factory=OwnCaptures)

    @property
    def base(self) -> str:
        """The name of the session, of which this may be a part."""
        return self.name.partition(PART)[0]

    def holds(self, time_ms: float) -> bool:
        """Whether a time by its clock lies in it."""
        return self.first_ms <= time_ms <= self.first_ms + self.last_ms


def refuse_unreadable(path: Path) -> None:
    """UsageError where a file cannot be a flight at all: before anything else is asked of it."""
    try:
        with path.open("rb") as file:
            begin = file.read(4096)
    except OSError as error:
        raise UsageError(f"{path}: cannot be read ({error.strerror}); check the name") from error
    if not begin:
        raise UsageError(f"{path}: is empty; record or export the flight again")
    if b"\0" in begin:
        raise UsageError(f"{path}: is neither a unit's log nor a CSV; name a flight")


def refuse_same(flights: list[TuneFlight]) -> None:
    """UsageError where one flight is there twice, by its samples: it would count twice."""
    known: dict[tuple[bytes, ...], str] = {}
    for flight in flights:
        other = known.setdefault(flight.packed, flight.name)
        if other != flight.name:
            raise UsageError(f"{other} and {flight.name} hold the same flight, which would count "
                             "twice; leave one out")


def refuse_twins(found: list[Recorded]) -> None:
    """UsageError where two flights have one name."""
    names: set[str] = set()
    for one in found:
        if one.name in names:
            raise UsageError(f"{one.name}: two files have this name; rename one, so that the "
                             "page can tell them apart")
        names.add(one.name)


def refuse_strangers(found: list[Recorded], tuned: tuple[str, ...]) -> None:
    """Flights of other sensors or other settings are no fleet."""
    first = found[0]
    for one in found:
        settings, problems = load(one.stream.settings)
        if problems:
            raise UsageError(f"{one.name}: its settings: {problems[0][0]} {problems[0][1]}")
        mine, theirs = load(first.stream.settings)[0], settings
        if mine.sample_rate_hz != theirs.sample_rate_hz:
            raise UsageError(f"{first.name} has {mine.sample_rate_hz} samples a second, {one.name}"
                             f" {theirs.sample_rate_hz}: mixed sample rates; tune each by itself")
        if fingerprint(mine) != fingerprint(theirs):
            raise UsageError(f"{first.name} and {one.name} were measured with other sensors or "
                             "plumbing; tune each by itself")
        for name, value in vars(mine).items():
            if name not in (*tuned, "missing") and getattr(theirs, name) != value:
                raise UsageError(f"{first.name} and {one.name} differ in the setting {name} "
                                 f"({value} and {getattr(theirs, name)}), which is not tuned; "
                                 "say which holds with --settings FILE")


def refuse_uncalibrated(found: list[Recorded]) -> None:
    """UsageError where a flight has no calibration."""
    for one in found:
        if one.stream.calibration is None:
            raise UsageError(f"{one.name}: has no calibration, so there is no margin to judge; "
                             "add --calibration FILE (`alula calibrate` makes one)")
