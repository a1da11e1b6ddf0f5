"""A unit's log as sessions: head, blocks in their order, and every gap and damage named."""

import mmap
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from host_sim.errors import UsageError
from host_sim.reading.unit_log_blocks import Content, Header, scan
from host_sim.reading.unit_log_head import Head, UnitChange, read_change, read_head
from host_sim.reading.unit_log_ticks import COUNTER_TURN, BadBlock, Ticks, read_ticks
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import log_layout as layout  # noqa: E402

_LOOKED_AT = 1 << 17
CSV_TITLE = b"#alula unit log"  # how `unit_log_csv` begins


@dataclass(frozen=True)
class Gap:
    """Blocks are missing between two ticks. from_ms: time of the tick before, or None at the
    start; to_ms: of the tick after."""

    blocks: int
    from_ms: int | None
    to_ms: int

    def text(self) -> str:
        """One line for people."""
        begin = "the start" if self.from_ms is None else f"{self.from_ms / 1000:.2f} s"
        return (f"gap: {self.blocks} block{'s' if self.blocks > 1 else ''} missing; no samples "
                f"between {begin} and {self.to_ms / 1000:.2f} s")


@dataclass(frozen=True)
class Timed:
    """A data block with the time of its ticks, ms since the session's first; never goes back."""

    ticks: Ticks
    time_ms: np.ndarray


@dataclass
class UnitSession:
    """One run of a unit, from power to power. head: None where it is damaged or missing; problem
    then says so. order: its DATA and CHANGE blocks by sequence. notes: lines for people."""

    number: int
    head: Head | None
    problem: str
    order: list[Header]
    notes: list[str] = field(default_factory=list)

    def items(self, content: Content) -> Iterator[Timed | UnitChange | Gap]:
        """Everything in order; a block that breaks a rule counts as missing, with a note."""
        clock = _Clock()
        expected = dropped = changes = 0
        for header in self.order:
            try:
                item = (read_change(header, content) if header.kind == layout.CHANGE
                        else read_ticks(header, content))
            except BadBlock as error:
                self._note(f"byte {header.offset} (block {header.offset // layout.BLOCK_BYTES}): "
                           f"a block that {error}; not used")
                continue
            lost, expected = header.sequence - expected, header.sequence + 1
            before_ms = clock.last_ms
            time_ms = clock.times(item, header)
            if isinstance(item, Ticks):
                dropped = item.context.dropped
            if lost:
                yield Gap(lost, before_ms, int(time_ms[0]) if len(time_ms) else clock.now_ms)
            if isinstance(item, UnitChange):
                changes += 1
                yield item
                continue
            if item.context.changes != changes & 0xFF:
                changes = item.context.changes
                self._note(f"{time_ms[0] / 1000 if len(time_ms) else 0:.2f} s: a record that the "
                           "unit took into use lies in a missing block; the replay goes on "
                           "without it")
            yield Timed(item, time_ms)
        if dropped:
            self._note(f"the unit gave up {dropped} blocks that it could not write: a warning "
                       "lasted too long")

    def ticks(self) -> int:
        """How many ticks its data blocks say they hold."""
        return sum(header.count for header in self.order if header.kind == layout.DATA)

    def starts(self, content: Content) -> dict[tuple[int, int], int]:
        """Time of the first tick of each data block, by (session, sequence)."""
        return {(self.number, item.ticks.header.sequence): int(item.time_ms[0])
                for item in self.items(content) if isinstance(item, Timed) and len(item.time_ms)}

    def _note(self, text: str) -> None:
        if text not in self.notes:
            self.notes.append(text)


class _Clock:
    """Widens the unit's counter. A tick whose counter falls keeps the time reached before it."""

    def __init__(self) -> None:
        self._counter: int | None = None
        self.now_ms = 0
        self.last_ms: int | None = None

    def times(self, item: Ticks | UnitChange, header: Header) -> np.ndarray:
        """Times of a block's ticks; empty for a change."""
        counters = (item.rows[:, 0].astype(np.int64) if isinstance(item, Ticks)
                    else np.array([header.first_ms], np.int64))
        if not len(counters):
            return counters
        first = 0 if self._counter is None else int(counters[0]) - self._counter
        steps = _steps(counters, first)
        self._counter = int(counters[-1])
        time_ms = _rising(self.now_ms + np.cumsum(steps), self.now_ms)
        self.now_ms = int(time_ms[-1])
        if isinstance(item, UnitChange):
            return time_ms[:0]
        self.last_ms = self.now_ms
        return time_ms


