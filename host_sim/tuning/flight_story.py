"""Flying or not, and why q is missing: `flight_phase.FlightPhase`, by events.

Positions count the ticks at which both channels are ready. Flying begins where q has been high for
long enough; whatever can end it begins where q falls below its minimum, and that is rare.
"""

from bisect import bisect_right

import numpy as np

from alula.settings import Settings
from alula.states import PRESSING
from host_sim.tuning.conditioned import Conditioned
from host_sim.tuning.timers import held, runs

WORKED_TICKS = 4096


class FlightStory:
    """Where flights begin and end. Asked in rising order of position."""

    def __init__(self, seen: Conditioned, settings: Settings) -> None:
        self._seen = seen
        self._settings = settings
        self.count = len(seen.q_dpa)
        enough = seen.q_dpa >= settings.min_q_dpa
        fast = seen.q_dpa >= settings.flying_q_dpa
        self._enough, self._fast = enough, fast
        starts, stops = runs(enough)
        self._enough_starts, self._enough_stops = starts.tolist(), stops.tolist()
        self._fast_stops = runs(fast)[1].tolist()
        self._takeoffs = held(fast, seen.clock_ms, settings.flying_ms, 0)[0].tolist()
        air_q_dpa = (settings.min_q_dpa + settings.flying_q_dpa) // 2
        self.air_start = bool(self.count and seen.q_dpa[0] >= air_q_dpa)
        self.settles = 0  # position from which the flight counts as settled; `count`: not yet

    def begins(self, at: int) -> int:
        """The first position >= at at which the unit begins to fly; `count` if there is none."""
        if at == 0 and self.air_start:
            self.settles = 0
            return 0
        i = bisect_right(self._takeoffs, at - 1)
        start = self._takeoffs[i] if i < len(self._takeoffs) else self.count
        self.settles = self._settled_after(start)
        return start

    def _settled_after(self, start: int) -> int:
        """The first later tick of high q with `calm_after_ms` of such ticks since the start."""
        clock, spent_ms, at = self._seen.clock_ms, 0, start + 1
        while at < self.count:
            stop = min(at + WORKED_TICKS, self.count)
            fast = self._fast[at:stop]
            steps = np.where(fast, np.diff(clock[at - 1:stop]), 0)
            flown = spent_ms + np.cumsum(steps)
            found = np.flatnonzero(fast & (flown >= self._settings.calm_after_ms))
            if len(found):
                return at + int(found[0])
            spent_ms, at = int(flown[-1]), stop
        return self.count

    def sinks(self, at: int) -> int:
        """The first position > at at which q is too low."""
        i = bisect_right(self._enough_stops, at)
        return self._enough_stops[i] if i < len(self._enough_stops) else self.count

    def rises(self, at: int) -> int:
        """The first position > at at which q is high enough again."""
        i = bisect_right(self._enough_starts, at)
        return self._enough_starts[i] if i < len(self._enough_starts) else self.count

    def enough_before(self, lo: int, hi: int) -> int:
        """The last of the positions lo..hi-1 with enough q; -1 if there is none."""
        i = bisect_right(self._enough_starts, hi - 1) - 1
        last = min(self._enough_stops[i], hi) - 1 if i >= 0 else -1
        return last if last >= lo else -1

    def lost(self, at: int) -> bool:
        """Whether a q that sinks below its minimum at `at` was not slowed away."""
        clock = self._seen.clock_ms
        i = bisect_right(self._fast_stops, at)
        since = int(clock[self._fast_stops[i - 1] - 1]) if i else 0
        return (int(clock[at]) - since < self._settings.lost_ms
                or self._worked_ms(at) > self._settings.landing_ms)

    def _worked_ms(self, at: int) -> int:
        """Time with a known lift since the wing last worked as for a landing; only whether it is
        more than `landing_ms` is exact."""
        if self.settles > at:
            return 0
        least, stop = self.settles, at
        while stop > least:
            start = max(least, stop - WORKED_TICKS)
            hard = np.flatnonzero(self._enough[start:stop]
                                  & (self._seen.lift_pm[start:stop] >= self._settings.landing_pm))
            if len(hard):
                return self._known_ms(start + int(hard[-1]) + 1, at)
            stop = start
        return self._known_ms(least, at)

    def _known_ms(self, lo: int, hi: int) -> int:
        """Time of the ticks lo..hi-1 with enough q."""
        clock = self._seen.clock_ms
        own = np.diff(clock[lo:hi], prepend=clock[lo - 1] if lo else 0)
        return int(own[self._enough[lo:hi]].sum())

    def stands(self, at: int, stop: int) -> int:
        """The first position of at..stop-1 at which the aeroplane has stood still for long;
        `stop` if there is none."""
        limit, seen, clock = self._settings.ground_q_dpa, self._seen, self._seen.clock_ms
        q, angled = seen.q_dpa[at:stop], seen.angled_dpa[at:stop]
        still = (-limit < q) & (q < limit) & (-limit < angled) & (angled < limit)
        found, _ = held(still, clock[at:stop], self._settings.ground_ms,
                        int(clock[at - 1]) if at else 0)
        return at + int(found[0]) if len(found) else stop

    @staticmethod
    def ends(band: int) -> bool:
        """Whether a flight ends where q was slowed away with this band in use."""
        return band < PRESSING
