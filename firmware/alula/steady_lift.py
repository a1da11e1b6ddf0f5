"""The lift share of steady flight: a mean over two seconds, if it kept still."""

from array import array

from micropython import const

_BLOCKS = const(4)
_BLOCK_MS = const(500)
_STILL_PM = const(60)


class SteadyLift:
    """value_pm: mean of the last two seconds; steady: whether their parts lie close together."""

    def __init__(self) -> None:
        self._means = array("i", [0] * _BLOCKS)
        self.clear()

    def clear(self) -> None:
        """Forget everything, e.g. after a gap."""
        self.steady = False
        self.value_pm = 0
        self._blocks = 0
        self._total = 0
        self._count = 0
        self._spent_ms = 0

    def step(self, dt_ms: int, lift_pm: int) -> None:
        """Take in one tick. No allocation."""
        self._total += lift_pm
        self._count += 1
        self._spent_ms += dt_ms
        if self._spent_ms < _BLOCK_MS:
            return
        self._means[self._blocks % _BLOCKS] = self._total // self._count
        self._blocks += 1
        self._total = self._count = self._spent_ms = 0
        if self._blocks >= _BLOCKS:
            self._blocks = _BLOCKS + self._blocks % _BLOCKS
            self._judge()

    def _judge(self) -> None:
        low = high = total = self._means[0]
        for i in range(1, _BLOCKS):
            mean = self._means[i]
            total += mean
            if mean < low:
                low = mean
            if mean > high:
                high = mean
        self.value_pm = total // _BLOCKS
        self.steady = high - low <= _STILL_PM