def _steps(counters: np.ndarray, first: int) -> np.ndarray:
    """Intervals of a counter that wraps; `first` is the one before the first value."""
    steps = np.diff(counters, prepend=counters[0] - first)
    return (steps + COUNTER_TURN // 2) % COUNTER_TURN - COUNTER_TURN // 2


def _rising(time_ms: np.ndarray, least_ms: int) -> np.ndarray:
    return np.maximum.accumulate(np.maximum(time_ms, least_ms))


def block_times(ticks: Ticks, start_ms: int) -> np.ndarray:
    """Times of a block's ticks, the first at start_ms; as in `Timed`, if no counter has fallen."""
    counters = ticks.rows[:, 0].astype(np.int64)
    return (_rising(start_ms + np.cumsum(_steps(counters, 0)), start_ms) if len(counters)
            else counters)


@dataclass
class UnitLog:
    """A whole file. headers: its blocks, in the file's order. sessions: in the order of their
    first block. notes: damage with its place."""

    path: Path
    content: Content
    headers: list[Header]
    sessions: list[UnitSession]
    notes: list[str]


def is_unit_log(path: Path) -> bool:
    """Whether a file looks like a unit's log; its start may be damaged. False where it cannot be
    read. UsageError for a folder, and for a log as CSV: neither is a flight to run."""
    if path.is_dir():
        logs = sorted(path.glob("*.log"))
        raise UsageError(f"{path}: is a folder; name a file" + (
            f" in it, for example {logs[-1]}" if logs else ""))
    try:
        with path.open("rb") as file:
            begin = file.read(_LOOKED_AT)
    except OSError:
        return False
    if begin.startswith(CSV_TITLE):
        raise UsageError(f"{path}:1: is a unit's log as CSV; name the log itself, or make it "
                         "again by `alula unpack --back`")
    return layout.MAGIC in begin


def open_log(path: Path) -> UnitLog:
    """Read a log's blocks; UsageError where the file cannot be read or holds not one."""
    try:
        with path.open("rb") as file:
            size = path.stat().st_size
            content: Content = (mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) if size
                                else b"")
    except OSError as error:
        raise UsageError(f"{path}: log cannot be read ({error.strerror}); "
                         "check the name") from error
    return read_log(path, content)


def read_log(path: Path, content: Content) -> UnitLog:
    """As `open_log`, for a content that is already there. path: for messages."""
    headers, damaged = scan(content)
    newer = [h for h in headers if h.version > layout.VERSION]
    if newer:
        raise UsageError(f"{path}: byte {newer[0].offset}: the log has format {newer[0].version}, "
                         f"this reads up to {layout.VERSION}; take the newer desk tools")
    if not headers:
        raise UsageError(f"{path}: holds not one whole block of a unit's log; "
                         "copy it from the unit again")
    numbers = list(dict.fromkeys(header.session for header in headers))
    notes = [damage.text() for damage in damaged]
    sessions = [_session(number, [h for h in headers if h.session == number], content)
                for number in numbers]
    return UnitLog(path, content, headers, sessions, notes)


def _session(number: int, headers: list[Header], content: Content) -> UnitSession:
    notes: list[str] = []
    heads = [h for h in headers if h.kind == layout.HEAD]
    head, problem = read_head(heads, content)
    order: dict[int, Header] = {}
    doubled = different = 0
    for header in headers:
        if header.kind == layout.HEAD:
            continue
        first = order.setdefault(header.sequence, header)
        if first is not header:
            same = first.crc == header.crc
            doubled += same
            different += not same
    found = [header for header in headers if order.get(header.sequence) is header]
    if doubled:
        notes.append(f"{doubled} blocks stand twice; used once")
    if different:
        notes.append(f"{different} blocks have the number of another one; the first of each is "
                     "used. Are there two units' logs in this file?")
    if found != sorted(found, key=lambda h: h.sequence):
        notes.append("blocks stand in another order than they were made; sorted")
    return UnitSession(number, head, problem, sorted(found, key=lambda h: h.sequence), notes)
