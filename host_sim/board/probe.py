"""What is at the other end of a port: a unit, bare MicroPython, or something that is silent.

Nothing here stops a running program. In this order: a unit answers `status`; MicroPython's prompt
answers Ctrl-B with its banner, also out of a raw REPL that an earlier command left; Ctrl-D ends a
piece of program that was cut off on its way.
"""

import re
from dataclasses import dataclass

from host_sim.board.link import Link
from host_sim.board.talk import heard

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
    answer, _ = heard(link, "status", STATUS_S)
    if answer is not None:
        return State("unit" if answer["ok"] else "refuses", answer)
    for attempt in (b"\r\x02", b"\x04\r\x02")[:2 if stuck else 1]:
        link.waiting()
        link.write(attempt)
        data = link.read_until(lambda found: found.endswith(_PROMPT), PROMPT_S)
        if data.endswith(_PROMPT):
            banner = _BANNER.search(data)
            words = [part.decode("ascii", "replace").strip()
                     for part in banner.groups()] if banner else ["", ""]
            return State("repl", {}, words[0], words[1])
    return State("silent", {})
