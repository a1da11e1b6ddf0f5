"""The console: reads command lines once a tick, answers each by one line of JSON.

In the air it changes nothing, and answers only while all is quiet: an answer puts objects on the
heap, and to collect them can take some tens of milliseconds. Nothing here silences a sound.
"""

import gc

from micropython import const

from console import replies
from console.commands import COMMANDS, IN_AIR
from console.line import MORE, NOT_TEXT, TOO_LONG, CommandLine
from console.setting import set_one
from drivers.console import PIECE

STARTING_MS = const(3000)  # until then the unit may not know that it flies
AIR_EVERY_MS = const(1000)
LEAVE_MS = const(300)  # from the end of an answer to the restart it has promised
_STAY, _RESTART, _MAINTAIN = const(0), const(1), const(2)


class ConsoleDesk:
    """One of the loop's followers; call `step` once a tick.

    facts: `Facts`. period_ms: of the loop. checks: has `command(words)` -> answer, or None.
    """

    def __init__(self, facts, period_ms: int, checks=None) -> None:
        self._facts = facts
        self._console = facts.board.console
        self._period_ms = period_ms
        self._checks = checks
        self._line = CommandLine()
        self._piece = bytearray(PIECE)
        self._count = 0
        self._at = 0
        self._started_ms = 0
        self._rest_ms = 0
        self._then = _STAY
        self._leave_ms = 0

    def follow(self, loop) -> None:
        """loop: tells sample and missed."""
        self._facts.loop = loop

    def step(self) -> None:
        """Send, read, answer. No allocation while nothing comes."""
        console = self._console
        if self._started_ms < STARTING_MS:
            self._started_ms += self._period_ms
        if self._rest_ms > 0:
            self._rest_ms -= self._period_ms
        console.pump()
        if console.answering():
            return
        if self._then != _STAY:
            self._leave()
            return
        if self._at == self._count:
            self._at = 0
            self._count = console.read(self._piece)
        while self._at < self._count and not console.answering():
            found = self._line.add(self._piece[self._at])
            self._at += 1
            if found != MORE:
                self._take(found)

    def _leave(self) -> None:
        """The answer is on its way: a little later the board restarts, unless it flies by now."""
        self._leave_ms -= self._period_ms
        if self._leave_ms > 0:
            return
        then, self._then = self._then, _STAY
        if self._facts.flying():
            return
        if then == _MAINTAIN:
            self._facts.board.maintain()
        else:
            self._facts.board.restart()

    def _take(self, found: int) -> None:
        """A line has ended. In the air no allocation, but while quiet, once a second at most."""
        facts, console = self._facts, self._console
        flying = facts.flying()
        if flying and (self._rest_ms > 0 or not facts.quiet()):
            console.answer(replies.FLYING)
        elif found == TOO_LONG:
            console.answer(replies.TOO_LONG)
        elif found == NOT_TEXT:
            console.answer(replies.NOT_TEXT)
        else:
            self._rest_ms = AIR_EVERY_MS
            console.answer(self._reply(self._line.text().split(), flying))
            gc.collect()  # here, while quiet, what the answer leaves behind

    def _reply(self, words: list, flying: bool) -> bytes:
        if not words or flying and words[0] not in IN_AIR:
            return replies.FLYING if flying else replies.NOT_TEXT
        if words[0] not in IN_AIR and self._started_ms < STARTING_MS:
            return replies.STARTING
        try:
            return replies.as_line(self._answer(words))
        except Exception as error:  # no memory, a mistake: the warning goes on without an answer
            return replies.as_line(replies.refused(
                "%s %s" % (type(error).__name__, error), "report it, and restart the unit"))

    def _answer(self, words: list) -> dict:
        name, facts = words[0], self._facts
        wanted = {"set": (3, 3), "check": (2, 9)}.get(name, (1, 1))
        if name not in [row[0] for row in COMMANDS]:
            return replies.refused("%s is not a command" % name, "ask for help")
        if not wanted[0] <= len(words) <= wanted[1]:
            return replies.refused("%s takes %s" % (name, {"set": "NAME VALUE", "check": "STEP"}
                                                    .get(name, "nothing more")), "ask for help")
        if name == "set":
            return set_one(facts, words[1], words[2])
        if name == "check":
            if self._checks is None:
                return replies.refused("the settings are amiss", "correct them first")
            return self._checks.command(words[1:])
        if name in ("restart", "maintain"):
            return self._promise(name)
        if name == "help":
            return replies.ready(commands=[" ".join([row[0], row[1]]).strip() + ": " + row[2]
                                           for row in COMMANDS])
        return getattr(facts, name)()

    def _promise(self, name: str) -> dict:
        self._then = _RESTART if name == "restart" else _MAINTAIN
        self._leave_ms = LEAVE_MS
        return replies.ready(restarting=name)
