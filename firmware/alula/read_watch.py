"""How many reads of a sensor fail: a wire or a connector on its way out.

Smoothing bears some lost reads; a share over the limit means that the data hang by a thread.
"""

from alula.conditioning import Channel
from alula.sample import FRESH, STALE


class ReadWatch:
    """which: the channel of which too many reads failed: 0 pitot, 1 angled, 2 both; -1 neither."""

    def __init__(self, span_ms: int, limit_pm: int) -> None:
        self._span_ms = span_ms
        self._limit_ms = span_ms * limit_pm // 1000
        self.restart()

    def restart(self) -> None:
        """After an outage, which is a fault of its own. No allocation."""
        self.which = -1
        self._spent_ms = self._pitot_ms = self._angled_ms = 0

    def step(self, dt_ms: int, pitot: Channel, angled: Channel) -> None:
        """Judge once every span. No allocation."""
        if pitot.age_ms and pitot.reason != FRESH and pitot.reason != STALE:
            self._pitot_ms += dt_ms
        if angled.age_ms and angled.reason != FRESH and angled.reason != STALE:
            self._angled_ms += dt_ms
        self._spent_ms += dt_ms
        if self._spent_ms < self._span_ms:
            return
        first = self._pitot_ms > self._limit_ms
        second = self._angled_ms > self._limit_ms
        self.which = (2 if second else 0) if first else (1 if second else -1)
        self._spent_ms = self._pitot_ms = self._angled_ms = 0
