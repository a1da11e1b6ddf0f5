"""Which mistake in the hoses explains what the channels did when each port was puffed.

A puff at a port raises the pressure there. With q = pitot minus static, a channel answers +1, -1
or not at all; EXPECTED is derived in hardware_notes/ground_checks.md. A mistake is: hoses at the
wrong ports (a permutation), the two sensors or their hoses exchanged, a sensor's sense reversed,
a branch to one of the sensors off (where a port feeds both). A port that nothing answers to is
dead, whatever else is wrong.
"""

from micropython import const

from alula.ground_check.arrange import arrangements, exchanges

PORT_WORDS = (("pitot", "static", "angled"), ("pitot", "static", "angled"),
              ("pitot", "static", "angled", "upper"))
# For each plumbing, for each port: answer of the pitot channel, answer of the angled channel
EXPECTED = ((1, 0, -1, -1, 0, 1), (1, 1, -1, 0, 0, -1), (1, 0, -1, 0, 0, 1, 0, -1))
_FEEDS_BOTH = (1, 0, -1)  # the port whose line goes to both sensors
_EACH = const(24)  # exchanged, two senses, three branches
_PER_TICK = const(8)
UNEXPLAINED = const(99)


class Wiring:
    """plumbing: index into PLUMBINGS. Set `seen` (two answers a port), then `begin` and call
    `search` until it is true.

    mistakes: how many the simplest explanation needs, dead ports among them; 0: all is right;
    UNEXPLAINED: no two mistakes explain it. order: which line each port's hose goes to.
    reversed_pitot, reversed_angled, exchanged: what else is wrong; cut: -1, or the channel (0
    pitot, 1 angled) whose branch of the common line is off; dead: bit i is set where port i is.
    """

    def __init__(self, plumbing: int) -> None:
        self.ports = len(PORT_WORDS[plumbing])
        self.seen = bytearray(2 * self.ports)  # 0, 1, and 2 for -1
        self.mistakes = UNEXPLAINED
        self.dead = 0
        self.exchanged = self.reversed_pitot = self.reversed_angled = False
        self.cut = -1
        self._expected = EXPECTED[plumbing]
        self._both = _FEEDS_BOTH[plumbing]
        self._orders = arrangements(self.ports)
        self.order = self._orders[0]
        self._at = 0
        self._best = 0
        self._rank = UNEXPLAINED

    def begin(self) -> None:
        """All ports have been puffed. No allocation."""
        self._at = 0
        self.mistakes = self._rank = UNEXPLAINED
        self.dead = 0
        for port in range(self.ports):
            if not self.seen[2 * port] and not self.seen[2 * port + 1]:
                self.dead |= 1 << port

    def search(self) -> bool:
        """Look at a few explanations; true when all have been looked at. No allocation."""
        for _ in range(_PER_TICK):
            if self._at >= _EACH * len(self._orders):
                if self.mistakes != UNEXPLAINED:
                    self._unpack(self._best)
                    self.mistakes += self._dead_count()
                return True
            cost = self._cost(self._at)
            rank = 2 * cost + (self._at & 1)  # of two that are alike, hoses rather than sensors
            if cost <= 2 and rank < self._rank and self._explains(self._at):
                self.mistakes = cost
                self._rank = rank
                self._best = self._at
            self._at += 1
        return False

    def _dead_count(self) -> int:
        count = 0
        for port in range(self.ports):
            count += self.dead >> port & 1
        return count

    def _unpack(self, code: int) -> None:
        """The fields of an explanation. No allocation."""
        self.order = self._orders[code // _EACH]
        code %= _EACH
        self.exchanged = code & 1 != 0
        self.reversed_pitot = code & 2 != 0
        self.reversed_angled = code & 4 != 0
        self.cut = code // 8 - 1

    def _cost(self, code: int) -> int:
        flags = code % _EACH
        cut = 1 if flags >= 8 else 0
        if cut and self._both < 0:
            return UNEXPLAINED
        return (exchanges(self._orders[code // _EACH]) + (flags & 1) + (flags >> 1 & 1)
                + (flags >> 2 & 1) + cut)

    def _explains(self, code: int) -> bool:
        order = self._orders[code // _EACH]
        flags = code % _EACH
        cut = flags // 8 - 1
        for port in range(self.ports):
            if self.dead >> port & 1:
                continue
            line = order[port]
            for channel in range(2):
                answer = self._expected[2 * line + (channel ^ flags & 1)]
                if line == self._both and cut == channel:
                    answer = 0
                if flags >> (1 + channel) & 1:
                    answer = -answer
                if self.seen[2 * port + channel] != (2 if answer < 0 else answer):
                    return False
        return True
