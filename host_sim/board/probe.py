"""What is at the other end of a port: a unit, bare MicroPython, or something that is silent.

Nothing here stops a running program. In this order: a unit answers `status`; MicroPython's prompt
answers Ctrl-B with its banner, also out of a raw REPL that an earlier command left; Ctrl-D ends a
piece of program that was cut off on its way.
"""

import re
from dataclasses import dataclass

from host_sim.board.link import Link
from host_sim.board.talk import answers

STATUS_S = 1.5
PROMPT_S = 0.6
_PROMPT = b">>> "
_BANNER = re.compile(rb"(MicroPython [^\r\n;]*); ?([^\r\n]*)")


@dataclass(frozen=True)
class State:
    """kind: "unit", "refuses" (a unit that does not answer now), "repl" or "silent".

    status: the unit's answer, of a unit or one that refuses. version, machine: of a REPL.
    """

    kind: str
    status: dict
    version: str = ""
    machine: str = ""


def probe(link: Link, stuck: bool = True) -> State:
    """Find out; takes up to 3 s where nothing answers.

    stuck: false leaves Ctrl-D out: to a board that is still starting it would come late, when
    it means a restart."""
    link.waiting()
    link.write(b"\nstatus\n")
    found = answers(link.read_until(_answered_or_echoed, STATUS_S))
    if found:
        return State("unit" if found[-1]["ok"] else "refuses", found[-1])
    for attempt in (b"\r\x02", b"\x04\r\x02")[:2 if stuck else 1]:
        link.waiting()
        link.write(attempt)
        data = link.read_until(_banner_and_prompt, PROMPT_S)
        banner = _BANNER.search(data)
        if banner and data.endswith(_PROMPT):
            version, machine = (part.decode("ascii", "replace") for part in banner.groups())
            return State("repl", {}, version.strip(), machine.strip())
    return State("silent", {})


def _banner_and_prompt(data: bytes) -> bool:
    return data.endswith(_PROMPT) and _BANNER.search(data) is not None


def _answered_or_echoed(data: bytes) -> bool:
    """A unit has answered; or a prompt has sent the word back, which no unit does."""
    return bool(answers(data)) or data.endswith(b"status") and b"{" not in data
