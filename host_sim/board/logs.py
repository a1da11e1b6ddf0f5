"""`alula board logs pull`: a unit's flight logs, whole blocks only, each verified."""

import argparse
import hashlib
from dataclasses import dataclass
from pathlib import Path

from host_sim.board.ports import choose_port
from host_sim.board.repl import Repl
from host_sim.board.session import leave, maintenance
from host_sim.board.show import confirm, show, unit_line
from host_sim.errors import NoResult
from host_sim.output.progress import Progress
from host_sim.output.whole_file import whole_file
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.log_layout import BLOCK_BYTES  # noqa: E402
from drivers.log_files import session_of  # noqa: E402

_MARK = 8  # digits of SHA-256 in a name that is taken already


@dataclass(frozen=True)
class Log:
    """A log on the board: `size` bytes in whole blocks of the `on_flash` that it takes."""

    name: str
    on_flash: int
    size: int
    digest: str


def run(arguments: argparse.Namespace) -> None:
    """Copy the logs of one unit."""
    folder: Path = arguments.out
    port = choose_port(arguments.port)
    with maintenance(port, arguments.interrupt) as repl:
        logs = logs_on(repl)
        copied, had, places = _pull(repl, logs, folder, arguments.all)
        joined = _join(places) if arguments.join else []
        removed = _remove(arguments, repl, logs, folder) if arguments.delete and logs else []
        status = leave(repl)
    show(arguments, {"copied": copied, "had": had, "joined": joined, "removed": removed,
                     "out": str(folder), "torn": _torn(logs), "status": status},
         [*_lines(logs, copied, had, removed, folder), *_of_parts(places, joined),
          unit_line(status)])


def logs_on(repl: Repl) -> list[Log]:
    """Every log, the oldest first."""
    sizes = {path[1:]: size for path, size in repl.root().items() if session_of(path[1:]) >= 0}
    found = []
    with Progress("looking at logs", sum(sizes.values())) as bar:
        done = 0
        for name in sorted(sizes):
            whole = sizes[name] // BLOCK_BYTES * BLOCK_BYTES
            found.append(Log(name, sizes[name], whole, repl.hash("/" + name, whole)))
            done += sizes[name]
            bar.to(done)
    return found


def place_of(repl: Repl, log: Log, folder: Path) -> tuple[Path, bool]:
    """Where a log goes, and whether it is there already.

    Under its own name, also over an earlier, shorter copy of it. The unit counts its sessions
    anew once all logs are removed: where another log has the name, a piece of the digest is added.
    """
    path = folder / log.name
    if not path.is_file():
        return path, False
    old = path.read_bytes()
    digest = hashlib.sha256(old).hexdigest()
    if digest == log.digest:
        return path, True
    if len(old) < log.size and repl.hash("/" + log.name, len(old)) == digest:
        return path, False
    path = folder / f"{path.stem}-{log.digest[:_MARK]}{path.suffix}"
    return path, path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() == log.digest


def _pull(repl: Repl, logs: list[Log], folder: Path, again: bool) -> tuple[list, list, dict]:
    """(paths written, names that were here already, where each log is now)."""
    copied, had, places, done = [], [], {}, 0
    with Progress("copying", sum(log.size for log in logs)) as bar:
        for log in logs:
            path, here = place_of(repl, log, folder)
            if here and not again:
                had.append(log.name)
            elif log.size:
                _copy(repl, log, path, done, bar)
                copied.append(str(path))
            if log.size:
                places[log.name] = path
            done += log.size
            bar.to(done)
    return copied, had, places


def _sessions(places: dict[str, Path]) -> list[list[Path]]:
    """The parts of each session that has several, in their order."""
    found: dict[int, list[Path]] = {}
    for name in sorted(places):
        found.setdefault(session_of(name), []).append(places[name])
    return [parts for parts in found.values() if len(parts) > 1]


def _join(places: dict[str, Path]) -> list[str]:
    """One file a session beside its parts. Each block stands alone, so all of them, one after
    another, are a log."""
    joined = []
    for parts in _sessions(places):
        path = parts[0].with_name(f"{parts[0].stem}-joined{parts[0].suffix}")
        with whole_file(path) as temporary:
            temporary.write_bytes(b"".join(part.read_bytes() for part in parts))
        joined.append(str(path))
    return joined


def _of_parts(places: dict[str, Path], joined: list[str]) -> list[str]:
    """What to say of sessions that lie in several files."""
    if joined:
        return [f"joined: {path}" for path in joined]
    return [f"{parts[0].name} to {parts[-1].name} are {len(parts)} parts of one session: replay "
            "and review want them in one file; add --join" for parts in _sessions(places)]


def _copy(repl: Repl, log: Log, path: Path, before: int, bar: Progress) -> None:
    count = 0

    def tell(more: int) -> None:
        nonlocal count
        count += more
        bar.to(before + count)

    with whole_file(path) as temporary:
        temporary.write_bytes(repl.get("/" + log.name, log.size, tell))


def _remove(arguments: argparse.Namespace, repl: Repl, logs: list[Log], folder: Path) -> list:
    """Remove from the board what is here, read once more from this disk."""
    for log in logs:
        if log.size and not place_of(repl, log, folder)[1]:
            raise NoResult(f"{folder}: {log.name} does not read back equal from this disk; no "
                           "log was removed from the unit")
    if not confirm(arguments, f"remove {len(logs)} logs from the unit? They are in {folder}."):
        return []
    for log in logs:
        repl.run(f"os.remove('/{log.name}')")
    return [log.name for log in logs]


def _torn(logs: list[Log]) -> dict:
    return {log.name: log.on_flash - log.size for log in logs if log.on_flash != log.size}


def _lines(logs: list[Log], copied: list, had: list, removed: list, folder: Path) -> list[str]:
    if not logs:
        return ["no logs on the unit"]
    lines = [f"{len(copied)} logs copied to {folder}, each verified by SHA-256; "
             f"{len(had)} were here already", *copied]
    lines += [f"{name}: its last {count} bytes are no whole block and were not copied"
              for name, count in _torn(logs).items()]
    return lines + [f"removed from the unit: {len(removed)} logs" if removed
                    else "the logs are still on the unit"]
