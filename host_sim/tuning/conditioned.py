"""What the windows of a candidate make of a flight: pressures, ratio, lift share, tick by tick.

`prepare` does once a flight what no candidate changes; `Prepared.conditioned` does once a window,
lead, gap and zero what the other settings do not change.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from alula.lift_curve import LIFT_MOST_PM
from alula.settings import Settings, load
from host_sim.runtimes.session import UNKNOWN
from host_sim.tuning.epochs import Epoch, EpochMaker
from host_sim.tuning.flap_story import FlapStory
from host_sim.tuning.ground_story import GroundStory
from host_sim.tuning.latest import Kept
from host_sim.tuning.line_values import Line, Scratch, at_ticks
from host_sim.tuning.ratio_values import (
    CurveTable,
    ratios_bp,
    step_most_bp,
    steps_bp,
    table_of,
)
from host_sim.tuning.stream import SIDES, Recorded, Ticks
from host_sim.tuning.takeoff import Takeoff, walk

KEPT = 2
# What decides about the zeros on the ground, beside window, lead and gap.
GROUND = ("zero_ms", "zero_spread_dpa", "zero_change_dpa", "zero_share_pm", "zero_again_ms",
          "zero_first_dpa", "flying_q_dpa", "flying_ms", "min_q_dpa")

# What the recorded words mean, and how often they come.
WIRING = ("plumbing", "sample_rate_hz") + tuple(
    side + name for side in SIDES for name in ("_output", "_low_dpa", "_high_dpa", "_sense"))


@dataclass(frozen=True)
class Span:
    """Ticks of one epoch: pitot and angled ready from these ticks on, both up to before stop;
    hides: at tick stop - 1 both are used, and emptied by a new zero."""

    pitot: int
    angled: int
    stop: int
    hides: bool

    @property
    def both(self) -> int:
        """First tick at which the two can be compared; `stop` if there is none."""
        return min(max(self.pitot, self.angled), self.stop)


class Conditioned:
    """A flight through one window, lead, gap and zero, where both channels are ready: position 0,
    1, 2 ... count these ticks.

    q_dpa, angled_dpa: int32. ratio_bp, lift_pm: int16, rubbish where q_dpa is below the
    candidate's min_q_dpa. clock_ms: running sum of these ticks' own times.
    spans: list of `Span`; starts: the position at which each begins, and the number of positions.
    zero_known_from, zero_refused_from: see `GroundStory`.
    """

    def __init__(self, prepared: "Prepared", line: Line, epochs: list[tuple[Epoch, bool, tuple]],
                 story: GroundStory, flaps: FlapStory) -> None:
        self.spans = [span_of(epoch, line, hides) for epoch, hides, _ in epochs]
        self.starts = np.cumsum([0] + [span.stop - span.both for span in self.spans]).tolist()
        count = self.starts[-1]
        self.q_dpa, self.angled_dpa = np.empty(count, np.int32), np.empty(count, np.int32)
        self.ratio_bp, self.lift_pm = np.empty(count, np.int16), np.empty(count, np.int16)
        self.clock_ms = np.empty(count, np.int32)
        self.zero_known_from, self.zero_refused_from = story.known_from, story.refused_from
        self._prepared, self._line, self._epochs = prepared, line, epochs
        self._curves: list[tuple[CurveTable, int, int]] = []
        for i, span in enumerate(self.spans):
            if span.both < span.stop:
                self._fill(i, span, flaps)

    def _fill(self, i: int, span: Span, flaps: FlapStory) -> None:
        shift = self.starts[i] - span.both
        before = int(self.clock_ms[self.starts[i] - 1]) if self.starts[i] else 0
        times = self._prepared.ticks.times_ms
        np.subtract(times[span.both:span.stop], times[max(span.both - 1, 0)] - before,
                    out=self.clock_ms[self.starts[i]:self.starts[i + 1]], casting="same_kind")
        edges = _edges(self._epochs[i][0], span.both, span.stop)
        for lo, hi in zip(edges, edges[1:], strict=False):
            part = slice(lo + shift, hi + shift)
            self._channel(i, 0, lo, hi, self.q_dpa[part])
            self._channel(i, 1, lo, hi, self.angled_dpa[part])
            ratios_bp(self._prepared.plumbing, self.q_dpa[part], self.angled_dpa[part],
                      self.ratio_bp[part])
            for table, start, stop in flaps.pieces(lo, hi):
                part = slice(start + shift, stop + shift)
                table.lift_pm(self.ratio_bp[part], self.lift_pm[part])
                if self._curves and self._curves[-1][0] is table:
                    part = slice(self._curves.pop()[1], part.stop)
                self._curves.append((table, part.start, part.stop))

    def _channel(self, i: int, side: int, lo: int, hi: int, out: np.ndarray) -> None:
        """A channel's pressure at ticks lo..hi-1 of an epoch, all ready, into out."""
        epoch, _, zero = self._epochs[i]
        at_ticks((epoch.pitot, epoch.angled)[side], self._line, zero[side], lo, hi,
                 self._prepared.scratch, out)

    @cached_property
    def slack_most_pm(self) -> np.ndarray:
        """No less than `slack_pm` anywhere, int16, and cheap."""
        ticks, prepared = self._prepared.ticks, self._prepared
        if not len(self.q_dpa):
            return np.zeros(0, np.int16)
        most = step_most_bp(prepared.plumbing, self.ratio_bp, ticks.pitot.step_dpa,
                              ticks.angled.step_dpa)
        steepest = max(table.steepest for table, _, _ in self._curves)
        bound = self.q_dpa.astype(np.float32)
        np.maximum(bound, 1, out=bound)
        np.divide(np.float32(2 * most * steepest), bound, out=bound)
        bound += 2  # for all roundings of a single-precision number below 4000, and more
        return np.minimum(bound, 2 * LIFT_MOST_PM, out=bound).astype(np.int16)

    def slack_pm(self, at: np.ndarray) -> np.ndarray:
        """Twice the lift that one step of the sensors makes (`Decision._judge`) at some positions,
        rising: int16."""
        ticks = self._prepared.ticks
        steps = steps_bp(self._prepared.plumbing, self.q_dpa[at], self.ratio_bp[at],
                         ticks.pitot.step_dpa, ticks.angled.step_dpa)
        found = np.zeros(len(at), np.int16)
        tables = list(dict.fromkeys(table for table, _, _ in self._curves))
        if len(tables) == 1:
            return tables[0].slack_pm(self.ratio_bp[at], steps)
        piece = np.searchsorted([start for _, start, _ in self._curves], at, side="right") - 1
        which = np.array([tables.index(table) for table, _, _ in self._curves])[piece]
        for i, table in enumerate(tables):
            own = np.flatnonzero(which == i)
            found[own] = table.slack_pm(self.ratio_bp[at[own]], steps[own])
        return found

    def shown(self, min_q_dpa: int, lo: int, hi: int) -> list[np.ndarray]:
        """Pitot, angled, ratio and lift share of ticks lo..hi-1 as the unit shows them, int32;
        `session.UNKNOWN` where it knows none. The last two: from min_q_dpa on."""
        found = [np.full(hi - lo, UNKNOWN, np.int32) for _ in range(4)]
        for i, span in enumerate(self.spans):
            for side, ready in enumerate((span.pitot, span.angled)):
                start, stop = max(ready, lo), min(span.stop - span.hides, hi)
                if start < stop:
                    self._channel(i, side, start, stop, found[side][start - lo:stop - lo])
            start, stop = max(span.both, lo), min(span.stop, hi)
            if start < stop:
                at = slice(*(k - span.both + self.starts[i] for k in (start, stop)))
                enough = self.q_dpa[at] >= min_q_dpa
                for out, column in zip(found[2:], (self.ratio_bp, self.lift_pm), strict=True):
                    out[start - lo:stop - lo][enough] = column[at][enough]
        return found


