"""`alula review`: a flight, or two logs of one flight, as a page to look at and listen to."""

import argparse
import json
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np

from host_sim import replay
from host_sim.errors import UsageError
from host_sim.output.progress import Progress
from host_sim.output.review_align import align
from host_sim.output.review_compare import Comparison, compare
from host_sim.output.review_events import Event, find_events
from host_sim.output.review_flight import ReviewFlight
from host_sim.output.review_page import Review, facts, page
from host_sim.output.review_rows import event_table, fault_table, stall_table
from host_sim.output.review_stalls import Stall, find_stalls, near_stall
from host_sim.output.review_tables import as_text, difference_facts
from host_sim.output.whole_file import check_targets, whole_file
from host_sim.reading.csv_choice import add_csv_arguments
from host_sim.reading.unit_log import is_unit_log
from host_sim.runtimes.log_flight import asked_for, log_flight
from host_sim.runtimes.run import run_stream

LOGS_MOST = 2
LONGEST_ROWS = 2_000_000  # 5.5 h at 100 Hz: what a browser still draws without waiting
CLOSE_UPS_MOST = 12
CAUTION = ("A review helps judgement; it proves nothing about an aeroplane. The unit supplements, "
           "and never replaces, the primary stall warning.")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("logs", type=Path, nargs="+", metavar="LOG", help="a flight as for "
                        "`replay`; or two logs of the same flight (two units, or one log twice "
                        "with two --settings or --calibration), laid on one time axis")
    parser.add_argument("--out", type=Path, help="folder to write to (default: the first LOG's "
                        "name with -review, in this folder)")
    for name, text in (("--calibration", "calibration, JSON; without it there are no margins"),
                       ("--settings", "settings, JSON"),
                       ("--plumbing", "port-static, pitot-port or opposed")):
        parser.add_argument(name, action="append", default=[], help=f"{text}; with two logs give "
                            "it once for both, or twice, in their order",
                            type=str if name == "--plumbing" else Path)
    parser.add_argument("--sound", action="store_true", help="write the sound as a WAV, too")
    parser.add_argument("--no-pictures", action="store_true", help="write no PNGs")
    parser.add_argument("--json", action="store_true", help="print JSON instead of a summary")
    add_csv_arguments(parser)


def run(arguments: argparse.Namespace) -> None:
    """Review one or two logs."""
    folder = arguments.out or Path(arguments.logs[0].stem + "-review")
    one_each = _one_each(arguments)
    _check_folder(folder, one_each)
    reviews = [_review(each, name) for each, name in zip(one_each, _names(arguments), strict=True)]
    reviews, found = _on_one_axis(reviews)
    files = _write(folder, reviews, found, arguments)
    print(_json(reviews, found, files) if arguments.json else _summary(reviews, found, files))


def _on_one_axis(reviews: list[Review]) -> tuple[list[Review], Comparison | None]:
    if len(reviews) < LOGS_MOST:
        return reviews, None
    one, two = reviews
    offset_s, correlation = align(one.flight, two.flight)
    moved = replace(two, flight=replace(two.flight, offset_s=offset_s))
    return [one, moved], compare(one.flight, moved.flight, offset_s, correlation)


def _one_each(arguments: argparse.Namespace) -> list[argparse.Namespace]:
    """What `replay` would have been told for each log."""
    count = len(arguments.logs)
    if count > LOGS_MOST:
        raise UsageError(f"{count} logs given; give one, or two of the same flight")
    for name in ("calibration", "settings", "plumbing"):
        given = getattr(arguments, name)
        if len(given) not in (0, 1, count):
            raise UsageError(f"--{name} is given {len(given)} times for {count} log"
                             f"{'s' if count > 1 else ''}; give it once, or once for each")
    return [argparse.Namespace(**{
        **vars(arguments), "file": path, **{name: _pick(getattr(arguments, name), number)
                                            for name in ("calibration", "settings", "plumbing")}})
            for number, path in enumerate(arguments.logs)]


def _pick(given: list, number: int) -> object:
    return given[min(number, len(given) - 1)] if given else None


def _names(arguments: argparse.Namespace) -> list[str]:
    names = [path.name for path in arguments.logs]
    return names if len(set(names)) == len(names) else [
        f"{name} ({letter})" for name, letter in zip(names, "AB", strict=True)]


def _check_folder(folder: Path, one_each: list[argparse.Namespace]) -> None:
    place = folder
    while not place.exists():
        place = place.parent
    if not place.is_dir():
        raise UsageError(f"--out {folder}: {place} is a file; name a folder")
    sources = {path.resolve() for each in one_each for path in replay.sources(each)}
    if (folder / "review.html").resolve() in sources:
        raise UsageError(f"--out {folder}: review.html there is what is read; name another folder")


def _review(arguments: argparse.Namespace, name: str) -> Review:
    """Read, replay and judge one log."""
    read = _read_log if is_unit_log(arguments.file) else _read_csv
    with Progress(f"review {name}", 3) as bar:
        bar.to(0)
        flight = read(arguments, name)
        bar.to(1)
        events = find_events(flight)
        bar.to(2)
        return Review(flight, events, find_stalls(flight))


def _made_with(arguments: argparse.Namespace) -> str:
    return "; ".join([
        f"settings: {arguments.settings.name if arguments.settings else 'the defaults'}",
        f"calibration: {arguments.calibration.name if arguments.calibration else 'none'}"])


