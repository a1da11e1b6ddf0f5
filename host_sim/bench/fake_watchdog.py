"""A watchdog that tells when it would have bitten, instead of restarting anything."""

from host_sim.bench.virtual_clock import VirtualClock


class FakeWatchdog:
    """Runs from its making. bites: times that more than `timeout_ms` passed unfed."""

    def __init__(self, clock: VirtualClock, timeout_ms: int) -> None:
        self.timeout_ms = timeout_ms
        self.feeds = 0
        self.bites = 0
        self.longest_ms = 0
        self._clock = clock
        self._fed_ms = clock.elapsed_ms()

    def feed(self) -> None:
        """As `machine.WDT.feed()`."""
        self.check()
        self.feeds += 1
        self._fed_ms = self._clock.elapsed_ms()

    def check(self) -> bool:
        """Whether it has ever bitten, also for the time since the last feed."""
        unfed_ms = self._clock.elapsed_ms() - self._fed_ms
        self.longest_ms = max(self.longest_ms, unfed_ms)
        if unfed_ms > self.timeout_ms:
            self.bites += 1
            self._fed_ms = self._clock.elapsed_ms()  # the board would have started anew here
        return self.bites > 0
