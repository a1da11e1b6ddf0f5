"""`alula board check`: the unit guides the ground checks; this shows what it says, and the table.

The unit judges. Nothing here decides whether a check has passed.
"""

import argparse
import datetime
import re
import select
import sys
import time
from typing import TextIO

from host_sim.board.link import Link
from host_sim.board.ports import choose_port
from host_sim.board.session import started_unit
from host_sim.board.show import show
from host_sim.board.talk import ask, heard, narration
from host_sim.errors import NoResult

LOOK_S = 0.1
# An answer takes the unit's time, and one of the checks measures that: so the unit is only asked
# whether it is done when it has been silent for longer than the longest check that says nothing.
QUIET_S = 75.0  # a leak check holds for a minute
ENDED_S = 1.5  # and after a line that ends a check
_ENDS = re.compile(r"checks: |check: (ended|refused)|check \S+: (pass|fail|skipped|not done)")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The sub-verb's arguments."""
    parser.add_argument("step", nargs="*", default=["all"], help="all (default), puff, leak LINE, "
                        "zero, noise, sounds, button, lamp, timing, flash; or table: the results")
    parser.add_argument("--seconds", type=float, default=1800.0,
                        help="give up after so long (default: %(default).0f)")


def run(arguments: argparse.Namespace) -> None:
    """One step, or all of them, to the end. Exit code 1 where one has failed."""
    with started_unit(choose_port(arguments.port)) as link:
        if arguments.step == ["table"]:
            table = ask(link, "check table")
        else:
            table = _checked(link, arguments)
    show(arguments, table, table_lines(table))
    if table.get("failed"):
        raise NoResult("a check has failed: do not fly with the unit until it passes")


def _checked(link: Link, arguments: argparse.Namespace) -> dict:
    """Begin, show what the unit tells, pass key presses on; its table at the end."""
    date = datetime.date.today().isoformat()
    guidance = _Guidance(link, sys.stderr if arguments.json else sys.stdout)
    try:
        ask(link, "check " + " ".join(arguments.step) + f" date {date}", guidance.show)
        return _guided(guidance, time.monotonic() + arguments.seconds)
    except KeyboardInterrupt:
        print(_ended(guidance), file=sys.stderr)
        raise


def _guided(guidance: "_Guidance", end: float) -> dict:
    keys = sys.stdin.isatty()
    if keys:
        print("Enter: next, or skip it; q and Enter: end.", file=sys.stderr)
    while time.monotonic() < end:
        guidance.look()
        if keys and select.select([sys.stdin], [], [], LOOK_S)[0]:
            keys = _take_key(guidance)
        elif not keys:
            time.sleep(LOOK_S)
        if guidance.may_be_done():
            answer = guidance.say("table")
            if answer.get("running") == "off":
                return answer
    guidance.say("end")
    raise NoResult("the checks did not end in time; they were ended")


def _take_key(guidance: "_Guidance") -> bool:
    """False where nobody is at the keys any more: that is not Enter, and confirms nothing."""
    try:
        line = sys.stdin.readline()
    except OSError:  # the terminal was closed
        line = ""
    if line:
        guidance.say("end" if line.strip() == "q" else "next")
    return bool(line)


def _ended(guidance: "_Guidance") -> str:
    """End the checks that run, and say what has become of the unit."""
    try:
        if guidance.say("end"):  # refused where none has begun, and that is as well
            return "the checks were ended; the unit runs on as before"
    except NoResult:
        pass
    return ("the unit does not answer: a long press of its button ends the checks; if it stays "
            "silent, switch the unit off and on")


class _Guidance:
    """What the unit tells while it checks, shown line by line."""

    def __init__(self, link: Link, out: TextIO) -> None:
        self._link = link
        self._out = out
        self._over = False
        self._heard = time.monotonic()

    def look(self) -> None:
        """Show what has come."""
        whole, _, rest = self._link.waiting().rpartition(b"\n")
        self._link.give_back(rest)
        self.show(narration(whole + b"\n"))

    def say(self, word: str) -> dict:
        """`check WORD`: the answer, whatever it is; what the unit tells meanwhile is shown."""
        self.look()
        answer, lines = heard(self._link, "check " + word)
        self.show(lines)
        self._heard = time.monotonic()
        return answer or {}

    def may_be_done(self) -> bool:
        """Silent for long enough to ask."""
        patience = ENDED_S if self._over else QUIET_S
        return time.monotonic() - self._heard > patience

    def show(self, lines: list[str]) -> None:
        """Print them."""
        for line in lines:
            print(line, file=self._out, flush=True)
            self._heard = time.monotonic()
            if line.startswith("check"):  # what it tells of a zero, say, is not of the checks
                self._over = _ENDS.match(line) is not None


def table_lines(answer: dict) -> list[str]:
    """The unit's table for people."""
    lines = []
    for row in answer.get("table", []):
        number = "" if row["verdict"] == "not done" else f"{row['number']} (limit {row['limit']})"
        lines.append(f"{row['check']:<14} {row['verdict']:<9} {number:<24} {row['unit']:<36} "
                     f"{row['date'] or ''}")
    return lines + [f"hoses: {mistake}" for mistake in answer.get("hoses", [])]