def _read_csv(arguments: argparse.Namespace, name: str) -> ReviewFlight:
    """One CSV through the firmware. UsageError as `replay`, and where several sessions are in it
    and none was chosen, or it is too long for a page."""
    recorded, stream = replay.read_inputs(arguments)
    if len(recorded.sessions) > 1:
        raise UsageError(f"{arguments.file}: holds {len(recorded.sessions)} sessions; choose one "
                         "with --session N")
    session = recorded.sessions[0]
    _check_length(arguments.file, session.rows)
    stream = replace(stream, rows=recorded.rows(session))
    return ReviewFlight(name, stream, run_stream(stream), session.first_ms,
                        _made_with(arguments))


def _read_log(arguments: argparse.Namespace, name: str) -> ReviewFlight:
    """One session of a unit's log through the firmware; UsageError as for a CSV."""
    asked = asked_for(arguments)
    _check_length(arguments.file, asked.one().ticks())
    found = log_flight(asked)
    return ReviewFlight(name, found.stream, found.out, 0, found.made_with, remarks=found.remarks)


def _check_length(path: Path, rows: int) -> None:
    if rows > LONGEST_ROWS:
        raise UsageError(f"{path}: {rows} samples are too many for one page "
                         f"(most: {LONGEST_ROWS}); cut the log by flights")


def _write(folder: Path, reviews: list[Review], found: Comparison | None,
           arguments: argparse.Namespace) -> list[Path]:
    files = [folder / "review.html"]
    check_targets({"--out": files[0]}, arguments.logs)
    text = page(reviews, found)
    for number, review in enumerate(reviews):
        tail = f"-{'ab'[number]}" if len(reviews) > 1 else ""
        if not arguments.no_pictures:
            files += _pictures(folder, review, tail)
        if arguments.sound:
            from host_sim.output.sound import write_wav
            files.append(folder / f"sound{tail}.wav")
            write_wav(files[-1], review.flight.out)
    with whole_file(files[0]) as temporary:
        temporary.write_text(text, encoding="utf-8")
    return files


def _pictures(folder: Path, review: Review, tail: str) -> list[Path]:
    """The whole flight, and each stall from near."""
    from host_sim.output.picture import draw
    flight, marks = review.flight, [stall.at for stall in review.stalls]
    wanted = [(f"overview{tail}.png", 0, len(flight.out), flight.name)]
    for number, stall in enumerate(review.stalls[:CLOSE_UPS_MOST], 1):
        wanted.append((f"stall-{number}{tail}.png", *near_stall(flight, stall, 20.0, 8.0),
                       f"{flight.name}, stall {number}"))
    times_s = [float(flight.time_s[at]) for at in marks]
    for name, first, after, title in wanted:
        inside = [t for t in times_s if flight.time_s[first] <= t <= flight.time_s[after - 1]]
        draw(folder / name, flight.out[first:after], flight.settings, title, inside,
             flight.first_ms)
    return [folder / name for name, *_ in wanted]


def _json(reviews: list[Review], found: Comparison | None, files: list[Path]) -> str:
    record: dict = {"logs": [{
        "file": review.flight.name,
        "events": [_event(review.flight, event) for event in review.events],
        "stalls": [_stall(review.flight, stall) for stall in review.stalls],
        "faults": [{"word": word, "from_s": review.flight.page_s(span[0]),
                    "to_s": review.flight.page_s(span[1])}
                   for span, word in review.flight.faults]} for review in reviews],
        "files": [str(path) for path in files]}
    if found:
        known = found.lift[np.isfinite(found.lift)]
        record["comparison"] = {
            "offset_s": found.offset_s, "correlation": found.correlation,
            "overlap_s": found.overlap_s, "apart_s": found.apart_s,
            "lift_median": float(np.median(known)) if len(known) else None,
            "lift_largest": float(abs(known).max()) if len(known) else None}
    return json.dumps(_plain(record))


def _plain(value: object) -> object:
    """The same without NaN, which JSON does not know."""
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_plain(part) for part in value]
    return None if isinstance(value, float) and value != value else value


def _event(flight: ReviewFlight, event: Event) -> dict:
    record = asdict(event.margins)
    at = record.pop("at")
    return {"kind": event.kind, "from_s": flight.page_s(event.span[0]),
            "to_s": flight.page_s(event.span[1]), "bank_deg": event.bank_deg, **record,
            "at_s": None if at is None else flight.page_s(at)}


def _stall(flight: ReviewFlight, stall: Stall) -> dict:
    record = {**asdict(stall), "enough": stall.enough, "at_s": flight.page_s(stall.at)}
    for lead in (record["pressing"], record["stalling"]):
        if lead:
            lead.pop("at")
    record.pop("at")
    return record


def _summary(reviews: list[Review], found: Comparison | None, files: list[Path]) -> str:
    lines: list[str] = []
    for review in reviews:
        lines += facts(review.flight)
        for table in (stall_table(review.flight, review.stalls),
                      event_table(review.flight, review.events), fault_table(review.flight)):
            lines += as_text(table)
    if found:
        lines += ["", *difference_facts(reviews[0].flight, reviews[1].flight, found)]
    lines += ["", *(str(path) for path in files), CAUTION]
    return "\n".join(lines)
