"""A straight line kept fitted, by least squares, through the last N evenly spaced values.

With values y_0 (oldest) .. y_(N-1), m = (N-1)/2 and slots T apart, the fitted line at a time
`horizon` after the newest slot is

    y = S0/N + h * D / K,   S0 = sum y_i,  S1 = sum i*y_i,  D = 2*S1 - (N-1)*S0,
    h = (N-1)*T + 2*horizon,  K = T * N * (N^2 - 1) / 3

(textbook least squares, rearranged so that only two sums run; checked against numpy.polyfit).
Both sums are exact integers: no drift, whatever the flight's length.
"""

from array import array

import micropython
from micropython import const

_LIMIT = const(100000)


class MovingLine:
    """The line through the last `slots` values, `period_ms` apart.

    Bounds, for |value| <= 105 000 (the clamp and a zero), slots * period_ms <= 400, period_ms >= 5
    and a horizon of at most 300 ms: |S1| <= 3.4e8, |D| <= 6.8e8, h * (D mod K) <= 8.5e8 (at 500 ms
    it would be 1.2e9). All below 2^30. No allocation after construction.
    """

    def __init__(self, slots: int, period_ms: int) -> None:
        self.slots = slots
        self.full = False
        self._values = array("i", [0] * slots)
        self._last = slots - 1
        self._reach_ms = (slots - 1) * period_ms
        self._norm = period_ms * slots * (slots * slots - 1) // 3
        self._half_norm = self._norm // 2
        self._half_slots = slots // 2
        self.clear()

    def clear(self) -> None:
        """Forget every value."""
        self.full = False
        self.count = 0
        self._next = 0
        self._sum = 0
        self._moment = 0

    @micropython.native
    def push(self, value: int) -> None:
        """Take in the next value, one slot after the one before. No allocation."""
        i = self._next
        if self.full:
            old = self._values[i]
            self._moment += self._last * value - self._sum + old
            self._sum += value - old
        else:
            self._moment += self.count * value
            self._sum += value
            self.count += 1
            self.full = self.count == self.slots
        self._values[i] = value
        self._next = i + 1 if i < self._last else 0

    @micropython.native
    def value(self, horizon_ms: int) -> int:
        """The line `horizon_ms` (0..300) after the newest slot, clamped to +-100 000.

        Call only when `full`. Divided in two steps, so that no product passes 2^30; `//` floors,
        and half a divisor is added so that it rounds. No allocation.
        """
        total = self._sum
        tilt = 2 * self._moment - self._last * total
        norm = self._norm
        reach = self._reach_ms + 2 * horizon_ms
        whole = tilt // norm
        bend = reach * whole + (reach * (tilt - whole * norm) + self._half_norm) // norm
        y = (total + self._half_slots) // self.slots + bend
        if y > _LIMIT:
            return _LIMIT
        if y < -_LIMIT:
            return -_LIMIT
        return y
