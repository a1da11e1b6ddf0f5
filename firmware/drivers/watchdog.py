"""The watchdog: restarts the board when the loop stops feeding it."""


class Watchdog:
    """Asleep until `start()`; a board without one passes None and every call does nothing."""

    def __init__(self, wdt_factory, timeout_ms: int) -> None:
        """wdt_factory: called with `timeout_ms`, gives an object with `feed()`; or None."""
        self.running = False
        self._factory = wdt_factory
        self._timeout_ms = timeout_ms
        self._wdt = None

    def start(self) -> bool:
        """True when a watchdog is running from here on; on most boards it can't be stopped.

        False: the board has none, or refused the timeout. Say so to the user: a stopped program
        would then not restart.
        """
        if self._factory is not None and not self.running:
            try:
                self._wdt = self._factory(self._timeout_ms)
                self.running = True
            except (OSError, ValueError):
                self.running = False
        return self.running

    def feed(self) -> None:
        """The loop is alive. No allocation."""
        if self._wdt is not None:
            self._wdt.feed()
