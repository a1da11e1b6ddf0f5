"""The first take-off, and the zeros before it, while the windows are being cut into epochs."""

from copy import copy
from dataclasses import dataclass

import numpy as np

from alula.settings import Settings
from host_sim.tuning.engine.epochs import Epoch
from host_sim.tuning.engine.ground_story import GroundStory
from host_sim.tuning.engine.line_values import Line, Scratch, at_ticks
from host_sim.tuning.engine.stream import Ticks
from host_sim.tuning.engine.timers import held

BLOCK_TICKS = 8192


class Takeoff:
    """flown: the unit has seen a take-off, or began in the air (`FlightPhase.has_flown`)."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._first = True
        self._fast_ms = 0
        self.flown = False

    def find(self, q_dpa: np.ndarray, clock_ms: np.ndarray) -> int:
        """Position of the first tick of flight, or the number of ticks; these follow those of the
        call before, without those at which the channels were not ready."""
        settings = self._settings
        begins, self._first = self._first, False
        if begins and q_dpa[0] >= (settings.min_q_dpa + settings.flying_q_dpa) // 2:
            self.flown = True
            return 0
        at, self._fast_ms = held(q_dpa >= settings.flying_q_dpa, clock_ms,
                                 settings.flying_ms, 0, self._fast_ms)
        self.flown = len(at) > 0
        return int(at[0]) if self.flown else len(q_dpa)


def walk(ticks: Ticks, epoch: Epoch, ready: int, line: Line, story: GroundStory,
         takeoff: Takeoff, scratch: Scratch) -> int:
    """Go through an epoch, both channels ready from tick `ready` on, while the unit has not flown
    and may take a zero. Returns the tick of a new zero, or -1.

    An attempt goes on from the stretch before, if the epoch does, too (`story.restart`)."""
    if takeoff.flown or story.over or ready >= epoch.stop:
        return -1
    soon = ready + story.soon_ms // line.period_ms  # where a zero is likely: a short look first
    for stop in sorted({min(soon, epoch.stop), epoch.stop}):
        seen, said = copy(takeoff), copy(story)
        taken = _look(ticks, _Ground(epoch, ready, stop, line, scratch), said, seen)
        if taken >= 0 or seen.flown or stop == epoch.stop:
            story.__dict__.update(said.__dict__)
            takeoff.__dict__.update(seen.__dict__)
            return taken
    return -1


@dataclass(frozen=True)
class _Ground:
    """Ticks ready..stop-1 of an epoch."""

    epoch: Epoch
    ready: int
    stop: int
    line: Line
    scratch: Scratch

    def pressures(self, story: GroundStory, takeoff: Takeoff, ticks: Ticks) -> list[np.ndarray]:
        """Both pressures from `ready` to before the take-off or `stop`."""
        found: tuple[list, list] = ([], [])
        for lo in range(self.ready, self.stop, BLOCK_TICKS):
            hi = min(lo + BLOCK_TICKS, self.stop)
            parts = np.empty((2, hi - lo), np.int32)
            for seeded, zero, out in zip((self.epoch.pitot, self.epoch.angled), story.zero_dpa,
                                         parts, strict=True):
                at_ticks(seeded, self.line, zero, lo, hi, self.scratch, out)
            most = takeoff.find(parts[0], ticks.clock_ms(lo, hi))
            for whole, part in zip(found, parts, strict=True):
                whole.append(part[:most])
            if takeoff.flown:
                break
        return [np.concatenate(parts) for parts in found]


def _look(ticks: Ticks, ground: _Ground, story: GroundStory, takeoff: Takeoff) -> int:
    before, ready, asks = copy(takeoff), ground.ready, ticks.asks_zero
    pressures = ground.pressures(story, takeoff, ticks)
    stop = ready + len(pressures[0])
    edges = [ready, asks, stop] if ready < asks < stop else [ready, stop]
    for lo, hi in zip(edges, edges[1:], strict=False):
        if 0 <= asks < hi and not story.asked:
            story.ask_first()
        part = slice(lo - ready, hi - ready)
        taken = story.walk(ticks.base + lo, ticks.clock_ms(lo, hi),
                           [dpa[part] for dpa in pressures]) - ticks.base
        if taken >= 0:  # the windows are emptied: what came later will come otherwise
            takeoff.__dict__.update(before.__dict__)
            takeoff.find(pressures[0][:taken + 1 - ready], ticks.clock_ms(ready, taken + 1))
            return taken
    return -1
