"""Faults that no single word shows, but the two pressures together do.

- frozen: a sensor that has been lively sends one and the same word while the other channel moves
  so that this one ought to; or both, lively ones, for twice as long, on the ground for five times
  as long: there the air itself may fall still. A healthy, quiet sensor repeats itself too; and in
  steady flight some ports feel one pressure at every speed. Noise tells: only a sensor whose words
  have kept changing for ten seconds can freeze.
- pitot dead: less dynamic pressure than it takes to fly, while the angled port feels more than two
  and a half times as much; the theory of a sphere allows 1.25 times (one port) or 2.25 times (two
  ports). A plugged pitot, grass or a wasp, on the take-off run; swapped hoses. Or: for longer, far
  less than none: a tail wind of 35 kt is needed for that (a head in its own wake feels -0.4 of
  it; sphere base pressure, from memory). It is over with enough dynamic pressure, or ten seconds
  after the last sign.
- angled dead: the angled sensor stays at zero for long while dynamic pressure changes by half.
- twins: two lively sensors send one and the same word for long: one of them answers for both.

All but pitot dead are looked for in flight only, and only in raw words: a `direct` word is a
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
TWINS = const(5)
BOTH_FROZEN = const(6)
_LOOK_MS = const(100)
_NEAR_ZERO_DPA = const(40)
_ZERO_LONG = const(8)  # times dead_ms: in a pull-up or a dive the ratio can be zero for a while
_LEARN_MS = const(10000)
_LEAST_Q_DPA = const(256)
_LESS_THAN_NONE_DPA = const(-800)
_NEGATIVE_LONG = const(5)  # times dead_ms
_LINGER_MS = const(10000)
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


class _Life:
    """yes: the words of a sensor have kept changing, up to a repetition that may be going on."""

    def __init__(self, long_ms: int) -> None:
        self.yes = False
        self._long_ms = long_ms
        self._long = False
        self._changing_ms = 0

    def see(self, spent_ms: int, same_ms: int) -> None:
        if same_ms >= self._long_ms:
            self._long = True
            return
        if self._long:
            self._long = False
            self._changing_ms = 0
        if self._changing_ms < _LEARN_MS:
            self._changing_ms += spent_ms
        self.yes = self._changing_ms >= _LEARN_MS


class PairWatch:
    """found: NOTHING or what is wrong; it lasts as long as the signs do."""

    def __init__(self, settings: Settings, raw: bool) -> None:
        """raw: both sensors send raw words."""
        self.found = NOTHING
        self._raw = raw
        self._flying_q_dpa = settings.flying_q_dpa
        self._frozen_ms = settings.frozen_ms
        self._frozen_move_dpa = settings.frozen_move_dpa
        self._alive_dpa = settings.alive_dpa
        self._dead_ms = settings.dead_ms
        self._pitot_dead_ms = 0
        self._negative_ms = 0
        self._linger_ms = 0
        self._zero_ms = 0
        self._twin_ms = 0
        self._q_seen = _Move()
        self._pitot_life = _Life(settings.frozen_ms >> 2)
        self._angled_life = _Life(settings.frozen_ms >> 2)
        self._other_of_pitot = _Move()
        self._other_of_angled = _Move()

    def step(self, spent_ms: int, pitot: Channel, angled: Channel, flying: bool,
             angled_odd: bool) -> None:
        """Look at two channels that are ready, spent_ms after the look before. No allocation.

        angled_odd: the angled pressure is no witness against the pitot now.
        """
        if pitot.word != angled.word:
            self._twin_ms = 0
        elif self._twin_ms < self._frozen_ms:
            self._twin_ms += spent_ms
        found = NOTHING
        if angled_odd:
            self._pitot_dead_ms = 0
        else:
            found = self._pitot_dead(spent_ms, pitot.dpa, angled.dpa)
        if found == NOTHING and self._raw:
            self._pitot_life.see(spent_ms, pitot.same_ms)
            self._angled_life.see(spent_ms, angled.same_ms)
            if flying:
                found = self._in_flight(spent_ms, pitot, angled)
            else:
                self._zero_ms = 0
            long_ms = 2 * self._frozen_ms if flying else 5 * self._frozen_ms
            if (pitot.same_ms >= long_ms and angled.same_ms >= long_ms
                    and self._pitot_life.yes and self._angled_life.yes):
                found = BOTH_FROZEN
        self.found = found

    def restart(self) -> None:
        """After a gap in the data: what went before is not held against the channels."""
        self.found = NOTHING
        self._pitot_dead_ms = self._negative_ms = self._linger_ms = 0
        self._zero_ms = self._twin_ms = 0
        self._other_of_pitot.restart()
        self._other_of_angled.restart()

    def _pitot_dead(self, spent_ms: int, q_dpa: int, angled_dpa: int) -> int:
        size_dpa = angled_dpa if angled_dpa > 0 else -angled_dpa
        if q_dpa >= self._flying_q_dpa:
            self._linger_ms = self._pitot_dead_ms = self._negative_ms = 0
            return NOTHING
        if size_dpa < self._alive_dpa or 2 * size_dpa <= 5 * q_dpa:
            self._pitot_dead_ms = 0
        elif self._pitot_dead_ms < self._dead_ms:
            self._pitot_dead_ms += spent_ms
        if q_dpa >= _LESS_THAN_NONE_DPA:
            self._negative_ms = 0
        elif self._negative_ms < _NEGATIVE_LONG * self._dead_ms:
            self._negative_ms += spent_ms
        if (self._pitot_dead_ms >= self._dead_ms
                or self._negative_ms >= _NEGATIVE_LONG * self._dead_ms):
            self._linger_ms = _LINGER_MS
        elif self._linger_ms > 0:
            self._linger_ms -= spent_ms
        return PITOT_DEAD if self._linger_ms > 0 else NOTHING

    def _in_flight(self, spent_ms: int, pitot: Channel, angled: Channel) -> int:
        if self._twin_ms >= self._frozen_ms and self._pitot_life.yes and self._angled_life.yes:
            return TWINS
        moved_dpa = self._moved(pitot, angled.dpa, self._other_of_pitot)
        if self._pitot_life.yes and moved_dpa >= 2 * self._frozen_move_dpa:
            return PITOT_FROZEN
        moved_dpa = self._moved(angled, pitot.dpa, self._other_of_angled)
        moved_dpa = _expected(angled.dpa, moved_dpa, pitot.dpa)
        if self._angled_life.yes and moved_dpa >= self._frozen_move_dpa:
            return ANGLED_FROZEN
        return self._angled_dead(spent_ms, pitot.dpa, angled.dpa)

    def _moved(self, channel: Channel, other_dpa: int, other: _Move) -> int:
        """How far the other pressure has moved while this channel sent one word for too long."""
        if channel.same_ms < _LOOK_MS:
            other.restart()
            return 0
        other.see(other_dpa)
        return other.by() if channel.same_ms >= self._frozen_ms else 0

    def _angled_dead(self, spent_ms: int, q_dpa: int, angled_dpa: int) -> int:
        if not -_NEAR_ZERO_DPA < angled_dpa < _NEAR_ZERO_DPA:
            self._zero_ms = 0
            return NOTHING
        if not self._zero_ms:
            self._q_seen.restart()
        self._q_seen.see(q_dpa)
        if self._zero_ms < _ZERO_LONG * self._dead_ms:
            self._zero_ms += spent_ms
            return NOTHING
        return ANGLED_DEAD if self._q_seen.high * 2 > self._q_seen.low * 3 else NOTHING


def _expected(angled_dpa: int, moved_dpa: int, q_dpa: int) -> int:
    """How far the angled pressure would have moved with q at the same ratio, about, 0.1 Pa; 0
    where there is hardly any q.

    Shifted down first, so that the product stays below 2^26. No allocation.
    """
    if q_dpa < _LEAST_Q_DPA:
        return 0
    size = angled_dpa if angled_dpa > 0 else -angled_dpa
    return (moved_dpa >> 4) * (size >> 4) // (q_dpa >> 8)
