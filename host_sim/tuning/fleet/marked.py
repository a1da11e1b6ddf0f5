"""Which stalls count: those that somebody names, or those that a capture has judged."""

import argparse
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np

from host_sim.errors import UsageError
from host_sim.output.progress import Progress
from host_sim.output.review_stalls import SAME_S
from host_sim.runtimes.capture_runs import Captured, Run, capture_flight, combine
from host_sim.tuning.fleet.flights import unpack
from host_sim.tuning.fleet.recorded import Recorded
from host_sim.tuning.fleet.truth import listed_stalls

Marked = tuple[list[Recorded], str, list[str]]


def with_stalls(arguments: argparse.Namespace, found: list[Recorded]) -> Marked:
    """The flights with their stalls, where these come from, and what to say about it."""
    if arguments.truth:
        return found, "column stall", []
    if arguments.stalls:
        return _with_list(arguments.stalls, found), arguments.stalls.name, []
    return _with_captures(found)


def _with_list(path: Path, found: list[Recorded]) -> list[Recorded]:
    """As a file says. A session in parts may be named whole, as `alula calibrate` does."""
    listed = {name: [round(1000 * time_s) for time_s in times]
              for name, times in listed_stalls(path).items()}
    strange = set(listed) - {name for one in found for name in (one.name, one.base)}
    if strange:
        raise UsageError(f"{path}: {sorted(strange)[0]!r} is none of the flights: "
                         + ", ".join(sorted(one.name for one in found)))
    for name, times_ms in listed.items():
        parts = [one for one in found if one.base == name != one.name]
        for time_ms in times_ms:
            if parts and not any(part.holds(time_ms) for part in parts):
                raise UsageError(f"{path}: {name}: blocks are missing at {time_ms / 1000:.2f} s, "
                                 "where a stall is stated; leave it out")
    return [replace(one, stalls_ms=(*listed.get(one.name, ()), *(
        time_ms for time_ms in listed.get(one.base, ()) if one.base != one.name
        and one.holds(time_ms)))) for one in found]


def _with_captures(found: list[Recorded]) -> Marked:
    """Stalls as the units' captures marked them in flight, and those that the same capture finds
    when it is armed on the desk whenever it is idle; the calibration that these give where there
    is no other."""
    captured: list[Captured] = []
    with Progress("captures", len(found)) as bar:
        for one in found:
            captured.append(_captured(one))
            bar.to(len(captured))
    notes, marked = _notes(found, captured), []
    for one, flight in zip(found, captured, strict=True):
        own_ms, more_ms = _own_ms(one), _more_ms(one, flight.runs, True)
        marked.append(replace(one, stalls_ms=tuple(sorted([*own_ms, *more_ms]))))
    if any(one.stream.calibration is None for one in found):
        calibration, reason = combine(captured, found[0].stream.settings)
        if calibration is None:
            raise UsageError(f"no calibration, and these flights make none ({reason}); add "
                             "--calibration FILE")
        notes.append("calibration: made from the captures in these flights")
        marked = [one if one.stream.calibration else replace(
            one, stream=replace(one.stream, calibration=calibration)) for one in marked]
    return marked, "captures", notes


def _captured(one: Recorded) -> Captured:
    """Without what it saw at each tick: for a whole fleet that would be too much."""
    found, nothing = capture_flight(one.name, one.stream, 0, unpack(one.packed)), np.zeros(0)
    return replace(found, time_s=nothing, ratio_bp=nothing, lift=nothing)


def _own_ms(one: Recorded) -> list[int]:
    """Accepted in flight, in this part of the log."""
    times_ms = [_ms(run) for run in one.own.runs if run.accepted]
    return [time_ms for time_ms in times_ms if one.holds(time_ms)]


def _more_ms(one: Recorded, runs: Iterable[Run], accepted: bool) -> list[int]:
    """Judged on the desk, and not the same as one that was accepted in flight."""
    own_ms = _own_ms(one)
    times_ms = [_ms(run) + one.first_ms for run in runs if run.accepted == accepted]
    return [time_ms for time_ms in times_ms
            if all(abs(time_ms - own) > 1000 * SAME_S for own in own_ms)]


def _ms(run: Run) -> int:
    return round(1000 * run.stall_time_s)


def _notes(found: list[Recorded], captured: list[Captured]) -> list[str]:
    pairs = list(zip(found, captured, strict=True))
    own = sum(len(_own_ms(one)) for one in found)
    more, refused = (sum(len(_more_ms(one, flight.runs, accepted)) for one, flight in pairs)
                     for accepted in (True, False))
    unclear = sum({one.base: one.own.unclear for one in found}.values())
    notes = [f"{own} stalls are captures that were flown, as the unit judged them; the same "
             f"capture, run over all flights, found {more} more"] if own else []
    if unclear:
        notes.append(f"{unclear} verdicts in the logs cannot be had again with this firmware: the "
                     "capture that was run over the flights stands in for them")
    if refused:
        notes.append(f"{refused} stall runs were refused by the capture and are not used as "
                     "stalls; --truth or --stalls can name them")
    return notes
