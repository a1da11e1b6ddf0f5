"""The zeros that a candidate takes before the first flight, exactly as `ground_zero.GroundZero`.

Only up to the take-off, and only through blocks of 200 ms: a handful of steps in a flight. A new
zero empties the windows, so it also says where an epoch ends.
"""

from copy import copy

import numpy as np

from alula.ground_zero import _BLOCK_MS as BLOCK_MS
from alula.ground_zero import stall_q_dpa
from alula.settings import Settings

TAKEN_MOST = 2
FAR_FUTURE = 1 << 40


class _Blocks:
    """The blocks of one attempt, as `ground_zero._Mean` of both channels. open_ms: time in the
    block that is not complete."""

    def __init__(self) -> None:
        self.spent_ms = 0
        self.open_ms = 0
        self._open = [0, 0, 0]  # pitot, angled, count
        self._count = 0
        self._totals = [0, 0]
        self._means: tuple[list[int], list[int]] = ([], [])

    def __copy__(self) -> "_Blocks":
        found = _Blocks()
        found.__dict__.update(self.__dict__)
        found._open, found._totals = list(self._open), list(self._totals)
        found._means = (list(self._means[0]), list(self._means[1]))
        return found

    def add(self, spent_ms: int, pressures: list[np.ndarray]) -> None:
        """Part of a block."""
        self.open_ms += spent_ms
        for i, dpa in enumerate(pressures):
            self._open[i] += int(dpa.sum())
        self._open[2] += len(pressures[0])

    def close(self) -> None:
        """The block is complete."""
        self.spent_ms += self.open_ms
        count = self._open[2]
        self._count += count
        for i in range(2):
            self._totals[i] += self._open[i]
            self._means[i].append((self._open[i] + count // 2) // count)
        self.open_ms, self._open = 0, [0, 0, 0]

    def mean(self, i: int) -> int:
        return (self._totals[i] + self._count // 2) // self._count

    def spread(self, i: int) -> int:
        return max(self._means[i]) - min(self._means[i])


class GroundStory:
    """Follows the ground from one emptying of the windows to the next.

    zero_dpa: in use, [pitot, angled]. taken: tick of every new zero, as the flight counts.
    known_from: tick from which a zero is known. refused_from: tick of the first refusal while none
    had been taken.
    """

    def __init__(self, settings: Settings, stored) -> None:
        self._settings = settings
        share_dpa = stall_q_dpa(settings) * settings.zero_share_pm // 1000
        self._usual_limit_dpa = self._limit_dpa = min(settings.zero_change_dpa, share_dpa)
        if stored is None:
            self._limit_dpa = settings.zero_first_dpa
        self._first = stored is None
        self._anchor = [0, 0] if stored is None else list(stored)
        self._latest = [0, 0]
        self._wait_ms = 0
        self._blocks = _Blocks()
        self.asked = False
        self.zero_dpa = [0, 0] if stored is None else list(stored)
        self.taken: list[int] = []
        self.zeros: list[tuple[int, int]] = [(self.zero_dpa[0], self.zero_dpa[1])]
        self.known_from = FAR_FUTURE if stored is None else -1
        self.refused_from = FAR_FUTURE

    def __copy__(self) -> "GroundStory":
        """For a look ahead that may be given up."""
        found = GroundStory.__new__(GroundStory)
        found.__dict__.update({name: list(value) if isinstance(value, list) else value
                               for name, value in self.__dict__.items()})
        found._blocks = copy(self._blocks)
        return found

    @property
    def over(self) -> bool:
        """No further zero can be taken."""
        return len(self.taken) >= TAKEN_MOST

    @property
    def soon_ms(self) -> int:
        """For how long to look for a new zero, if it comes without delay."""
        return max(self._wait_ms, 0) + self._settings.zero_ms + 2 * BLOCK_MS

    def ask_first(self) -> None:
        """The button was let go (`GroundZero.ask_first`)."""
        self.asked = True
        self._limit_dpa = self._settings.zero_first_dpa
        self._anchor = [0, 0]
        self._first = True
        self._wait_ms = 0
        self.restart()

    def restart(self) -> None:
        """Begin an attempt anew (`GroundZero.restart`)."""
        self._blocks = _Blocks()

    def walk(self, first: int, clock_ms: np.ndarray, pressures) -> int:
        """Go through ticks on the ground with both channels ready, without a break, from tick
        `first` on. Returns the tick at which a zero is taken, or -1.

        clock_ms: time since the begin of the first. pressures: (pitot, angled), 0.1 Pa.
        """
        at, before = 0, 0
        while not self.over and at < len(clock_ms):
            waits = self._wait_ms > 0
            need_ms = self._wait_ms if waits else BLOCK_MS - self._blocks.open_ms
            end = int(np.searchsorted(clock_ms, before + need_ms))
            stop = min(end + 1, len(clock_ms))
            spent_ms = int(clock_ms[stop - 1]) - before
            if waits:
                self._wait_ms -= spent_ms
            else:
                self._blocks.add(spent_ms, [p[at:stop] for p in pressures])
                if end < len(clock_ms) and self._closed(first + end):
                    return first + end
            at, before = stop, before + spent_ms
        return -1

    def _closed(self, tick: int) -> bool:
        """A block is complete: whether it is the last of an attempt that gives a zero."""
        blocks = self._blocks
        blocks.close()
        if blocks.spent_ms < self._settings.zero_ms:
            return False
        self.restart()
        return self._finish(blocks, tick)

    def _finish(self, blocks: _Blocks, tick: int) -> bool:
        """Whether the attempt gives a zero."""
        if not all(self._fits(i, blocks) for i in range(2)):
            if not self.taken:
                self.refused_from = min(self.refused_from, tick)
            return False
        for i in range(2):
            self.zero_dpa[i] += blocks.mean(i)
            if self._first:
                self._anchor[i] = self.zero_dpa[i]
            self._latest[i] = self.zero_dpa[i]
        if self._first:
            self._first = False
            self._limit_dpa = self._usual_limit_dpa
        self.taken.append(tick)
        self.zeros.append((self.zero_dpa[0], self.zero_dpa[1]))
        self.known_from = min(self.known_from, tick)
        self._wait_ms = self._settings.zero_again_ms
        return True

    def _fits(self, i: int, blocks: _Blocks) -> bool:
        """`GroundZero._fits`."""
        zero_dpa = self.zero_dpa[i] + blocks.mean(i)
        spread = self._settings.zero_spread_dpa
        if blocks.spread(i) > spread:
            return False
        if self.taken and not self._first and not (
                -spread <= zero_dpa - self._latest[i] <= spread):
            return False
        return -self._limit_dpa <= zero_dpa - self._anchor[i] <= self._limit_dpa
