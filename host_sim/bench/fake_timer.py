"""A periodic hardware timer on the virtual clock."""

from host_sim.bench.virtual_clock import VirtualClock


class FakeTimer:
    """Calls back once a period while the clock goes on; register with `clock.watch(timer)`."""

    def __init__(self, clock: VirtualClock, period_ms: int, callback) -> None:
        self._callback = callback
        self._period_us = period_ms * 1000
        self._next_us = clock.elapsed_us() + self._period_us

    def due_us(self) -> int:
        """When it calls back next, in the clock's elapsed time."""
        return self._next_us

    def fire(self) -> None:
        """Call back, and wait for the next period."""
        self._next_us += self._period_us
        self._callback(self)
