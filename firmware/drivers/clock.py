"""Time as the loop sees it: milliseconds that wrap at 2^30, and waiting for the next tick."""

from micropython import const

WAIT_MOST_MS = const(1000)  # well below any watchdog time, whatever deadline is asked for


class Clock:
    """The board's clock. Differences and sums go through it, because plain ones break at the wrap.

    No method allocates.
    """

    def __init__(self, time_module) -> None:
        """time_module: MicroPython's `time`, or anything with its tick and sleep functions."""
        self._time = time_module

    def now_ms(self) -> int:
        """Milliseconds, 0..2^30-1, from an arbitrary start."""
        return self._time.ticks_ms()

    def since_ms(self, now_ms: int, then_ms: int) -> int:
        """From `then_ms` to `now_ms`; negative if `now_ms` is earlier; right up to 2^29 ms."""
        return self._time.ticks_diff(now_ms, then_ms)

    def add_ms(self, time_ms: int, delta_ms: int) -> int:
        """The counter `delta_ms` after `time_ms`."""
        return self._time.ticks_add(time_ms, delta_ms)

    def sleep_us(self, duration_us: int) -> None:
        """Wait that long; for bus recovery at boot, not for the loop."""
        self._time.sleep_us(duration_us)

    def wait_until_ms(self, deadline_ms: int) -> int:
        """Sleep until the deadline, but never longer than WAIT_MOST_MS.

        Returns how late it is, 0 or more, in ms.
        """
        time = self._time
        left_ms = time.ticks_diff(deadline_ms, time.ticks_ms())
        if left_ms > 0:
            time.sleep_ms(min(left_ms, WAIT_MOST_MS))
        late_ms = time.ticks_diff(time.ticks_ms(), deadline_ms)
        return late_ms if late_ms > 0 else 0
