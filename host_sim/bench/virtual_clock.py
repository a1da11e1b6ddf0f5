"""Time that moves only when told to, and wraps as a board's does."""

TICKS_PERIOD = 1 << 30  # MicroPython documents 2^30 on 32-bit boards: 12.4 days of milliseconds


class VirtualClock:
    """Same interface as the firmware's `drivers.clock.Clock`; never sleeps.

    start_ms: the counter at the beginning, so that a wrap can be met soon.
    stalls: list of [at_ms, length_ms], times since the beginning, in rising order: the first wait
    that ends at or after `at_ms` comes back `length_ms` late, as after a flash erase.
    """

    def __init__(self, start_ms: int = 0, stalls: list[list[int]] | None = None) -> None:
        self._start_ms = start_ms % TICKS_PERIOD
        self._elapsed_us = 0
        self._stalls = stalls if stalls is not None else []
        self._next_stall = 0
        self._timer = None

    def now_ms(self) -> int:
        """The counter, 0..2^30-1."""
        return (self._start_ms + self._elapsed_us // 1000) % TICKS_PERIOD

    def elapsed_us(self) -> int:
        """Microseconds since the beginning; does not wrap."""
        return self._elapsed_us

    def elapsed_ms(self) -> int:
        """Whole milliseconds since the beginning; does not wrap."""
        return self._elapsed_us // 1000

    def since_ms(self, now_ms: int, then_ms: int) -> int:
        """As MicroPython's `ticks_diff(now_ms, then_ms)`."""
        half = TICKS_PERIOD // 2
        return (now_ms - then_ms + half) % TICKS_PERIOD - half

    def add_ms(self, time_ms: int, delta_ms: int) -> int:
        """As MicroPython's `ticks_add(time_ms, delta_ms)`."""
        return (time_ms + delta_ms) % TICKS_PERIOD

    def advance_ms(self, duration_ms: int) -> None:
        """Let time pass; ValueError if it should go back."""
        self.advance_us(duration_ms * 1000)

    def advance_us(self, duration_us: int) -> None:
        """Let time pass; ValueError if it should go back."""
        if duration_us < 0:
            raise ValueError("time does not go back")
        end_us = self._elapsed_us + duration_us
        timer = self._timer
        while timer is not None and timer.due_us() <= end_us:
            self._elapsed_us = timer.due_us()
            timer.fire()
        self._elapsed_us = end_us

    def watch(self, timer) -> None:
        """Let a timer call back as time passes, whoever lets it pass."""
        self._timer = timer

    def sleep_us(self, duration_us: int) -> None:
        """As `advance_us`, under the name the firmware calls."""
        self.advance_us(duration_us)

    def wait_until_ms(self, deadline_ms: int) -> int:
        """Jump to the deadline, or stay if it has passed; then suffer any stall that is due.

        Returns how late it is, 0 or more, in ms.
        """
        left_ms = self.since_ms(deadline_ms, self.now_ms())
        if left_ms > 0:
            self.advance_us(left_ms * 1000 - self._elapsed_us % 1000)
        self._suffer_stalls()
        late_ms = self.since_ms(self.now_ms(), deadline_ms)
        return late_ms if late_ms > 0 else 0

    def _suffer_stalls(self) -> None:
        while self._next_stall < len(self._stalls):
            stall = self._stalls[self._next_stall]
            if stall[0] > self.elapsed_ms():
                return
            self._next_stall += 1
            self.advance_ms(stall[1])
