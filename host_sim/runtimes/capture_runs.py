"""Runs the firmware's stall capture over a recorded flight, armed whenever it is idle."""

from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import Stream

use_firmware()

from alula.sample import FRESH, Sample  # noqa: E402
from alula.settings import load  # noqa: E402
from alula.stall_capture import capture as states  # noqa: E402
from alula.stall_capture import refusals  # noqa: E402
from alula.stall_capture.book import RUNS_MOST, RunBook  # noqa: E402
from alula.stall_capture.judge import METHOD_WORDS, WITH_N  # noqa: E402
from alula.stall_capture.track import BIN_MS  # noqa: E402
from alula.unit import Unit  # noqa: E402
from assembly import make_unit  # noqa: E402
from host_sim.runtimes.session import fill  # noqa: E402

# Age of a point's middle at the end of its last bin: half of the half second, or of the second
# where the mark is the peak of a mean over one second.
_HALF_MEAN_MS, _ONE_SECOND_MS = 250, 500


@dataclass(frozen=True)
class Run:
    """One judged stall run. stall_ratio_bp: None where the refusal came before there was one."""

    file: str
    stall_time_s: float
    entry_rate_kt_s: float
    stall_ratio_bp: int | None
    accepted: bool
    refusal: str | None
    number: int | None
    number_is: str
    remedy: str
    method: str
    flap: int
    curve: list[list[int]]


@dataclass
class Captured:
    """All runs of one flight, and what the capture saw: time, ratio and n/q of every tick."""

    file: str
    runs: list[Run] = field(default_factory=list)
    books: dict[int, RunBook] = field(default_factory=dict)
    time_s: np.ndarray = field(default_factory=lambda: np.zeros(0))
    ratio_bp: np.ndarray = field(default_factory=lambda: np.zeros(0))
    lift: np.ndarray = field(default_factory=lambda: np.zeros(0))


def capture_flight(file: str, stream: Stream, first_ms: int,
                   blocks: Iterable[np.ndarray] | None = None) -> Captured:
    """Every stall run in a flight, judged by the firmware. blocks: its rows block by block, in
    place of those of the stream; what is kept of each is 24 bytes a tick."""
    unit, settings, _ = make_unit(stream.settings, None, stream.zero)
    assert isinstance(unit, Unit)  # the settings were checked before
    found = Captured(file)
    seen = array("d")
    sample, judged_from_ms, verdicts = Sample(), 0, 0
    for row in (row for rows in blocks or [stream.rows] for row in rows.tolist()):
        fill(sample, row, 0)
        capture = unit.capture
        if capture.state in (states.IDLE, states.READY) and unit.phase.flying:
            capture.cancel()
            capture.arm(sample.flap)
        before = capture.state
        unit.tick(row[0], sample)
        if before != states.JUDGING and capture.state == states.JUDGING:
            judged_from_ms = row[0]
        if capture.verdicts != verdicts:
            verdicts = capture.verdicts
            found.runs.append(judged_run(file, unit, judged_from_ms + first_ms))
            _book(found.books, unit, settings)
        seen.extend(_seen(unit, sample, row[0] + first_ms))
    found.time_s, found.ratio_bp, found.lift = np.frombuffer(seen).reshape(-1, 3).T
    return found


def _seen(unit: Unit, sample: Sample, time_ms: int) -> tuple[float, float, float]:
    if not unit.ratio_known:
        return time_ms / 1000, np.nan, np.nan
    n_mg = sample.nz_mg if sample.nz_status == FRESH else 1000
    return time_ms / 1000, unit.ratio_bp, n_mg / unit.pitot.dpa


def judged_run(file: str, unit: Unit, judged_from_ms: int) -> Run:
    """The run that a unit's capture has just judged. judged_from_ms: when the judging began."""
    capture, judge = unit.capture, unit.capture.judge
    age_ms = (judge.end_point - 1 - judge.mark_point) * BIN_MS
    age_ms += _ONE_SECOND_MS if judge.method == WITH_N else _HALF_MEAN_MS
    word, accepted = capture.refusal, capture.judge.refusal == refusals.ACCEPTED
    if accepted:  # a run that disagrees with others is still an accepted run
        word = refusals.ACCEPTED
    curve = [[judge.curve.ratios_bp[i], judge.curve.lifts_pm[i]]
             for i in range(judge.curve.length)] if accepted else []
    return Run(file, round((judged_from_ms - age_ms) / 1000, 2), judge.entry_ckts / 100,
               judge.stall_bp or None, accepted, None if accepted else refusals.WORDS[word],
               None if accepted else capture.number, refusals.NUMBERS[word],
               refusals.REMEDIES[word], METHOD_WORDS[judge.method], max(capture.flap, 0), curve)


def _new_book(settings) -> RunBook:
    return RunBook(settings.capture_runs, settings.capture_agree_pm)


def _book(books: dict[int, RunBook], unit: Unit, settings) -> None:
    """Enter an accepted run in the book of its flap setting."""
    if unit.capture.judge.refusal == refusals.ACCEPTED:
        flap = max(unit.capture.flap, 0)
        books.setdefault(flap, _new_book(settings)).add(unit.capture.judge)


def combine(captured: list[Captured], record: dict) -> tuple[dict | None, str]:
    """One calibration from all flights, or None and the reason.

    The firmware's own rule: enough runs must agree, and the lowest stall ratio of those counts.
    Of each flap setting the last five accepted runs are looked at.
    """
    settings = load(record)[0]
    books: dict[int, RunBook] = {}
    for flight in captured:
        for flap, book in flight.books.items():
            merged = books.setdefault(flap, _new_book(settings))
            for i in range(book.count):
                merged.enter(book, i)
    curves, reasons = [], []
    for flap, book in sorted(books.items()):
        if book.best < 0:
            reasons.append(f"flap {flap}: {_shortfall(book, settings)}")
            continue
        i = book.best
        curves.append({"flap": flap, "points": [
            [book.ratios_bp[i][k], book.lifts_pm[i][k]] for k in range(book.lengths[i])]})
    plumbing = record["plumbing"]
    if not curves:
        return None, "; ".join(reasons) or "no accepted stall run in these flights"
    if len(curves) == 1:
        return {"plumbing": plumbing, **curves[0]}, "; ".join(reasons)
    return {"plumbing": plumbing, "curves": curves}, "; ".join(reasons)


def _shortfall(book: RunBook, settings) -> str:
    if book.count < settings.capture_runs:
        return f"{book.count} of {settings.capture_runs} runs accepted"
    return (f"disagree: no {settings.capture_runs} of {min(book.count, RUNS_MOST)} runs lie "
            f"within {settings.capture_agree_pm} per mille of lift ({book.spread_pm} found)")
