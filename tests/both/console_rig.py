"""What the console's tests share: a started unit, lines typed to it, answers read. Both
interpreters."""

import json

from tests.both.start_rig import Start, stored

FLYING_DPA = 6000


class Talk:
    """A unit with a computer on its console. On the ground unless it is told to fly."""

    def __init__(self, vault=None, ticks: int = 320, q_dpa: int = 0, **more) -> None:
        self.unit = Start(stored()[0] if vault is None else vault, **more)
        self.unit.q_dpa, self.unit.lift_pm = q_dpa, 300
        self.board = self.unit.board
        self.unit.prepare()
        self.heard = []
        self._read = 0
        self.run(ticks)

    def run(self, ticks: int = 1) -> None:
        """So many ticks in what it feels now."""
        self.heard += self.unit.fly(ticks, self.unit.lift_pm, self.unit.q_dpa)

    def fly(self, ticks: int, lift_pm: int = 300) -> None:
        """So many ticks in the air."""
        self.heard += self.unit.fly(ticks, lift_pm, FLYING_DPA)

    def type(self, text) -> None:
        """Send as it is."""
        self.board.keys.type(text)

    def answers(self) -> list:
        """Answers since the last look."""
        lines = self.board.terminal.lines()
        new, self._read = lines[self._read:], len(lines)
        return [json.loads(line) for line in new if line[:1] == "{"]

    def skip(self) -> None:
        """Do not look at what has been said so far."""
        self._read = len(self.board.terminal.lines())

    def ask(self, line: str, ticks: int = 300) -> dict:
        """One command, and its one answer."""
        self.answers()
        self.type(line + "\n")
        for _ in range(ticks):
            self.run()
            if not self.board.console.answering() and not self.board.keys.waiting():
                break
        found = self.answers()
        assert len(found) == 1, (line, found)
        return found[0]
