"""The band over a stretch of ticks whose lift share is known: `cues.Cues`, by events.

A band goes up at once, so what counts upwards is only the next tick at or above the next start.
It ends when lift has stayed below its end for its release time: of all stretches below an end only
those that last so long count, and there are few.
"""

from bisect import bisect_right

import numpy as np

from alula.settings import Settings
from alula.states import QUIET, STALLING
from host_sim.tuning.engine.conditioned import Conditioned
from host_sim.tuning.engine.timers import held, runs

END = 1 << 60


class Bands:
    """Band and running release time; goes on from stretch to stretch as the firmware does."""

    def __init__(self, settings: Settings) -> None:
        self.starts_pm = [0, settings.calm_pm, settings.pressing_pm, settings.stalling_pm]
        self.release_ms = [0, settings.calm_release_ms] + 2 * [settings.release_ms]
        self.hysteresis_pm = settings.hysteresis_pm
        self.min_q_dpa = settings.min_q_dpa
        self.band = QUIET
        self.below_ms = 0

    def reset(self) -> None:
        """On the ground."""
        self.band = QUIET
        self.below_ms = 0

    def step(self, seen: Conditioned, lo: int, hi: int) -> list[tuple[int, int]]:
        """Go through positions lo..hi-1; [(position, band from there on), ...], the first at lo.
        """
        stretch = _Stretch(self, seen, lo, hi)
        found = []
        at, band = -1, self.band
        while True:
            at, band = stretch.after(at, band)
            if at < 0:
                break
            found.append((lo + at, band))
        if not found or found[0][0] > lo:
            found.insert(0, (lo, self.band))
        self.below_ms = stretch.below_ms(found[-1][1])
        self.band = found[-1][1]
        return found


class _Stretch:
    """One stretch, asked for the next change of a band. What a band needs is found once."""

    def __init__(self, bands: Bands, seen: Conditioned, lo: int, hi: int) -> None:
        self._bands, self._seen, self._lo = bands, seen, lo
        self._starts = bands.starts_pm
        self._lift_pm = seen.lift_pm[lo:hi]
        self._slack_most_pm = None  # the sensors' steps are so fine that the hysteresis is more
        if seen.slack_above_pm(bands.min_q_dpa) > bands.hysteresis_pm:
            self._slack_most_pm = seen.slack_most_pm[lo:hi]
        self._clock_ms = seen.clock_ms[lo:hi]
        self._before_ms = seen.clock_before(lo)
        self._carried = (bands.band, bands.below_ms)
        self._reaches: dict[int, list[int]] = {}
        self._releases: dict[int, list[int]] = {}
        self._left_ms: dict[int, int] = {}

    def _below(self, band: int) -> np.ndarray:
        """Where lift is below a band's end, which lies below its start by the hysteresis or by
        what two steps of the sensors make. That is asked only where it matters."""
        start, lift_pm = self._starts[band], self._lift_pm
        below = lift_pm < start - self._bands.hysteresis_pm
        if self._slack_most_pm is None:
            return below
        at = np.flatnonzero(below & (lift_pm >= start - self._slack_most_pm))
        if len(at):
            below[at] = lift_pm[at] < start - self._seen.slack_pm(at + self._lo)
        return below

    def _below_at(self, band: int, at: int) -> bool:
        """The same at one position."""
        under_pm = self._starts[band] - int(self._lift_pm[at])
        if under_pm <= self._bands.hysteresis_pm:
            return False
        return self._slack_most_pm is None or under_pm > int(self._slack_most_pm[at]) or (
            under_pm > int(self._seen.slack_pm(np.array([at + self._lo]))[0]))

    def after(self, at: int, band: int) -> tuple[int, int]:
        """(position, band) of the next change after a position at which a band is in use; a
        position of -1 where there is none."""
        up, down = self._next_up(at, band), self._next_down(at, band)
        if up == down == END:
            return -1, band
        if up < down:
            return up, bisect_right(self._starts, int(self._lift_pm[up])) - 1
        band -= 1
        while band > QUIET and self._below_at(band, down):
            band -= 1
        return down, band

    def below_ms(self, band: int) -> int:
        """For how long lift has been below the end of the band in use, at the end."""
        if band > QUIET:
            self._next_down(-1, band)
        return self._left_ms.get(band, 0)

    def _next_up(self, at: int, band: int) -> int:
        if band == STALLING:
            return END
        if band not in self._reaches:
            starts, _ = runs(self._lift_pm >= self._starts[band + 1])
            self._reaches[band] = starts.tolist()
        return _first_after(self._reaches[band], at)

    def _next_down(self, at: int, band: int) -> int:
        if band == QUIET:
            return END
        if band not in self._releases:
            carried_ms = self._carried[1] if band == self._carried[0] else 0
            found, self._left_ms[band] = held(
                self._below(band), self._clock_ms, self._bands.release_ms[band],
                self._before_ms, carried_ms)
            self._releases[band] = found.tolist()
        return _first_after(self._releases[band], at)


def _first_after(positions: list[int], at: int) -> int:
    i = bisect_right(positions, at)
    return positions[i] if i < len(positions) else END
