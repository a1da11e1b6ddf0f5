"""`alula board settings show | set | load`."""

import argparse
from pathlib import Path

from host_sim.board.link import Link
from host_sim.board.ports import Port, choose_port
from host_sim.board.probe import probe
from host_sim.board.records import BoardRecords, cut_off
from host_sim.board.session import leave, maintenance, refuse_unfit, started_unit
from host_sim.board.show import confirm, show, unit_line
from host_sim.board.talk import ask
from host_sim.errors import NoResult, UsageError
from host_sim.reading.profile_file import refuse_other_sensors
from host_sim.reading.unit_files import read_settings
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.record_payloads import SETTINGS  # noqa: E402
from alula.settings import TABLE, load  # noqa: E402
from alula.vault import Vault  # noqa: E402
from alula.version import VERSION  # noqa: E402

NEXT_START = "takes effect at the unit's next start: `alula board restart`, or power off and on"


def show_all(arguments: argparse.Namespace) -> None:
    """Every setting of a unit."""
    record = settings_of(choose_port(arguments.port), arguments.interrupt)
    show(arguments, record, _table(record))


def settings_of(port: Port, interrupt: bool) -> dict:
    """The stored settings of a unit that runs, or of a board at its prompt; it stays as it is."""
    link = Link(port)
    try:
        state = probe(link)
        if state.kind == "unit":
            return _record_in(ask(link, "settings"))
        if state.kind == "refuses":
            refuse_unfit(port, state)
    finally:
        link.close()
    with maintenance(port, interrupt) as repl:
        record, problem = Vault(BoardRecords(repl)).load(SETTINGS)
        repl.link.write(b"\r\x02")
    if record is None:
        raise NoResult(f"{port.name}: no settings are stored there" + (
            f": {problem}" if problem else ""))
    return record


def set_one(arguments: argparse.Namespace) -> None:
    """One setting; the unit checks it with all the others."""
    rows = {row[0]: row for row in TABLE}
    name, word = arguments.name, arguments.value
    if name not in rows:
        raise UsageError(f"{name}: is not a setting; see hardware_notes/settings.md")
    _refuse_value(rows[name], word)
    port = choose_port(arguments.port)
    with started_unit(port, ", `alula board settings load` stores a whole file") as link:
        answer = ask(link, f"set {name} {word}")
    show(arguments, answer, [f"{name} = {word}: stored; {NEXT_START}"])


def load_file(arguments: argparse.Namespace) -> None:
    """A whole settings file, stored at once."""
    path: Path = arguments.file
    record = read_settings(path)
    record.pop("format", None)
    port = choose_port(arguments.port)
    with maintenance(port, arguments.interrupt) as repl:
        files = BoardRecords(repl)
        vault, left = Vault(files), files.left_over()
        old = vault.load(SETTINGS)[0]
        if old is not None:
            refuse_other_sensors(path, old)
        lines = differences(old, record)
        if lines and not _agreed(arguments, lines):
            leave(repl)
            raise NoResult("nothing was stored")
        files.tidy()
        if lines:
            problem = vault.save(SETTINGS, record)
            if problem:
                raise NoResult(problem)
            files.commit()
        status = leave(repl)
    _tell_firmware(status)
    half = [line + "; if it was a restore, run that again" for line in cut_off(left)]
    show(arguments, {"changes": lines, "settings": record, "left_over": left, "status": status},
         [*half, *(lines or ["the unit has these settings already"]), *_missing(record),
          unit_line(status)])


def differences(old: dict | None, new: dict) -> list[str]:
    """What would change, a line each."""
    before = {} if old is None else {k: v for k, v in old.items() if k != "format"}
    lines = []
    for row in TABLE:
        name = row[0]
        if before.get(name) != new.get(name):
            lines.append(f"{name}: {_value(before, row)} -> {_value(new, row)}")
    return lines


def _agreed(arguments: argparse.Namespace, lines: list[str]) -> bool:
    if not arguments.yes and not arguments.json:
        print("\n".join(lines))
    return confirm(arguments, f"store {len(lines)} changed settings on the unit?")


def _tell_firmware(status: dict) -> None:
    """The desk has checked by its own table; a unit of another version may think otherwise."""
    if status and status.get("firmware") != VERSION:
        raise NoResult(f"stored, but the unit runs firmware {status.get('firmware')} and these "
                       f"settings were checked for {VERSION}: `alula board flash` makes them one")


def _missing(record: dict) -> list[str]:
    return [f"{name} is not set: the unit gives no margin sounds without it"
            for name in load(record)[0].missing]


def _value(record: dict, row: tuple) -> str:
    if row[0] in record:
        return str(record[row[0]])
    return "not set" if row[1] is None else f"{row[1]} (default)"


def _record_in(answer: dict) -> dict:
    """The settings in a unit's answer: in an object of their own, or beside `ok`."""
    found = answer.get("settings", answer)
    return {name: value for name, value in found.items() if name != "ok"}


def _refuse_value(row: tuple, word: str) -> None:
    name, _, least, most, unit, text = row
    if isinstance(unit, tuple):
        if word not in unit:
            raise UsageError(f"{name}: {word!r} must be one of {', '.join(unit)}")
        return
    try:
        value = int(word)
    except ValueError:
        value = most + 1
    if not least <= value <= most:
        raise UsageError(f"{name}: {word!r} must be a whole number from {least} to {most} "
                         f"({unit}); {text}")


def _table(record: dict) -> list[str]:
    lines = []
    for row in TABLE:
        unit = "" if isinstance(row[4], tuple) else row[4]
        lines.append(f"{row[0]:<22} {_value(record, row):>20} {unit:<12} {row[5]}")
    return lines
