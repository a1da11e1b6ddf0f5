"""The zeros that a candidate takes before the first flight, exactly as `ground_zero.GroundZero`.

Only up to the take-off, and only through blocks of 200 ms: a handful of steps in a flight. A new
zero empties the windows, so it also says where an epoch ends.
"""

import numpy as np

from alula.ground_zero import _BLOCK_MS as BLOCK_MS
from alula.ground_zero import stall_q_dpa
from alula.settings import Settings

TAKEN_MOST = 2
FAR_FUTURE = 1 << 40


class _Blocks:
    """The blocks of one attempt, as `ground_zero._Mean` of both channels."""

    def __init__(self) -> None:
        self.spent_ms = 0
        self._count = 0
        self._totals = [0, 0]
        self._means: tuple[list[int], list[int]] = ([], [])

    def add(self, spent_ms: int, pressures: list[np.ndarray]) -> None:
        """One complete block."""
        self.spent_ms += spent_ms
        count = len(pressures[0])
        self._count += count
        for i, dpa in enumerate(pressures):
            total = int(dpa.sum())
            self._totals[i] += total
            self._means[i].append((total + count // 2) // count)

    def mean(self, i: int) -> int:
        return (self._totals[i] + self._count // 2) // self._count

    def spread(self, i: int) -> int:
        return max(self._means[i]) - min(self._means[i])


class GroundStory:
    """Follows the ground from one emptying of the windows to the next.

    zero_dpa: in use, [pitot, angled]. taken: tick of every new zero. known_from: tick from which a
    zero is known. refused_from: tick of the first refusal while none had been taken.
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
        self.asked = False
        self.zero_dpa = [0, 0] if stored is None else list(stored)
        self.taken: list[int] = []
        self.zeros: list[tuple[int, int]] = [(self.zero_dpa[0], self.zero_dpa[1])]
        self.known_from = FAR_FUTURE if stored is None else -1
        self.refused_from = FAR_FUTURE

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

    def walk(self, first: int, clock_ms: np.ndarray, pressures) -> int:
        """Go through ticks on the ground with both channels ready, without a break, from tick
        `first` on. Returns the tick at which a zero is taken, or -1.

        clock_ms: time at the end of each since the begin of the first. pressures: (pitot, angled),
        0.1 Pa, int32, as many.
        """
        at, before = 0, 0
        blocks = _Blocks()
        while not self.over and len(clock_ms):
            waits = self._wait_ms > 0
            end = int(np.searchsorted(clock_ms, before + (self._wait_ms if waits else BLOCK_MS)))
            if end >= len(clock_ms):
                self._wait_ms -= int(clock_ms[-1]) - before if waits else 0
                return -1
            spent_ms = int(clock_ms[end]) - before
            if waits:
                self._wait_ms -= spent_ms
            else:
                blocks.add(spent_ms, [p[at:end + 1] for p in pressures])
                if blocks.spent_ms >= self._settings.zero_ms:
                    if self._finish(blocks, first + end):
                        return first + end
                    blocks = _Blocks()
            at, before = end + 1, int(clock_ms[end])
        return -1

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
