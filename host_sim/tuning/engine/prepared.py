"""A stretch of a flight, made ready once for any number of candidates; and how one of them goes on
from stretch to stretch."""

from collections.abc import Iterable, Iterator
from copy import copy
from dataclasses import dataclass, field

import numpy as np

from alula.settings import Settings, load
from host_sim.tuning.engine.conditioned import Conditioned, Stretch, span_of
from host_sim.tuning.engine.epochs import Epoch, EpochMaker, Open
from host_sim.tuning.engine.flap_story import Flap, FlapStory
from host_sim.tuning.engine.ground_story import GroundStory
from host_sim.tuning.engine.latest import Kept
from host_sim.tuning.engine.line_values import Line, Scratch
from host_sim.tuning.engine.ratio_values import table_of
from host_sim.tuning.engine.stream import SIDES, Recorded, Records, Tail, Ticks
from host_sim.tuning.engine.takeoff import Takeoff, walk

KEPT = 2
# What decides about the zeros on the ground, beside window, lead and gap.
GROUND = ("zero_ms", "zero_spread_dpa", "zero_change_dpa", "zero_share_pm", "zero_again_ms",
          "zero_first_dpa", "flying_q_dpa", "flying_ms", "min_q_dpa")

# What the recorded words mean, and how often they come.
WIRING = ("plumbing", "sample_rate_hz") + tuple(
    side + name for side in SIDES for name in ("_output", "_low_dpa", "_high_dpa", "_sense"))


@dataclass(frozen=True)
class Ground:
    """Zeros and take-offs of a candidate, and the epochs that they and the gaps make of a
    stretch: (epoch, whether a zero ends it, its zero). opened: what the last one leaves."""

    story: GroundStory
    takeoff: Takeoff
    epochs: list[tuple[Epoch, bool, tuple]]
    opened: Open


@dataclass(frozen=True)
class Left:
    """What a candidate's smoothing leaves to the next stretch. Nothing changes it."""

    story: GroundStory
    takeoff: Takeoff
    opened: Open = field(default_factory=Open)
    flap: Flap = field(default_factory=Flap)
    clock_ms: int = 0


class Prepared:
    """A stretch of a flight, ready for any number of candidates. Keeps the latest few results.

    Memory: some 46 bytes a tick, 20 for each of the KEPT results, and while one is made 30 more:
    by tracemalloc 130 a tick at most, beside the rows. The arithmetic goes tile by tile and takes
    less than 1 MB.
    """

    def __init__(self, rows: np.ndarray, flight: Records, before: Tail | None = None) -> None:
        """rows: of the stretch. ValueError where the settings are not complete."""
        settings, problems = load(flight.settings)
        if problems or settings.missing:
            raise ValueError(f"settings that no unit would take: {problems or settings.missing}")
        self.ticks = Ticks(rows, settings, before)
        self._wiring = [getattr(settings, name) for name in WIRING]
        self._stretch = Stretch(self.ticks, settings.plumbing, Scratch())
        self._period_ms = 1000 // settings.sample_rate_hz
        self._zero = flight.zero
        self._tables = [(flap, table_of(tuple((ratio, lift) for ratio, lift in points)))
                        for flap, points in flight.curves]
        self._makers: Kept = Kept(2)
        self._grounds: Kept = Kept(16)
        self._groups: Kept = Kept(KEPT)

    def conditioned(self, settings: Settings) -> Conditioned:
        """The first stretch through a candidate's windows."""
        return self.follow(settings, None)[0]

    def follow(self, settings: Settings, before: Left | None) -> tuple[Conditioned, Left]:
        """The stretch through a candidate's windows, and what it leaves; before: of the stretch
        before, None for the first. From the store where it was asked for just before with the
        same window, lead, gap, flap time and zeros. ValueError where the settings are for other
        sensors than the flight was recorded with."""
        if [getattr(settings, name) for name in WIRING] != self._wiring:
            raise ValueError("a candidate may not change what the words mean: "
                             + ", ".join(WIRING))
        line = Line(max(4, settings.window_ms // self._period_ms), self._period_ms,
                    settings.lead_ms)
        before = before or Left(GroundStory(settings, self._zero), Takeoff(settings))
        key = (line, settings.gap_ms)
        ground = self._grounds.get(key + tuple(getattr(settings, name) for name in GROUND),
                                   lambda: self._ground(settings.gap_ms, line, before))
        story = ground.story
        group, flap = self._groups.get(
            (*key, settings.flap_settle_ms, story.known_from, story.refused_from,
             tuple(story.taken), tuple(story.zeros)),
            lambda: self._group(settings, line, ground, before))
        return group, Left(story, ground.takeoff, ground.opened, flap,
                           group.clock_before(len(group.q_dpa)))

    def _group(self, settings: Settings, line: Line, ground: Ground,
               before: Left) -> tuple[Conditioned, Flap]:
        flaps = FlapStory(self._tables, self.ticks, settings.flap_settle_ms, before.flap)
        return Conditioned(self._stretch, line, ground.epochs, ground.story, flaps,
                           before.clock_ms), flaps.left

    def _maker(self, gap_ms: int) -> EpochMaker:
        return self._makers.get(gap_ms, lambda: EpochMaker(self.ticks, gap_ms, self._period_ms))

    def _ground(self, gap_ms: int, line: Line, before: Left) -> Ground:
        story, takeoff, maker = copy(before.story), copy(before.takeoff), self._maker(gap_ms)
        ticks, opened, longer = self.ticks, before.opened, None
        epochs: list[tuple[Epoch, bool, tuple]] = []
        while True:
            epoch = maker.after(opened, longer)
            span = span_of(epoch, line, False, ticks.first)
            if epochs or span.both > ticks.first:
                story.restart()
            zero = tuple(story.zero_dpa)
            taken = walk(ticks, epoch, span.both, line, story, takeoff,
                         self._stretch.scratch)
            longer = epoch if taken >= 0 else None
            if taken >= 0:
                epoch = Epoch(epoch.first, taken + 1, epoch.pitot, epoch.angled, epoch.begun)
            epochs.append((epoch, taken >= 0, zero))
            emptied = taken if taken >= 0 else epoch.stop
            if emptied == len(ticks):
                return Ground(story, takeoff, epochs, Open(opened.emptied, epoch.begun))
            opened = Open(ticks.base + emptied)


def prepare(flight: Recorded) -> Prepared:
    """A whole flight in one stretch."""
    return Prepared(flight.rows, flight)


def stretches(blocks: Iterable[np.ndarray], flight: Records) -> Iterator[Prepared]:
    """A flight stretch by stretch. blocks: its rows, in any blocks of one row or more."""
    before: Tail | None = None
    for rows in blocks:
        prepared = Prepared(rows, flight, before)
        before = prepared.ticks.tail
        yield prepared
