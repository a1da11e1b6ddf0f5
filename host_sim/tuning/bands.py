"""The band over a stretch of ticks whose lift share is known: `cues.Cues`, by events.

A band goes up at once, so what counts upwards is only the next tick at or above the next start.
It ends when lift has stayed below its end for its release time: of all stretches below an end only
those that last so long count, and there are few.
"""

from bisect import bisect_right
from functools import cached_property

import numpy as np

from alula.settings import Settings
from alula.states import QUIET, STALLING
from host_sim.tuning.timers import held, runs

END = 1 << 60


class Bands:
    """Band and running release time; goes on from stretch to stretch as the firmware does."""

    def __init__(self, settings: Settings) -> None:
        self._starts = [0, settings.calm_pm, settings.pressing_pm, settings.stalling_pm]
        self._release_ms = [0, settings.calm_release_ms] + 2 * [settings.release_ms]
        self._hysteresis_pm = settings.hysteresis_pm
        self.band = QUIET
        self._below_ms = 0

    def reset(self) -> None:
        """On the ground."""
        self.band = QUIET
        self._below_ms = 0

    def step(self, lift_pm: np.ndarray, slack_pm: np.ndarray, clock_ms: np.ndarray,
             before_ms: int) -> list[tuple[int, int]]:
        """Go through a stretch; [(position, band from there on), ...], the first at 0.

        slack_pm: twice the lift of a sensor step. clock_ms: running sum of the ticks' own times;
        before_ms: its value before the first tick.
        """
        stretch = _Stretch(self, lift_pm, slack_pm, clock_ms, before_ms)
        found = []
        at, band = -1, self.band
        while True:
            at, band = stretch.after(at, band)
            if at < 0:
                break
            found.append((at, band))
        if not found or found[0][0] > 0:
            found.insert(0, (0, self.band))
        self._below_ms = stretch.below_ms(found[-1][1])
        self.band = found[-1][1]
        return found


class _Stretch:
    """One stretch, asked for the next change of a band. What a band needs is found once."""

    def __init__(self, bands: Bands, lift_pm, slack_pm, clock_ms, before_ms: int) -> None:
        self._starts = bands._starts
        self._release_ms = bands._release_ms
        self._carried = (bands.band, bands._below_ms)
        self._lift_pm = lift_pm
        self._slack_pm, self._hysteresis_pm = slack_pm, bands._hysteresis_pm
        self._clock_ms, self._before_ms = clock_ms, before_ms
        self._reaches: dict[int, list[int]] = {}
        self._releases: dict[int, list[int]] = {}
        self._left_ms: dict[int, int] = {}

    @cached_property
    def _end_pm(self) -> np.ndarray:
        """Below a band's start, the band may end."""
        return self._lift_pm + np.maximum(self._slack_pm, np.int16(self._hysteresis_pm))

    def after(self, at: int, band: int) -> tuple[int, int]:
        """(position, band) of the next change after a position at which a band is in use; a
        position of -1 where there is none."""
        up, down = self._next_up(at, band), self._next_down(at, band)
        if up == down == END:
            return -1, band
        if up < down:
            return up, bisect_right(self._starts, int(self._lift_pm[up])) - 1
        end_pm = int(self._end_pm[down])
        while band > QUIET and end_pm < self._starts[band]:
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
                self._end_pm < self._starts[band], self._clock_ms, self._release_ms[band],
                self._before_ms, carried_ms)
            self._releases[band] = found.tolist()
        return _first_after(self._releases[band], at)


def _first_after(positions: list[int], at: int) -> int:
    i = bisect_right(positions, at)
    return positions[i] if i < len(positions) else END
