"""`alula replay UNIT.LOG`: the same decisions as in flight, or the first that differs."""

import argparse
import json
from contextlib import ExitStack
from dataclasses import asdict, dataclass

import numpy as np

from host_sim.errors import NoResult, UsageError
from host_sim.output.changes import as_json, changes, table
from host_sim.output.kept import Kept, Thinned
from host_sim.output.progress import Progress
from host_sim.output.trace import trace_in_blocks
from host_sim.output.whole_file import check_targets
from host_sim.reading.unit_log import Gap, Timed, UnitLog, UnitSession
from host_sim.reading.unit_log_compare import SETTLED_MS, Comparison
from host_sim.runtimes.log_flight import asked_for
from host_sim.runtimes.log_run import Instead, replay_session
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.settings import load  # noqa: E402
from alula.version import VERSION  # noqa: E402

_SHOWN_MOST = 40


@dataclass
class Replayed:
    """One session, played. gaps: lines about missing blocks."""

    session: UnitSession
    comparison: Comparison
    kept: Kept
    gaps: list[str]
    duration_ms: int = 0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `replay` takes for a log only."""
    parser.add_argument("--compare", action="store_true", help="a unit's log: list all that this "
                        "firmware, or other --settings or --calibration, decides otherwise")


def run(arguments: argparse.Namespace) -> None:
    """Replay a log; NoResult (exit code 1) where a decision differs."""
    asked = asked_for(arguments)
    log, sessions, instead = asked.log, asked.sessions, asked.instead
    check_targets({"--trace": arguments.trace, "--picture": arguments.picture,
                   "--sound": arguments.sound},
                  [path for path in (arguments.file, arguments.settings, arguments.calibration)
                   if path])
    if len(sessions) > 1 and (arguments.picture or arguments.sound):
        raise UsageError(f"{arguments.file}: holds {len(sessions)} sessions; "
                         "choose one of them by --session for a picture or a sound")
    played = _play_all(arguments, log, sessions, instead)
    print(_json(log, played) if arguments.json else _summary(arguments, log, played))
    different = [one for one in played if not one.comparison.equal()]
    if different:
        first = different[0].comparison.first()
        assert first is not None
        raise NoResult(f"{arguments.file}: session {different[0].session.number} is decided "
                       f"otherwise now; first difference {first.text()}")


def _play_all(arguments: argparse.Namespace, log: UnitLog, sessions: list[UnitSession],
              instead: Instead) -> list[Replayed]:
    played = []
    thinned = Thinned()
    with ExitStack() as stack:
        trace = stack.enter_context(trace_in_blocks(arguments.trace, len(sessions) > 1))
        bar = stack.enter_context(Progress("replay", sum(len(one.order) for one in sessions)))
        done = 0
        for session in sessions:
            one = Replayed(session, Comparison(), Kept(), [])
            for item, out in replay_session(session, log.content, instead, arguments.runtime):
                done += 1
                bar.to(done)
                if isinstance(item, Gap):
                    one.gaps.append(item.text())
                    one.comparison.gap(item)
                if not isinstance(item, Timed) or not len(out):
                    continue
                one.comparison.block(item, out)
                timed = out.astype(np.int64)
                timed[:, 0] = item.time_ms
                one.duration_ms = int(item.time_ms[-1])
                one.kept.add(timed)
                thinned.add(timed)
                trace(timed, 0, session.number)
            played.append(one)
        _draw(arguments, thinned, played, instead)
    return played


def _draw(arguments: argparse.Namespace, thinned: Thinned, played: list[Replayed],
          instead: Instead) -> None:
    """Picture and sound, where asked for."""
    one = played[0]
    if arguments.picture and one.session.head:
        from host_sim.output.picture import draw
        draw(arguments.picture, thinned.rows(), load(
            instead.settings or one.session.head.settings)[0],
            f"Replay of {arguments.file.name}, session {one.session.number}")
    if arguments.sound:
        from host_sim.output.sound import write_wav
        write_wav(arguments.sound, one.kept.rows())


def _json(log: UnitLog, played: list[Replayed]) -> str:
    found = []
    for one in played:
        head, compared = one.session.head, one.comparison
        first = compared.first()
        found.append({
            "session": one.session.number, "equal": compared.equal(),
            "firmware": head.firmware if head else None, "board": head.board if head else None,
            "start": head.start if head else None, "samples": one.kept.count,
            "duration_s": one.duration_ms / 1000, "compared_samples": compared.ticks,
            "compared_digests": compared.digests,
            "first_difference": asdict(first) if first else None,
            "differences": [asdict(d) for d in compared.differences],
            "different_digests": len(compared.digest_differences),
            "gaps": one.gaps, "counts_from_ms": compared.counts_from_ms,
            "notes": one.session.notes, "changes": as_json(changes(one.kept.rows()))})
    return json.dumps({"sessions": found, "damage": log.notes})


def _summary(arguments: argparse.Namespace, log: UnitLog, played: list[Replayed]) -> str:
    lines = []
    for one in played:
        head = one.session.head
        assert head is not None
        lines.append(f"{arguments.file}: session {one.session.number}, {one.kept.count} samples, "
                     f"{one.duration_ms / 1000:.1f} s; firmware {head.firmware} on {head.board}, "
                     f"started by {head.start}; replayed by firmware {VERSION} in "
                     f"{arguments.runtime}")
        lines += table(changes(one.kept.rows()))
        lines += one.gaps + one.session.notes
        lines += _verdict(one, arguments.compare)
    lines += log.notes
    lines.append("A replay helps judgement; it proves nothing about an aeroplane. "
                 "The unit supplements, and never replaces, the primary stall warning.")
    return "\n".join(lines)


def _verdict(one: Replayed, compare: bool) -> list[str]:
    found = one.comparison
    lines = [f"after a gap, compared again {_from(at)} (once state and health had agreed for "
             f"{SETTLED_MS // 1000} s); sounds are not, the new unit's timers began later"
             for at in found.counts_from_ms]
    if lines and not found.equal():
        lines.append("a difference after a gap may come from what the unit had learned before it")
    if found.equal():
        return lines + [f"equal: {found.ticks} of {one.kept.count} decisions compared, "
                        f"{found.digests} digests of what was heard, lit and measured"]
    shown = found.differences[:_SHOWN_MOST] if compare else found.differences[:1]
    lines += ["different: " + difference.text() for difference in shown]
    if len(found.differences) > len(shown):
        lines.append(f"... and {len(found.differences) - len(shown)} more; "
                     f"{'--json' if compare else '--compare'} has them")
    if found.digest_differences:
        lines.append(f"different: {len(found.digest_differences)} of {found.digests} digests; "
                     "first " + found.digest_differences[0].text())
    return lines


def _from(at_ms: int | None) -> str:
    return "never" if at_ms is None else f"from {at_ms / 1000:.2f} s on"
