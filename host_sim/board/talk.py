"""Line commands to a running unit: one line out, one line of JSON back."""

import json
import time
from collections.abc import Callable

from host_sim.board.link import Link, Lost
from host_sim.errors import UsageError
from host_sim.runtimes.paths import use_firmware

use_firmware()

from console import replies  # noqa: E402

_STARTING = json.loads(replies.STARTING)
STARTING_S = 5.0
AGAIN_S = 0.2
ANSWER_S = 4.0  # a busy unit answers between ticks, a byte at a time


def answers(data: bytes) -> list[dict]:
    """Every whole line in it that is a unit's answer; narration never begins with a brace."""
    found = []
    for line in data.split(b"\n")[:-1]:
        if line.lstrip().startswith(b"{"):
            try:
                value = json.loads(line)
            except ValueError:
                continue
            if isinstance(value, dict) and isinstance(value.get("ok"), bool):
                found.append(value)
    return found


def narration(data: bytes) -> list[str]:
    """Whole lines that are no answer, as text to show."""
    lines = [line.decode("ascii", "replace").strip() for line in data.split(b"\n")[:-1]]
    return [line for line in lines if line and not line.startswith("{")]


def heard(link: Link, command: str, seconds: float = ANSWER_S) -> tuple[dict | None, list[str]]:
    """Send a command: (its answer, or None; the lines that came before it)."""
    link.waiting()
    link.write(b"\n" + command.encode("ascii") + b"\n")
    data = link.read_until(lambda found: bool(answers(found)), seconds)
    link.give_back(data.rpartition(b"\n")[2])
    found = answers(data)
    return (found[-1] if found else None), narration(data)


def ask(link: Link, command: str,
        tell: Callable[[list[str]], None] = lambda lines: None) -> dict:
    """The good answer to a command. UsageError where the unit refuses, Lost where it is silent.
    tell: called with the lines that came before the answer.

    A unit that has just started does not know yet whether it flies: it is asked again."""
    end = time.monotonic() + STARTING_S
    while True:
        answer, lines = heard(link, command)
        tell(lines)
        if answer is None:
            raise Lost(f"{link.port.name}: the unit did not answer {command.split()[0]!r}; "
                       "run the same command again")
        if answer["ok"]:
            return answer
        if answer != _STARTING or time.monotonic() > end:
            raise UsageError(refusal(answer))
        time.sleep(AGAIN_S)


def refusal(answer: dict) -> str:
    """What a unit says that refuses, and what to do."""
    return f"the unit refuses: {answer.get('why', 'no reason given')}; {answer.get('do', '')}"
