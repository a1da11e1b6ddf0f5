"""Counts the starts of the unit, by cause; stored once a start, while it is quiet.

In the air, too: a unit that restarts in flight may well do so again before it lands.
"""

from alula import states
from alula.record_payloads import START_WORDS, STARTS
from alula.stall_capture import capture as stall_capture

SETTLE_TICKS = 500  # a start in the air is known by then, and a zero has been stored
_MOST = 65535


def counted(before, word: str) -> dict:
    """The counts with one more start. before: the stored value, or None. Counts end at 65535."""
    value = {name: 0 for name in START_WORDS + ("in_air",)} if before is None else dict(before)
    value[word] = min(value[word] + 1, _MOST)
    value["last"] = word
    return value


def told(value: dict) -> str:
    """A line for a listening computer."""
    return "start: %s (%s; %d in the air)" % (
        value["last"], ", ".join("%d by %s" % (value[name], name) for name in START_WORDS),
        value["in_air"])


class Starts:
    """Called once a tick; stores the counts once the unit is quiet, or speaks on the ground.

    value: the counts, this start among them.
    """

    def __init__(self, unit, vault, value: dict, say) -> None:
        self._unit = unit
        self._vault = vault
        self._say = say
        self._ticks = 0
        self._done = False
        self.value = value

    def step(self) -> None:
        """Allocates only when it stores."""
        if self._done:
            return
        if self._ticks < SETTLE_TICKS:
            self._ticks += 1
            return
        unit = self._unit
        if unit.state != states.QUIET and (unit.phase.flying or unit.state < states.FAULT):
            return
        if unit.capture.state != stall_capture.IDLE:
            return
        self._done = True
        if unit.phase.air_start:
            self.value["in_air"] = min(self.value["in_air"] + 1, _MOST)
        problem = self._vault.save(STARTS, self.value)
        if problem:
            self._say(problem)
