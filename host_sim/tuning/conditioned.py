"""What the windows of a candidate make of a flight: pressures, ratio, lift share, tick by tick.

`prepare` does once a flight what no candidate changes; `Prepared.conditioned` does once a window,
lead, gap and zero what the other settings do not change.
"""

from collections import OrderedDict
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from alula.settings import Settings, load
from host_sim.runtimes.session import UNKNOWN
from host_sim.tuning.epochs import Epoch, EpochMaker
from host_sim.tuning.flap_story import FlapStory
from host_sim.tuning.ground_story import GroundStory
from host_sim.tuning.line_values import Line, at_ticks
from host_sim.tuning.ratio_values import CurveTable, ratios_bp, steps_bp
from host_sim.tuning.stream import Recorded, Ticks
from host_sim.tuning.takeoff import Takeoff, walk

BLOCK_TICKS = 16384
KEPT = 4
# What decides about the zeros on the ground, beside window, lead and gap.
GROUND = ("zero_ms", "zero_spread_dpa", "zero_change_dpa", "zero_share_pm", "zero_again_ms",
          "zero_first_dpa", "flying_q_dpa", "flying_ms", "min_q_dpa")


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
    """A flight through one window, lead, gap and zero. Arrays are as long as the flight has ticks
    and hold rubbish where nothing is known: see `spans`.

    q_dpa, angled_dpa: int32. ratio_bp, lift_pm: int16, where q_dpa >= the candidate's min_q_dpa.
    spans: list of `Span`. zero_known_from, zero_refused_from: see `GroundStory`.
    """

    def __init__(self, prepared: "Prepared", line: Line, epochs: list[tuple[Epoch, bool, tuple]],
                 story: GroundStory, flaps: FlapStory) -> None:
        count = len(prepared.ticks)
        self.q_dpa, self.angled_dpa = np.zeros(count, np.int32), np.zeros(count, np.int32)
        self.ratio_bp, self.lift_pm = np.zeros(count, np.int16), np.zeros(count, np.int16)
        self.zero_known_from, self.zero_refused_from = story.known_from, story.refused_from
        self.spans = [span_of(epoch, line, hides) for epoch, hides, _ in epochs]
        self._prepared = prepared
        self._flaps = flaps
        for (epoch, _, zero), span in zip(epochs, self.spans, strict=True):
            self._fill(epoch, span, line, zero)

    def _fill(self, epoch: Epoch, span: Span, line: Line, zero: tuple[int, int]) -> None:
        for lo in range(min(span.pitot, span.angled), span.stop, BLOCK_TICKS):
            hi = min(lo + BLOCK_TICKS, span.stop)
            for seeded, ready, dpa, out in (
                    (epoch.pitot, span.pitot, zero[0], self.q_dpa),
                    (epoch.angled, span.angled, zero[1], self.angled_dpa)):
                if max(lo, ready) < hi:
                    out[max(lo, ready):hi] = at_ticks(seeded, line, dpa, max(lo, ready), hi)
            if max(lo, span.both) < hi:
                self._divide(max(lo, span.both), hi)

    def _divide(self, lo: int, hi: int) -> None:
        ratio = ratios_bp(self._prepared.plumbing, self.q_dpa[lo:hi], self.angled_dpa[lo:hi],
                          self.ratio_bp[lo:hi])
        for table, start, stop in self._flaps.pieces(lo, hi):
            table.lift_pm(ratio[start - lo:stop - lo], self.lift_pm[start:stop])

    @cached_property
    def slack_pm(self) -> np.ndarray:
        """Twice the lift that one step of the sensors makes (`Unit._judge`), int16."""
        found = np.zeros(len(self.q_dpa), np.int16)
        prepared = self._prepared
        for span in self.spans:
            for lo in range(span.both, span.stop, BLOCK_TICKS):
                hi = min(lo + BLOCK_TICKS, span.stop)
                steps = steps_bp(prepared.plumbing, self.q_dpa[lo:hi], self.ratio_bp[lo:hi],
                                 prepared.ticks.pitot.step_dpa, prepared.ticks.angled.step_dpa)
                for table, start, stop in self._flaps.pieces(lo, hi):
                    part = slice(start - lo, stop - lo)
                    table.slack_pm(self.ratio_bp[start:stop], steps[part], found[start:stop])
        return found

    @cached_property
    def compared(self) -> np.ndarray | slice:
        """The ticks at which both channels are ready, as an index into the arrays."""
        spans = [span for span in self.spans if span.both < span.stop]
        if len(spans) == 1:
            return slice(spans[0].both, spans[0].stop)
        parts = [np.arange(span.both, span.stop) for span in spans]
        return np.concatenate(parts) if parts else slice(0, 0)


    def shown(self, min_q_dpa: int, lo: int, hi: int) -> list[np.ndarray]:
        """Pitot, angled, ratio and lift share of ticks lo..hi-1 as the unit shows them, int32;
        `session.UNKNOWN` where it knows none. The last two: from min_q_dpa on."""
        found = [np.full(hi - lo, UNKNOWN, np.int32) for _ in range(4)]
        for span in self.spans:
            seen = span.stop - span.hides
            for out, source, start, stop in (
                    (found[0], self.q_dpa, span.pitot, seen),
                    (found[1], self.angled_dpa, span.angled, seen),
                    (found[2], self.ratio_bp, span.both, span.stop),
                    (found[3], self.lift_pm, span.both, span.stop)):
                start, stop = max(start, lo), min(stop, hi)
                if start < stop:
                    out[start - lo:stop - lo] = source[start:stop]
        for out in found[2:]:
            out[self.q_dpa[lo:hi] < min_q_dpa] = UNKNOWN
        return found


