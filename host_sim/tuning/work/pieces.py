"""Work in pieces: one subject (a flight, or the bench signals) and a block of candidates.

A piece is pure: the same piece gives the same result in any process on any machine, so a result
is kept under the hash of what went in, and a piece that was lost is simply done again.
"""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from functools import cache, cached_property

from host_sim.runtimes.paths import FIRMWARE, ROOT, use_firmware
from host_sim.tuning.candidates import Candidate, record_of
from host_sim.tuning.engine.through_engine import Short, by_firmware, differing, joined
from host_sim.tuning.fleet.flights import STRETCH_ROWS, TuneFlight
from host_sim.tuning.measuring.bench_signals import (
    RATES_DEG_S,
    Wing,
    most_lag_s,
    noise,
    noise_pm,
    ramp,
)
from host_sim.tuning.measuring.measures import Watch
from host_sim.tuning.measuring.reference import Reference, Spans, readings

use_firmware()

from alula.settings import load  # noqa: E402
from host_sim.tuning.engine.decided import Course  # noqa: E402
from host_sim.tuning.engine.prepared import Prepared  # noqa: E402

BLOCK = 96  # candidates a piece: seconds of work
KEPT_TICKS = 2 * STRETCH_ROWS  # of open flights, each process: some 200 bytes a tick
SMOOTHING = ("window_ms", "lead_ms", "gap_ms")  # what the conditioning depends on


@dataclass(frozen=True)
class Piece:
    """subject: a flight, or the wing whose bench signals are measured. odd: rows of the flight on
    which the unit doubts its pressures, so that the engine does not hold and nothing is measured.
    firmware: decided by the firmware itself, and compared."""

    subject: TuneFlight | Wing
    block: tuple[Candidate, ...]
    code: str
    odd: Spans = ()
    firmware: bool = False

    @cached_property
    def key(self) -> str:
        """SHA-256 of all that decides the result."""
        text = json.dumps([subject_hash(self.subject), self.block, self.code, self.odd,
                           self.firmware])
        return hashlib.sha256(text.encode()).hexdigest()


class OtherCode(Exception):
    """A worker runs another version of the code."""


@cache
def code_hash() -> str:
    """Of the firmware's logic and of the rooms that measure it: another version, other pieces."""
    found = hashlib.sha256()
    paths = [*(FIRMWARE / "alula").rglob("*.py"), FIRMWARE / "assembly.py",
             *(ROOT / "host_sim" / "tuning").rglob("*.py")]
    for path in sorted(paths, key=lambda path: path.relative_to(ROOT).as_posix()):
        found.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    return found.hexdigest()


def subject_hash(subject: TuneFlight | Wing) -> str:
    """By content, not by name."""
    if isinstance(subject, TuneFlight):
        return subject.content_hash
    return hashlib.sha256(json.dumps(asdict(subject), sort_keys=True).encode()).hexdigest()


def cut(subjects: list[tuple[TuneFlight | Wing, Spans]],
        candidates: list[Candidate]) -> list[Piece]:
    """Every subject, with its odd rows, with every candidate once; candidates that smooth alike
    lie together."""
    names = [name for name, _ in candidates[0]] if candidates else []
    places = [names.index(name) for name in SMOOTHING if name in names]
    ordered = sorted(set(candidates), key=lambda one: ([one[i][1] for i in places], one))
    blocks = [tuple(ordered[i:i + BLOCK]) for i in range(0, len(ordered), BLOCK)]
    return [Piece(subject, block, code_hash(), odd) for subject, odd in subjects
            for block in blocks]


def work(piece: Piece) -> list:
    """The result, as JSON holds it, for each candidate of the block: `measures.FlightSeen` as
    named fields; by the firmware: (that, rows on which the engine decides otherwise); for the
    bench: (delays in s, noises in per mille)."""
    if piece.code != code_hash():
        raise OtherCode("a worker runs another version of Alula than this command; install the "
                        "same on all machines")
    if isinstance(piece.subject, Wing):
        return _bench(piece.subject, piece.block)
    if piece.firmware:
        return [_compared(piece.subject, piece.odd, one) for one in piece.block]
    courses = [(_course(piece.subject, one), Watch()) for one in piece.block]
    for stretch, reference in _opened(piece.subject, piece.odd):
        for course, watch in courses:
            watch.take(reference, course.step(stretch)[1])
        del stretch, reference  # before the next is made ready
    return [asdict(watch.seen()) for _, watch in courses]


def _course(flight: TuneFlight, one: Candidate) -> Course:
    return Course(load(record_of(flight.settings, one))[0])


def _compared(flight: TuneFlight, odd: Spans, one: Candidate) -> list:
    """By the firmware, and where the engine differs."""
    course, watch, differs = _course(flight, one), Watch(), []
    firmware = by_firmware(flight, record_of(flight.settings, one))
    for (stretch, reference), true in zip(_opened(flight, odd), firmware, strict=True):
        watch.take(reference, true)
        differs += differing(course.step(stretch)[1], true, stretch.ticks.rows)
    return [asdict(watch.seen()), joined(differs)]


_open: dict[tuple, list[tuple[Prepared, Reference]]] = {}


def _opened(flight: TuneFlight, odd: Spans) -> Iterable[tuple[Prepared, Reference]]:
    """A flight made ready. The latest flights stay, as many as KEPT_TICKS allows, for the search
    comes back to each; of a longer one no more than two stretches are held."""
    if len(flight.packed) * STRETCH_ROWS > KEPT_TICKS:
        return readings(flight, odd)
    key = (flight.content_hash, odd)
    found = _open.pop(key, None) or list(readings(flight, odd))
    _open[key] = found  # the latest stands last
    while len(_open) > 1 and sum(len(one.ticks) for all_of_one in _open.values()
                                 for one, _ in all_of_one) > KEPT_TICKS:
        del _open[next(iter(_open))]
    return found


def _bench(wing: Wing, block: tuple[Candidate, ...]) -> list:
    ramps = [(rate, Short(ramp(wing, rate))) for rate in RATES_DEG_S]
    steady = Short(noise(wing))
    known: dict[tuple, list] = {}
    found = []
    for one in block:
        smoothing = tuple(value for name, value in one if name in SMOOTHING)
        if smoothing not in known:
            known[smoothing] = [
                [most_lag_s(wing, short.time_ms, short.shown(
                    record_of(short.flight.settings, one)), rate) for rate, short in ramps],
                noise_pm(wing, steady.shown(record_of(steady.flight.settings, one)))]
        found.append(known[smoothing])
    return found
