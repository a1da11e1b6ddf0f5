"""The first take-off, and the zeros before it, while the windows are being cut into epochs."""

from copy import copy

import numpy as np

from alula.settings import Settings
from host_sim.tuning.epochs import Epoch
from host_sim.tuning.ground_story import GroundStory
from host_sim.tuning.line_values import Line, at_ticks
from host_sim.tuning.stream import Ticks
from host_sim.tuning.timers import held

BLOCK_TICKS = 8192


class Takeoff:
    """flown: the unit has seen a take-off, or began in the air (`FlightPhase.has_flown`)."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._first = True
        self._fast_ms = 0
        self.flown = False

    def find(self, q_dpa: np.ndarray, steps_ms: np.ndarray) -> int:
        """Position of the first tick of flight, or the number of ticks; these follow those of the
        call before, without those at which the channels were not ready."""
        settings = self._settings
        begins, self._first = self._first, False
        if begins and q_dpa[0] >= (settings.min_q_dpa + settings.flying_q_dpa) // 2:
            self.flown = True
            return 0
        at, self._fast_ms = held(q_dpa >= settings.flying_q_dpa, np.cumsum(steps_ms),
                                 settings.flying_ms, 0, self._fast_ms)
        self.flown = len(at) > 0
        return int(at[0]) if self.flown else len(q_dpa)


def walk(ticks: Ticks, epoch: Epoch, ready: int, line: Line, story: GroundStory,
         takeoff: Takeoff) -> int:
    """Go through an epoch, both channels ready from tick `ready` on, while the unit has not flown
    and may take a zero. Returns the tick of a new zero, or -1."""
    if takeoff.flown or story.over or ready >= epoch.stop:
        return -1
    before = copy(takeoff)
    pressures = _until_takeoff(ticks, epoch, ready, line, story, takeoff)
    stop = ready + len(pressures[0])
    for lo, hi in _asked(ticks.asks_zero, ready, stop):
        if ticks.asks_zero >= 0 and hi > ticks.asks_zero and not story.asked:
            story.ask_first()
        part = slice(lo - ready, hi - ready)
        taken = story.walk(lo, ticks.steps_ms[lo:hi], [dpa[part] for dpa in pressures])
        if taken >= 0:
            takeoff.__dict__.update(before.__dict__)
            done = taken + 1 - ready
            takeoff.find(pressures[0][:done], ticks.steps_ms[ready:taken + 1])
            return taken
    return -1


def _asked(asks: int, ready: int, stop: int) -> list[tuple[int, int]]:
    """The ticks before and after the button was let go."""
    if ready < asks < stop:
        return [(ready, asks), (asks, stop)]
    return [(ready, stop)] if ready < stop else []


def _until_takeoff(ticks: Ticks, epoch: Epoch, ready: int, line: Line, story: GroundStory,
                   takeoff: Takeoff) -> list[np.ndarray]:
    """Both pressures from tick `ready` to before the take-off or the end of the epoch."""
    found: tuple[list, list] = ([], [])
    for lo in range(ready, epoch.stop, BLOCK_TICKS):
        hi = min(lo + BLOCK_TICKS, epoch.stop)
        parts = [at_ticks(seeded, line, zero, lo, hi) for seeded, zero in (
            (epoch.pitot, story.zero_dpa[0]), (epoch.angled, story.zero_dpa[1]))]
        most = takeoff.find(parts[0], ticks.steps_ms[lo:hi])
        for whole, part in zip(found, parts, strict=True):
            whole.append(part[:most])
        if takeoff.flown:
            break
    return [np.concatenate(parts) for parts in found]
