"""`alula board check`: the unit guides the ground checks; this shows what it says, and the table.

The unit judges. Nothing here decides whether a check has passed.
"""

import argparse
import datetime
import select
import sys
import time

from host_sim.board.link import Link
from host_sim.board.ports import choose_port
from host_sim.board.probe import probe
from host_sim.board.session import refuse_unfit
from host_sim.board.show import show
from host_sim.board.talk import ask, narration
from host_sim.errors import NoResult, UsageError

LOOK_S = 0.1
TABLE_EVERY_S = 1.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The sub-verb's arguments."""
    parser.add_argument("step", nargs="*", default=["all"], help="all (default), puff, leak LINE, "
                        "noise, sounds, button, lamp, timing, flash, or table: the results so far")
    parser.add_argument("--seconds", type=float, default=1800.0,
                        help="give up after so long (default: %(default).0f)")


def run(arguments: argparse.Namespace) -> None:
    """One step, or all of them, to the end."""
    link = Link(choose_port(arguments.port))
    try:
        state = probe(link)
        refuse_unfit(link.port, state)
        if state.kind == "repl":
            raise UsageError(f"{link.port.name}: no unit is started there; `alula board restart` "
                             "starts it")
        table = _checked(link, arguments)
    finally:
        link.close()
    show(arguments, table, table_lines(table))
    if any(_word(row) == "fail" for row in _rows(table)):
        raise NoResult("a check has failed: do not fly with the unit until it passes")


def _checked(link: Link, arguments: argparse.Namespace) -> dict:
    """Begin, show what the unit tells, pass key presses on; its table at the end."""
    if arguments.step == ["table"]:
        return ask(link, "check table")
    date = datetime.date.today().isoformat()
    ask(link, "check " + " ".join(arguments.step) + f" date {date}")
    keys = sys.stdin.isatty()
    if keys:
        print("Enter: done with this step, or skip it; q and Enter: end.", file=sys.stderr)
    end = time.monotonic() + arguments.seconds
    data, looked = b"", time.monotonic()
    while time.monotonic() < end:
        data = _told(data + link.waiting())
        if keys and select.select([sys.stdin], [], [], LOOK_S)[0]:
            ask(link, "check end" if sys.stdin.readline().strip() == "q" else "check next")
        elif not keys:
            time.sleep(LOOK_S)
        if time.monotonic() - looked > TABLE_EVERY_S:
            looked = time.monotonic()
            answer = ask(link, "check table")
            if not answer.get("running"):
                return answer
    ask(link, "check end")
    raise NoResult("the checks did not end in time; they were ended")


def _told(data: bytes) -> bytes:
    """Show whole lines of guidance; what is left of the last one."""
    for line in narration(data):
        print(line, file=sys.stderr, flush=True)
    return data.rpartition(b"\n")[2]


def table_lines(answer: dict) -> list[str]:
    """The unit's table for people."""
    return [_row_line(row) for row in _rows(answer)] or ["no check has been done yet"]


def _rows(answer: dict) -> list:
    found = answer.get("table", [])
    return found if isinstance(found, list) else []


def _row_line(row: object) -> str:
    words = row.values() if isinstance(row, dict) else row if isinstance(row, list) else [row]
    return "  ".join("" if word is None else str(word) for word in words)


def _word(row: object) -> str:
    words = row.values() if isinstance(row, dict) else row if isinstance(row, list) else []
    return "fail" if "fail" in [str(word) for word in words] else ""
