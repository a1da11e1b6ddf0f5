"""The zero of both sensors, taken on the ground at start-up while all is still and quiet.

A sensor's own zero error is as large as the dynamic pressure near the stall, so a zero is
compulsory: without a stored or a new one there are no margins. A new zero is taken from
`zero_ms` of data in short blocks; it is refused if the block means spread (gusts, handling), or
if it is too far from the stored zero (a cover, wind into the pitot, a changed sensor). Then the
stored zero stays in use, and the unit says so. It is never taken while flying.
"""

from array import array

from micropython import const

from alula.conditioning import Channel
from alula.settings import Settings

_BLOCK_MS = const(200)
_FAR = const(1000000)


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
    """Watches both channels on the ground and sets their zeros once.

    stored: (pitot_dpa, angled_dpa) of the stored zero, or None where none was ever set; a stored
    zero of exactly 0 is a zero.
    known: a stored or a new zero is in use. taken: a new one, from `samples` samples whose block
    means spread by spreads_dpa (pitot, angled). refusals: attempts refused so far.
    """

    def __init__(self, settings: Settings, pitot: Channel, angled: Channel, stored) -> None:
        self._settings = settings
        self._channels = (pitot, angled)
        self._limit_dpa = settings.zero_first_dpa if stored is None else settings.zero_change_dpa
        self._stored = (0, 0) if stored is None else stored
        self.known = stored is not None
        self.taken = False
        self.refusals = 0
        self.samples = 0
        self.spreads_dpa = array("i", (0, 0))
        self._means = (_Mean(), _Mean())
        self._block_ms = 0
        self._spent_ms = 0
        if stored is not None:
            pitot.zero_dpa, angled.zero_dpa = stored

    def restart(self) -> None:
        """Begin an attempt anew, after a gap in the data. No allocation."""
        self._means[0].restart()
        self._means[1].restart()
        self._block_ms = 0
        self._spent_ms = 0

    def step(self, dt_ms: int) -> None:
        """Take in the channels' pressures, both ready, on the ground. No allocation."""
        if self.taken:
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
            self._finish()
            self.restart()

    def _finish(self) -> None:
        if not self._fits(0) or not self._fits(1):
            if self.refusals < 1000:
                self.refusals += 1
            return
        for i in range(2):
            channel = self._channels[i]
            mean = self._means[i]
            channel.zero_dpa += mean.mean()
            self.spreads_dpa[i] = mean.high - mean.low
            self.samples = mean.count
            channel.clear()  # its window holds values with the zero before
        self.taken = True
        self.known = True

    def _fits(self, i: int) -> bool:
        mean = self._means[i]
        if mean.high - mean.low > self._settings.zero_spread_dpa:
            return False
        change = self._channels[i].zero_dpa + mean.mean() - self._stored[i]
        return -self._limit_dpa <= change <= self._limit_dpa
