"""Tells a listening computer what became of the zero, in Pa and in knots."""

from alula.ground_zero import UNQUIET, stall_q_dpa
from alula.intmath import airspeed_ckt
from alula.sample import NO_TEMPERATURE


class ZeroStory:
    """Called once a tick; says a line when something has changed. say: takes a line of text.

    stored_dc: temperature of the stored zero, 0.1 degC, or None.
    """

    def __init__(self, unit, settings, stored_dc, say) -> None:
        self._unit = unit
        self._say = say
        self._taken = 0
        self._refused = False
        self._zero_dc = NO_TEMPERATURE if stored_dc is None else stored_dc
        self._limit_dc = settings.zero_warmth_dc
        self._warm = False
        self._q_dpa = stall_q_dpa(settings)

    def step(self) -> None:
        """No allocation while nothing changes."""
        zero = self._unit.zero
        if zero.taken != self._taken:
            self._taken = zero.taken
            self._zero_dc = zero.temperature_dc
            self._say("zero: pitot %s, angled %s; changed by %s and %s; from %d samples" % (
                pascals(self._unit.pitot.zero_dpa), pascals(self._unit.angled.zero_dpa),
                knots(zero.changes_dpa[0]), knots(zero.changes_dpa[1]), zero.samples))
        elif zero.refusals and not self._refused and not zero.taken:
            self._refused = True
            self._say(self._refusal(zero))
        if not self._warm:
            self._look_at_warmth(self._unit.temperature_dc)

    def _refusal(self, zero) -> str:
        if zero.why == UNQUIET:
            return ("zero refused: the pressures are not still; the stored one stays in use. Stop "
                    "the engine, turn out of the wind, cover the probe")
        return ("zero refused: pitot and angled lie %s and %s from the one asked for, more than "
                "%s (%d %% of q at the stall); the stored one stays in use. Wind, a cover, or a "
                "changed sensor; hold the button at switch-on to take a first zero" % (
                    knots(zero.changes_dpa[0]), knots(zero.changes_dpa[1]),
                    pascals(zero.limit_dpa), zero.limit_dpa * 100 // self._q_dpa))

    def _look_at_warmth(self, now_dc: int) -> None:
        if now_dc == NO_TEMPERATURE or self._zero_dc == NO_TEMPERATURE:
            return
        if not -self._limit_dc <= now_dc - self._zero_dc <= self._limit_dc:
            self._warm = True
            self._say("zero: taken at %s degC, the sensors are at %s now; take it again on the "
                      "ground" % (tenths(self._zero_dc), tenths(now_dc)))


def tenths(value: int) -> str:
    """A number of tenths with its sign and point."""
    size = value if value >= 0 else -value
    return "%s%d.%d" % ("-" if value < 0 else "", size // 10, size % 10)


def pascals(dpa: int) -> str:
    """A pressure in Pa."""
    return tenths(dpa) + " Pa"


def knots(dpa: int) -> str:
    """A pressure in Pa, and the airspeed that it would be."""
    speed = airspeed_ckt(dpa if dpa >= 0 else -dpa)
    return "%s (%d.%d kt)" % (pascals(dpa), speed // 100, speed // 10 % 10)
