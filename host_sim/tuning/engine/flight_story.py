"""Flying or not, and why q is missing: `flight_phase.FlightPhase`, by events.

Positions count a stretch's ticks at which both channels are ready. Flying begins where q has been
high for long enough; whatever can end it begins where q falls below its minimum, and that is rare.
"""

from bisect import bisect_right

import numpy as np

from alula.settings import Settings
from alula.states import PRESSING
from host_sim.tuning.engine.conditioned import Conditioned
from host_sim.tuning.engine.timers import held, runs

WORKED_TICKS = 4096


class FlightStory:
    """Where flights begin and end. Enters stretch after stretch; within one, asked in rising order
    of position. What runs over the end of a stretch is kept as the time that it has run."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._begun = False
        self._fast_ms = 0
        self._fast_at_ms = 0  # `clock_ms` of the latest tick of high q
        self._settled = False
        self._flown_ms = 0  # of high q, until the flight counts as settled
        self._worked_ms = 0
        self._still_ms = 0

    def enter(self, seen: Conditioned) -> None:
        """A further stretch."""
        settings = self._settings
        self._seen = seen
        self.count = len(seen.q_dpa)
        self._enough = seen.q_dpa >= settings.min_q_dpa
        self._fast = seen.q_dpa >= settings.flying_q_dpa
        starts, stops = runs(self._enough)
        self._enough_starts, self._enough_stops = starts.tolist(), stops.tolist()
        starts, stops = runs(self._fast)
        self._fast_starts, self._fast_stops = starts.tolist(), stops.tolist()
        self._takeoffs: list[int] = []
        self.air_start = False
        if not self.count:
            return
        found, self._fast_ms = held(self._fast, seen.clock_ms, settings.flying_ms,
                                    seen.clock_before(0), self._fast_ms)
        self._takeoffs = found.tolist()
        air_q_dpa = (settings.min_q_dpa + settings.flying_q_dpa) // 2
        self.air_start = not self._begun and bool(seen.q_dpa[0] >= air_q_dpa)
        self._begun = True
        # Position from which the flight counts as settled; `count`: not in this stretch.
        self.settles = 0 if self._settled else self._settled_from(0)

    def leave(self) -> None:
        """The end of the stretch: nothing of it is held any longer."""
        if self.count:
            self._worked_ms = self._worked_for_ms(self.count)
            self._settled = self.settles < self.count
            if self._fast_stops:
                self._fast_at_ms = int(self._seen.clock_ms[self._fast_stops[-1] - 1])
        del self._seen, self._enough, self._fast

    def begins(self, at: int) -> int:
        """The first position >= at at which the unit begins to fly; `count` if there is none."""
        self._flown_ms = self._worked_ms = 0
        if at == 0 and self.air_start:
            self.settles = 0
            return 0
        i = bisect_right(self._takeoffs, at - 1)
        start = self._takeoffs[i] if i < len(self._takeoffs) else self.count
        self.settles = self._settled_from(start + 1)
        return start

    def _settled_from(self, at: int) -> int:
        """The first tick of high q, from one on, with `calm_after_ms` of such ticks in flight."""
        seen, need_ms = self._seen, self._settings.calm_after_ms
        for i in range(bisect_right(self._fast_stops, at), len(self._fast_stops)):
            start, stop = max(at, self._fast_starts[i]), self._fast_stops[i]
            since_ms = seen.clock_before(start) - self._flown_ms
            if int(seen.clock_ms[stop - 1]) - since_ms >= need_ms:
                return max(start, int(np.searchsorted(seen.clock_ms, since_ms + need_ms)))
            self._flown_ms = int(seen.clock_ms[stop - 1]) - since_ms
        return self.count

    def sinks(self, at: int) -> int:
        """The first position >= at at which q is too low."""
        if not self._enough[at]:
            return at
        return self._enough_stops[bisect_right(self._enough_stops, at)]

    def rises(self, at: int) -> int:
        """The first position >= at at which q is high enough."""
        if self._enough[at]:
            return at
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
        since_ms = int(clock[self._fast_stops[i - 1] - 1]) if i else self._fast_at_ms
        return (int(clock[at]) - since_ms < self._settings.lost_ms
                or self._worked_for_ms(at) > self._settings.landing_ms)

    def _worked_for_ms(self, at: int) -> int:
        """Time with a known lift, before `at`, since the wing last worked as for a landing; where
        that is more than `landing_ms`, any time that is."""
        if self.settles > at:
            return 0
        settings, least, stop, known_ms = self._settings, self.settles, at, 0
        while stop > least and known_ms <= settings.landing_ms:
            start = max(least, stop - WORKED_TICKS)
            hard = np.flatnonzero(self._enough[start:stop]
                                  & (self._seen.lift_pm[start:stop] >= settings.landing_pm))
            if len(hard):
                return known_ms + self._known_ms(start + int(hard[-1]) + 1, stop)
            known_ms += self._known_ms(start, stop)
            stop = start
        return known_ms + self._worked_ms

    def _known_ms(self, lo: int, hi: int) -> int:
        """Time of the ticks lo..hi-1 with enough q."""
        own_ms = np.diff(self._seen.clock_ms[lo:hi], prepend=self._seen.clock_before(lo))
        return int(own_ms[self._enough[lo:hi]].sum())

    def stands(self, at: int, stop: int) -> int:
        """The first position of at..stop-1 at which the aeroplane has stood still for long;
        `stop` if there is none. at: q is too low since there; 0: since there, or longer."""
        if at >= stop:
            self._still_ms = 0
            return stop
        limit, seen = self._settings.ground_q_dpa, self._seen
        q, angled = seen.q_dpa[at:stop], seen.angled_dpa[at:stop]
        still = (-limit < q) & (q < limit) & (-limit < angled) & (angled < limit)
        found, left_ms = held(still, seen.clock_ms[at:stop], self._settings.ground_ms,
                              seen.clock_before(at), 0 if at else self._still_ms)
        self._still_ms = left_ms if stop == self.count and not len(found) else 0
        return at + int(found[0]) if len(found) else stop

    @staticmethod
    def ends(band: int) -> bool:
        """Whether a flight ends where q was slowed away with this band in use."""
        return band < PRESSING