def _edges(epoch: Epoch, lo: int, hi: int) -> list[int]:
    """Where to cut ticks lo..hi-1, so that a block does not reach over several tiles."""
    grid = epoch.pitot.grid
    tiles = [int(grid.at[tile.events[0]]) for tile in grid.tiles if tile.events[0] < len(grid.at)]
    cuts = [tile for tile in tiles if lo < tile < hi]
    return [lo, *cuts, hi] if lo < hi else []


def span_of(epoch: Epoch, line: Line, hides: bool) -> Span:
    """When the channels of an epoch are ready."""
    ready = []
    for seeded in (epoch.pitot, epoch.angled):
        event = seeded.ready_event(line.slots)
        at = int(seeded.grid.at[event]) if event < len(seeded.grid.at) else epoch.stop
        ready.append(min(at, epoch.stop))
    return Span(ready[0], ready[1], epoch.stop, hides)


class Prepared:
    """A flight, ready for any number of candidates. Keeps the latest few results.

    Memory: some 46 bytes a tick, 20 for each of the KEPT results, and while one is made 30 more:
    by tracemalloc 130 a tick at most, 47 MB for an hour at 100 Hz, beside the flight's own rows.
    The arithmetic goes tile by tile and takes less than 1 MB, however long the flight.
    """

    def __init__(self, flight: Recorded) -> None:
        settings, problems = load(flight.settings)
        if problems or settings.missing:
            raise ValueError(f"settings that no unit would take: {problems or settings.missing}")
        self.ticks = Ticks(flight, settings)
        self._wiring = [getattr(settings, name) for name in WIRING]
        self.plumbing = settings.plumbing
        self.period_ms = 1000 // settings.sample_rate_hz
        self.scratch = Scratch()
        self._zero = flight.zero
        self._tables = [(flap, table_of(tuple((ratio, lift) for ratio, lift in points)))
                        for flap, points in flight.curves]
        self._makers: Kept = Kept(2)
        self._stories: Kept = Kept(16)
        self._groups: Kept = Kept(KEPT)

    def conditioned(self, settings: Settings) -> Conditioned:
        """The flight through a candidate's windows; from the store where it was asked for just
        before with the same window, lead, gap, flap time and zeros. ValueError where they are for
        other sensors than the flight was recorded with."""
        if [getattr(settings, name) for name in WIRING] != self._wiring:
            raise ValueError("a candidate may not change what the words mean: "
                             + ", ".join(WIRING))
        line = Line(max(4, settings.window_ms // self.period_ms), self.period_ms,
                    settings.lead_ms)
        key = (line, settings.gap_ms)
        ground = key + tuple(getattr(settings, name) for name in GROUND)
        story, epochs = self._stories.get(ground, lambda: self._story(settings, line))
        group = (*key, settings.flap_settle_ms, story.known_from, story.refused_from,
                 tuple(story.taken), tuple(story.zeros))
        return self._groups.get(group, lambda: Conditioned(
            self, line, epochs, story,
            FlapStory(self._tables, self.ticks, settings.flap_settle_ms)))

    def _maker(self, gap_ms: int) -> EpochMaker:
        return self._makers.get(gap_ms, lambda: EpochMaker(self.ticks, gap_ms, self.period_ms))

    def _story(self, settings: Settings, line: Line) -> tuple:
        """(GroundStory, [(epoch, a zero ends it, its zero)])."""
        story = GroundStory(settings, self._zero)
        takeoff = Takeoff(settings)
        maker = self._maker(settings.gap_ms)
        epochs, emptied, longer = [], -1, None
        while emptied < len(self.ticks):
            epoch = maker.after(emptied, longer)
            zero = tuple(story.zero_dpa)
            span = span_of(epoch, line, False)
            taken = walk(self.ticks, epoch, span.both, line, story, takeoff, self.scratch)
            longer = epoch if taken >= 0 else None
            if taken >= 0:
                epoch = Epoch(epoch.first, taken + 1, epoch.pitot, epoch.angled)
            epochs.append((epoch, taken >= 0, zero))
            emptied = taken if taken >= 0 else epoch.stop
        return story, epochs


def prepare(flight: Recorded) -> Prepared:
    """What no candidate changes. ValueError where the flight's settings are not complete."""
    return Prepared(flight)
