"""Faults that no single word shows, but the two pressures together do.

- frozen: a sensor sends one and the same word while the other channel moves. Both still is no
  fault: healthy, quiet sensors in still air do that.
- pitot dead: hardly any dynamic pressure, while the angled port feels wind; a plugged pitot, grass
  or a wasp, on the take-off run.
- angled dead: the angled sensor stays at zero while dynamic pressure changes by half.

Frozen and angled dead are looked for in flight only, and only in raw words: a `direct` word is a
number that somebody computed. Sources: field cases of frozen connectors and plugged probes.
"""

from micropython import const

from alula.conditioning import Channel
from alula.settings import Settings

NOTHING = const(0)
PITOT_FROZEN = const(1)  # in the order of the last words of `health.WORDS`
ANGLED_FROZEN = const(2)
PITOT_DEAD = const(3)
ANGLED_DEAD = const(4)
_LOOK_MS = const(100)
_NEAR_ZERO_DPA = const(40)
_FAR = const(1000000)


class _Move:
    """How far a pressure has moved while something lasted."""

    def __init__(self) -> None:
        self.restart()

    def restart(self) -> None:
        self.low = _FAR
        self.high = -_FAR

    def see(self, dpa: int) -> None:
        if dpa < self.low:
            self.low = dpa
        if dpa > self.high:
            self.high = dpa

    def by(self) -> int:
        return self.high - self.low if self.high >= self.low else 0


class PairWatch:
    """found: NOTHING or what is wrong; it lasts as long as the signs do."""

    def __init__(self, settings: Settings, raw: bool) -> None:
        """raw: both sensors send raw words."""
        self.found = NOTHING
        self._raw = raw
        self._min_q_dpa = settings.min_q_dpa
        self._frozen_ms = settings.frozen_ms
        self._frozen_move_dpa = settings.frozen_move_dpa
        self._alive_dpa = settings.alive_dpa
        self._dead_ms = settings.dead_ms
        self._spent_ms = 0
        self._pitot_dead_ms = 0
        self._q_seen = _Move()
        self._other_of_pitot = _Move()
        self._other_of_angled = _Move()

    def step(self, dt_ms: int, pitot: Channel, angled: Channel, flying: bool) -> None:
        """Look at two channels that are ready, ten times a second. No allocation."""
        self._spent_ms += dt_ms
        if self._spent_ms < _LOOK_MS:
            return
        spent_ms = self._spent_ms
        self._spent_ms = 0
        found = self._pitot_dead(spent_ms, pitot.dpa, angled.dpa)
        if found == NOTHING and self._raw:
            if flying:
                found = self._in_flight(pitot, angled)
            else:
                self._q_seen.restart()
        self.found = found

    def restart(self) -> None:
        """After a gap in the data: what went before is not held against the channels."""
        self.found = NOTHING
        self._pitot_dead_ms = 0
        self._q_seen.restart()
        self._other_of_pitot.restart()
        self._other_of_angled.restart()

    def _pitot_dead(self, spent_ms: int, q_dpa: int, angled_dpa: int) -> int:
        alive = angled_dpa >= self._alive_dpa or angled_dpa <= -self._alive_dpa
        if q_dpa >= self._min_q_dpa or not alive:
            self._pitot_dead_ms = 0
            return NOTHING
        if self._pitot_dead_ms < self._dead_ms:
            self._pitot_dead_ms += spent_ms
        return PITOT_DEAD if self._pitot_dead_ms >= self._dead_ms else NOTHING

    def _in_flight(self, pitot: Channel, angled: Channel) -> int:
        if self._frozen(pitot, angled.dpa, self._other_of_pitot):
            return PITOT_FROZEN
        if self._frozen(angled, pitot.dpa, self._other_of_angled):
            return ANGLED_FROZEN
        if -_NEAR_ZERO_DPA < angled.dpa < _NEAR_ZERO_DPA:
            self._q_seen.see(pitot.dpa)
            if self._q_seen.high * 2 > self._q_seen.low * 3:
                return ANGLED_DEAD
        else:
            self._q_seen.restart()
        return NOTHING

    def _frozen(self, channel: Channel, other_dpa: int, other: _Move) -> bool:
        if channel.same_ms < _LOOK_MS:
            other.restart()
            return False
        other.see(other_dpa)
        return channel.same_ms >= self._frozen_ms and other.by() >= self._frozen_move_dpa
