"""Work in pieces: one subject (a flight, or the bench signals) and a block of candidates.

A piece is pure: the same piece gives the same result in any process on any machine, so a result
is kept under the hash of what went in, and a piece that was lost is simply done again.
"""

import hashlib
import json
from dataclasses import asdict, dataclass
from functools import cache, cached_property

from host_sim.runtimes.paths import FIRMWARE, ROOT
from host_sim.tuning.bench_signals import RATES_DEG_S, Wing, most_lag_s, noise, noise_pm, ramp
from host_sim.tuning.candidates import Candidate, record_of
from host_sim.tuning.flights import TuneFlight
from host_sim.tuning.measures import see
from host_sim.tuning.reference import Reference, reference_of
from host_sim.tuning.through_firmware import Prepared, decide, prepare

BLOCK = 48  # candidates a piece: seconds of work
SMOOTHING = ("window_ms", "lead_ms", "gap_ms")  # what the conditioning depends on


@dataclass(frozen=True)
class Piece:
    """subject: a flight, or the wing whose bench signals are measured."""

    subject: TuneFlight | Wing
    block: tuple[Candidate, ...]
    code: str

    @cached_property
    def key(self) -> str:
        """SHA-256 of all that decides the result."""
        text = json.dumps([subject_hash(self.subject), self.block, self.code])
        return hashlib.sha256(text.encode()).hexdigest()


class OtherCode(Exception):
    """A worker runs another version of the code."""


@cache
def code_hash() -> str:
    """Of the firmware's logic and of the rooms that measure it: another version, other pieces."""
    found = hashlib.sha256()
    paths = [*(FIRMWARE / "alula").rglob("*.py"), FIRMWARE / "assembly.py",
             *(ROOT / "host_sim" / "tuning").glob("*.py")]
    for path in sorted(paths, key=lambda path: path.relative_to(ROOT).as_posix()):
        found.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    return found.hexdigest()


def subject_hash(subject: TuneFlight | Wing) -> str:
    """By content, not by name."""
    if isinstance(subject, TuneFlight):
        return subject.content_hash
    return hashlib.sha256(json.dumps(asdict(subject), sort_keys=True).encode()).hexdigest()


def cut(subjects: list[TuneFlight | Wing], candidates: list[Candidate]) -> list[Piece]:
    """Every subject with every candidate once; candidates that smooth alike lie together."""
    names = [name for name, _ in candidates[0]] if candidates else []
    places = [names.index(name) for name in SMOOTHING if name in names]
    ordered = sorted(set(candidates), key=lambda one: ([one[i][1] for i in places], one))
    blocks = [tuple(ordered[i:i + BLOCK]) for i in range(0, len(ordered), BLOCK)]
    return [Piece(subject, block, code_hash()) for subject in subjects for block in blocks]


def work(piece: Piece) -> list:
    """The result, as JSON holds it: for each candidate of the block, `measures.FlightSeen` as
    named fields, or for the bench (delays in s, noises in per mille)."""
    if piece.code != code_hash():
        raise OtherCode("a worker runs another version of Alula than this command; install the "
                        "same on all machines")
    if isinstance(piece.subject, Wing):
        return _bench(piece.subject, piece.block)
    prepared, reference = _opened(piece.subject)
    found = []
    for one in piece.block:
        record = record_of(piece.subject.settings, one)
        decisions = decide(prepared, prepared.conditioned(record), record)
        found.append(asdict(see(reference, decisions)))
    return found


_last: dict[str, tuple[Prepared, Reference]] = {}


def _opened(flight: TuneFlight) -> tuple[Prepared, Reference]:
    """A flight made ready; the last one stays, for the next piece is often of the same."""
    if flight.content_hash not in _last:
        _last.clear()
        prepared = prepare(flight)
        _last[flight.content_hash] = prepared, reference_of(flight, prepared)
    return _last[flight.content_hash]


def _bench(wing: Wing, block: tuple[Candidate, ...]) -> list:
    ramps = [(rate, prepare(ramp(wing, rate))) for rate in RATES_DEG_S]
    steady = prepare(noise(wing))
    known: dict[tuple, list] = {}
    found = []
    for one in block:
        smoothing = tuple(value for name, value in one if name in SMOOTHING)
        if smoothing not in known:
            known[smoothing] = [
                [most_lag_s(wing, prepared.time_ms, prepared.conditioned(
                    record_of(prepared.flight.settings, one)), rate) for rate, prepared in ramps],
                noise_pm(wing, steady.conditioned(record_of(steady.flight.settings, one)))]
        found.append(known[smoothing])
    return found