def span_of(epoch: Epoch, line: Line, hides: bool) -> Span:
    """When the channels of an epoch are ready."""
    ready = []
    for seeded in (epoch.pitot, epoch.angled):
        event = seeded.ready_event(line.slots)
        at = int(seeded.grid.at[event]) if event < len(seeded.grid.at) else epoch.stop
        ready.append(min(at, epoch.stop))
    return Span(ready[0], ready[1], epoch.stop, hides)


class Prepared:
    """A flight, ready for any number of candidates. Keeps the latest few results."""

    def __init__(self, flight: Recorded) -> None:
        settings, problems = load(flight.settings)
        if problems or settings.missing:
            raise ValueError(f"settings that no unit would take: {problems or settings.missing}")
        self.ticks = Ticks(flight, settings)
        self.plumbing = settings.plumbing
        self.period_ms = 1000 // settings.sample_rate_hz
        self._zero = flight.zero
        self._tables = [(flap, CurveTable(points)) for flap, points in flight.curves]
        self._makers: Kept = Kept(2)
        self._stories: Kept = Kept(16)
        self._groups: Kept = Kept(KEPT)

    def conditioned(self, settings: Settings) -> Conditioned:
        """The flight through a candidate's windows; from the store where it was asked for just
        before with the same window, lead, gap, flap time and zeros."""
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
            taken = walk(self.ticks, epoch, span.both, line, story, takeoff)
            longer = epoch if taken >= 0 else None
            if taken >= 0:
                epoch = Epoch(epoch.first, taken + 1, epoch.pitot, epoch.angled)
            epochs.append((epoch, taken >= 0, zero))
            emptied = taken if taken >= 0 else epoch.stop
        return story, epochs


class Kept:
    """The latest few of what costs time to make."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._found: OrderedDict = OrderedDict()

    def get(self, key, make):
        """What belongs to a key, made where it is not there."""
        if key not in self._found:
            self._found[key] = make()
            if len(self._found) > self._most:
                self._found.popitem(last=False)
        self._found.move_to_end(key)
        return self._found[key]


def prepare(flight: Recorded) -> Prepared:
    """What no candidate changes. ValueError where the flight's settings are not complete."""
    return Prepared(flight)
