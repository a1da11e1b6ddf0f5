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
from host_sim.board.probe import probe
from host_sim.board.session import refuse_unfit
from host_sim.board.show import show
from host_sim.board.talk import ask, heard, narration
from host_sim.errors import NoResult, UsageError

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
    link = Link(choose_port(arguments.port))
    try:
        state = probe(link)
        refuse_unfit(link.port, state)
        if state.kind == "repl":
            raise UsageError(f"{link.port.name}: no unit is started there; `alula board restart` "
                             "starts it")
        if arguments.step == ["table"]:
            table = ask(link, "check table")
        else:
            table = _checked(link, arguments)
    finally:
        link.close()
    show(arguments, table, table_lines(table))
    if table.get("failed"):
        raise NoResult("a check has failed: do not fly with the unit until it passes")


def _checked(link: Link, arguments: argparse.Namespace) -> dict:
    """Begin, show what the unit tells, pass key presses on; its table at the end."""
    date = datetime.date.today().isoformat()
    guidance = _Guidance(link, sys.stderr if arguments.json else sys.stdout)
    ask(link, "check " + " ".join(arguments.step) + f" date {date}", guidance.show)
    keys = sys.stdin.isatty()
    if keys:
        print("Enter: next, or skip it; q and Enter: end.", file=sys.stderr)
    end = time.monotonic() + arguments.seconds
    try:
        while time.monotonic() < end:
            guidance.look()
            if keys and select.select([sys.stdin], [], [], LOOK_S)[0]:
                guidance.say("end" if sys.stdin.readline().strip() == "q" else "next")
            elif not keys:
                time.sleep(LOOK_S)
            if guidance.may_be_done():
                answer = guidance.say("table")
                if answer.get("running") == "off":
                    return answer
    except KeyboardInterrupt:
        guidance.say("end")
        raise
    guidance.say("end")
    raise NoResult("the checks did not end in time; they were ended")


class _Guidance:
    """What the unit tells while it checks, shown line by line."""

    def __init__(self, link: Link, out: TextIO) -> None:
        self._link = link
        self._out = out
        self._last = ""
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
        patience = ENDED_S if _ENDS.match(self._last) else QUIET_S
        return time.monotonic() - self._heard > patience

    def show(self, lines: list[str]) -> None:
        """Print them."""
        for line in lines:
            print(line, file=self._out, flush=True)
            self._last, self._heard = line, time.monotonic()


def table_lines(answer: dict) -> list[str]:
    """The unit's table for people."""
    lines = []
    for row in answer.get("table", []):
        number = "" if row["verdict"] == "not done" else f"{row['number']} (limit {row['limit']})"
        lines.append(f"{row['check']:<14} {row['verdict']:<9} {number:<24} {row['unit']:<36} "
                     f"{row['date'] or ''}")
    return lines + [f"hoses: {mistake}" for mistake in answer.get("hoses", [])]
