"""The zero of both sensors, taken on the ground at start-up while all is still and quiet.

A sensor's own zero error is as large as the dynamic pressure near the stall, so a zero is
compulsory: without a stored or a new one there are no margins. A new zero is taken from
`zero_ms` of data in short blocks. It is refused, and the stored zero stays in use, if

- the block means spread (gusts, handling): UNQUIET; or
- it is too far from the anchor: a cover, wind into the pitot, a changed sensor. The anchor is the
  last zero that somebody asked for, or the first there was; it stays while zeros follow the
  weather, or they could creep away, a little each day. Too far is further than
  `zero_change_dpa` or `zero_share_pm` of the dynamic pressure at the stall: FAR. A button that is
  held while the unit is switched on, and then let go, asks for a zero as if none were stored.

Once more after `zero_again_ms`, when the sensors have warmed up; this one may differ from the
first by `zero_spread_dpa` only, or wind could creep in. Never after the aeroplane has flown.
"""

from array import array

from micropython import const

from alula.conditioning import Channel
from alula.sample import NO_TEMPERATURE
from alula.settings import Settings

_BLOCK_MS = const(200)
_FAR = const(1000000)
UNQUIET = const(1)
FAR = const(2)


class _Mean:
    """Block means of one channel, their spread, and the mean of all."""

    def __init__(self) -> None:
        self.restart()

    def restart(self) -> None:
        self.total = 0
        self.count = 0
        self.low = _FAR
        self.high = -_FAR
        self._block_total = 0
        self._block_count = 0

    def add(self, dpa: int) -> None:
        self._block_total += dpa
        self._block_count += 1

    def close_block(self) -> None:
        count = self._block_count
        mean = (self._block_total + count // 2) // count
        if mean < self.low:
            self.low = mean
        if mean > self.high:
            self.high = mean
        self.total += self._block_total
        self.count += count
        self._block_total = 0
        self._block_count = 0

    def mean(self) -> int:
        return (self.total + self.count // 2) // self.count


class GroundZero:
    """Watches both channels on the ground and sets their zeros once, and once more when warm.

    stored: (pitot_dpa, angled_dpa) of the stored zero, or None where none was ever set; a stored
    zero of exactly 0 is a zero.
    known: a stored or a new zero is in use. taken: how many new ones; the latest from `samples`
    samples whose block means spread by spreads_dpa (pitot, angled), at temperature_dc (0.1 degC).
    refusals: attempts refused before one was taken; why: UNQUIET or FAR, the latest; changes_dpa:
    how far the latest attempt lay from the anchor (pitot, angled). anchor_dpa: (pitot, angled);
    anchored: the latest zero taken is a new anchor.
    """

    def __init__(self, settings: Settings, pitot: Channel, angled: Channel, stored) -> None:
        self._settings = settings
        self._channels = (pitot, angled)
        share_dpa = stall_q_dpa(settings) * settings.zero_share_pm // 1000
        self._usual_limit_dpa = self.limit_dpa = min(settings.zero_change_dpa, share_dpa)
        if stored is None:
            self.limit_dpa = settings.zero_first_dpa
        self.anchor_dpa = array("i", (0, 0) if stored is None else stored)
        self.anchored = False
        self._first = stored is None
        self.known = stored is not None
        self.taken = 0
        self.refusals = 0
        self.why = 0
        self.samples = 0
        self.spreads_dpa = array("i", (0, 0))
        self.changes_dpa = array("i", (0, 0))
        self.temperature_dc = NO_TEMPERATURE
        self._means = (_Mean(), _Mean())
        self._taken_dpa = array("i", (0, 0))
        self._wait_ms = 0
        self._block_ms = 0
        self._spent_ms = 0
        if stored is not None:
            pitot.zero_dpa, angled.zero_dpa = stored

    def ask_first(self) -> None:
        """Take the next zero as if none were stored. No allocation."""
        self.limit_dpa = self._settings.zero_first_dpa
        self.anchor_dpa[0] = self.anchor_dpa[1] = 0
        self._first = True
        self._wait_ms = 0
        self.restart()

    def adopt_anchor(self, pitot_dpa: int, angled_dpa: int) -> None:
        """The stored anchor, at the start. Without one the stored zero is the anchor."""
        if self.known:
            self.anchor_dpa[0], self.anchor_dpa[1] = pitot_dpa, angled_dpa

    def restart(self) -> None:
        """Begin an attempt anew, after a gap in the data. No allocation."""
        self._means[0].restart()
        self._means[1].restart()
        self._block_ms = 0
        self._spent_ms = 0

    def step(self, dt_ms: int, temperature_dc: int) -> None:
        """Take in the channels' pressures, both ready, before any flight. No allocation."""
        if self.taken > 1:
            return
        if self._wait_ms > 0:
            self._wait_ms -= dt_ms
            return
        self._means[0].add(self._channels[0].dpa)
        self._means[1].add(self._channels[1].dpa)
        self._block_ms += dt_ms
        if self._block_ms < _BLOCK_MS:
            return
        self._spent_ms += self._block_ms
        self._block_ms = 0
        self._means[0].close_block()
        self._means[1].close_block()
        if self._spent_ms >= self._settings.zero_ms:
            self._finish(temperature_dc)
            self.restart()

    def _finish(self, temperature_dc: int) -> None:
        first, second = self._fits(0), self._fits(1)
        if first != 0 or second != 0:
            if self.taken:
                return
            self.why = second if first == 0 else first
            if self.refusals < 1000:
                self.refusals += 1
            return
        for i in range(2):
            channel = self._channels[i]
            mean = self._means[i]
            channel.zero_dpa += mean.mean()
            if self._first:
                self.anchor_dpa[i] = channel.zero_dpa
            self._taken_dpa[i] = channel.zero_dpa
            self.spreads_dpa[i] = mean.high - mean.low
            self.samples = mean.count
            channel.clear()  # its window holds values with the zero before
        self.anchored = self._first
        if self._first:
            self._first = False
            self.limit_dpa = self._usual_limit_dpa
        self.temperature_dc = temperature_dc
        self.taken += 1
        self.known = True
        self._wait_ms = self._settings.zero_again_ms

    def _fits(self, i: int) -> int:
        """0, UNQUIET or FAR."""
        mean = self._means[i]
        zero_dpa = self._channels[i].zero_dpa + mean.mean()
        change = zero_dpa - self.anchor_dpa[i]
        self.changes_dpa[i] = change
        spread = self._settings.zero_spread_dpa
        if mean.high - mean.low > spread:
            return UNQUIET
        if self.taken and not self._first and not (
                -spread <= zero_dpa - self._taken_dpa[i] <= spread):
            return FAR
        return 0 if -self.limit_dpa <= change <= self.limit_dpa else FAR


def stall_q_dpa(settings: Settings) -> int:
    """Dynamic pressure at the slowest stall, 0.1 Pa: `flying_q_dpa` is 0.9 of it."""
    return settings.flying_q_dpa * 10 // 9
