"""What the windows of a candidate make of a stretch of a flight: pressures, ratio, lift share,
tick by tick. Only window, lead, gap, flap time and zeros change it."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from alula.lift_curve import LIFT_MOST_PM
from host_sim.runtimes.session import UNKNOWN
from host_sim.tuning.engine.epochs import Epoch
from host_sim.tuning.engine.flap_story import FlapStory
from host_sim.tuning.engine.ground_story import GroundStory
from host_sim.tuning.engine.line_values import Line, Scratch, at_ticks
from host_sim.tuning.engine.ratio_values import CurveTable, ratios_bp, step_most_bp, steps_bp
from host_sim.tuning.engine.stream import Ticks


@dataclass(frozen=True)
class Stretch:
    """What is the same for all candidates. Not the whole of `prepared.Prepared`, which keeps what
    is made of it: the two would keep each other."""

    ticks: Ticks
    plumbing: int
    scratch: Scratch


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
    """A stretch through one window, lead, gap and zero, where both channels are ready: position 0,
    1, 2 ... count these ticks.

    q_dpa, angled_dpa: int32. ratio_bp, lift_pm: int16, rubbish where q_dpa is below the
    candidate's min_q_dpa. clock_ms: running sum of these ticks' own times since power-up.
    spans: list of `Span`; starts: the position at which each begins, and the number of positions.
    zero_known_from, zero_refused_from: see `GroundStory`, as ticks of the stretch.
    """

    def __init__(self, stretch: Stretch, line: Line, epochs: list[tuple[Epoch, bool, tuple]],
                 story: GroundStory, flaps: FlapStory, clock_ms: int) -> None:
        """clock_ms: of the latest such tick before the stretch."""
        ticks = stretch.ticks
        self.spans = [span_of(epoch, line, hides, ticks.first) for epoch, hides, _ in epochs]
        self.starts = np.cumsum([0] + [span.stop - span.both for span in self.spans]).tolist()
        count = self.starts[-1]
        self.q_dpa, self.angled_dpa = np.empty(count, np.int32), np.empty(count, np.int32)
        self.ratio_bp, self.lift_pm = np.empty(count, np.int16), np.empty(count, np.int16)
        self.clock_ms = np.empty(count, np.int32)
        self._clock_before_ms = clock_ms
        self.zero_known_from = story.known_from - ticks.base
        self.zero_refused_from = story.refused_from - ticks.base
        self._stretch, self._line, self._epochs = stretch, line, epochs
        self._curves: list[tuple[CurveTable, int, int]] = []
        for i, span in enumerate(self.spans):
            if span.both < span.stop:
                self._fill(i, span, flaps)

    def _fill(self, i: int, span: Span, flaps: FlapStory) -> None:
        shift = self.starts[i] - span.both
        before = self.clock_before(self.starts[i])
        times = self._stretch.ticks.times_ms
        np.subtract(times[span.both:span.stop], times[max(span.both - 1, 0)] - before,
                    out=self.clock_ms[self.starts[i]:self.starts[i + 1]], casting="same_kind")
        edges = _edges(self._epochs[i][0], span.both, span.stop)
        for lo, hi in zip(edges, edges[1:], strict=False):
            part = slice(lo + shift, hi + shift)
            self._channel(i, 0, lo, hi, self.q_dpa[part])
            self._channel(i, 1, lo, hi, self.angled_dpa[part])
            ratios_bp(self._stretch.plumbing, self.q_dpa[part], self.angled_dpa[part],
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
                 self._stretch.scratch, out)

    def clock_before(self, at: int) -> int:
        """`clock_ms` of the position before one."""
        return int(self.clock_ms[at - 1]) if at else self._clock_before_ms

    @cached_property
    def _slack_times_q(self) -> float:
        """The most that `slack_pm` times q in 0.1 Pa can be, but for roundings."""
        ticks = self._stretch.ticks
        most = step_most_bp(self._stretch.plumbing, self.ratio_bp, ticks.pitot.step_dpa,
                            ticks.angled.step_dpa)
        return 2 * most * max(table.steepest for table, _, _ in self._curves)

    def slack_above_pm(self, q_dpa: int) -> float:
        """No less than `slack_pm` wherever there is so much q, or more."""
        return self._slack_times_q / q_dpa + 2  # for all roundings, in single precision too

    @cached_property
    def slack_most_pm(self) -> np.ndarray:
        """No less than `slack_pm` anywhere, int16, and cheap."""
        bound = self.q_dpa.astype(np.float32)
        np.maximum(bound, 1, out=bound)
        np.divide(np.float32(self._slack_times_q), bound, out=bound)
        bound += 2  # as above
        return np.minimum(bound, 2 * LIFT_MOST_PM, out=bound).astype(np.int16)

    def slack_pm(self, at: np.ndarray) -> np.ndarray:
        """Twice the lift that one step of the sensors makes (`Decision._judge`) at some positions,
        rising: int16."""
        ticks = self._stretch.ticks
        steps = steps_bp(self._stretch.plumbing, self.q_dpa[at], self.ratio_bp[at],
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


def span_of(epoch: Epoch, line: Line, hides: bool, first: int) -> Span:
    """When the channels of an epoch are ready; not before tick `first`."""
    ready = []
    for seeded in (epoch.pitot, epoch.angled):
        event = seeded.ready_event(line.slots)
        at = int(seeded.grid.at[event]) if event < len(seeded.grid.at) else epoch.stop
        ready.append(min(max(at, first), epoch.stop))
    return Span(ready[0], ready[1], epoch.stop, hides)
