"""What the unit decides with a candidate's settings, as lists of changes: `alula.decision`.

Exact, bit for bit, as long as the candidate raises no doubt about the pressures (`alula/doubts`:
jumps, lost reads, frozen or dead sensors, a ratio that cannot be). Those are long watches that a
healthy flight never wakes; they are not repeated here. `through_engine.by_firmware` runs the
firmware itself.
"""

from collections.abc import Iterator

import numpy as np

from alula.decision import FIGURE_HZ
from alula.health import NO_ZERO, OK, ON_GROUND, Q_LOST, TOO_SLOW
from alula.settings import Settings
from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING
from host_sim.tuning.engine.bands import Bands
from host_sim.tuning.engine.conditioned import Conditioned
from host_sim.tuning.engine.decisions import Decisions, Said
from host_sim.tuning.engine.flight_story import FlightStory
from host_sim.tuning.engine.outage import Unready, outage
from host_sim.tuning.engine.prepared import Left, Prepared
from host_sim.tuning.engine.sounds import Sounds
from host_sim.tuning.engine.stream import Ticks

_ON_GROUND, _JUDGED, _SLOW, _LOST = range(4)


class Course:
    """A candidate on its way through a flight, stretch by stretch, as the firmware goes tick by
    tick. Between two of them it holds no more than what counts for the next."""

    def __init__(self, settings: Settings) -> None:
        """settings: checked, without problems."""
        self._settings = settings
        self._left: Left | None = None
        self._teller = _Teller(settings)

    def step(self, prepared: Prepared) -> tuple[Conditioned, Decisions]:
        """Every change of state, health, pulse rate and pitch in the stretch; and what led to
        them, for now: it may be another candidate's, too."""
        group, self._left = prepared.follow(self._settings, self._left)
        return group, self._teller.tell(prepared, group)


def decide(prepared: Prepared, settings: Settings) -> Decisions:
    """The decisions on a flight in one stretch."""
    return Course(settings).step(prepared)[1]


class _Teller:
    """Walks through a flight's stretches: on the ground, judged, without q, without data."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._story = FlightStory(settings)
        self._bands = Bands(settings)
        self._tones = Sounds(settings)
        self._sound = (0, 0)
        self._phase = _ON_GROUND
        self._flying = False
        self._known_ms: int | None = None  # time of the latest tick with a known lift share
        self._unready: Unready | None = None

    def tell(self, prepared: Prepared, group: Conditioned) -> Decisions:
        """A stretch, from its first tick to its last."""
        self._enter(prepared.ticks, group)
        at, story = 0, self._story
        phases = (self._stay, self._fly, self._wait, self._wait)
        while at < story.count:
            at = phases[self._phase](at)
        ticks = self._ticks
        self._outage(self._spans[-1].stop if self._spans else ticks.first, len(ticks))
        self._press()
        self._known_ms = self._known_before(len(ticks))
        story.leave()
        told = self._said.decisions(ticks.rows_at)
        del self._ticks, self._group, self._said, self._pressing, self._spans, self._starts
        return told

    def _enter(self, ticks: Ticks, group: Conditioned) -> None:
        self._ticks, self._group = ticks, group
        self._story.enter(group)
        self._pressing: list[tuple[int, int, int]] = []  # position from, to, and its first tick
        self._said = Said()
        some = [i for i, span in enumerate(group.spans) if span.both < span.stop]
        self._spans = [group.spans[i] for i in some]
        self._starts = [group.starts[i] for i in some] + [group.starts[-1]]
        self._next = 0  # span that has not begun yet
        if self._known_ms is None:
            self._known_ms = int(ticks.times_ms[0])

    def _stay(self, at: int) -> int:
        """On the ground from `at` on; where that ends."""
        start = self._story.begins(at)
        self._ground(at, start)
        if start < self._story.count:
            self._phase = _JUDGED
        return start

    def _fly(self, at: int) -> int:
        """In flight with enough q from `at` on; where that ends."""
        story = self._story
        stop = story.sinks(at)
        self._judged(at, stop)
        if stop < story.count:
            if story.lost(stop):
                self._phase = _LOST
            else:
                self._phase = _ON_GROUND if story.ends(self._bands.band) else _SLOW
        return stop

    def _wait(self, at: int) -> int:
        """In flight without enough q from `at` on; where that ends."""
        story, lost = self._story, self._phase == _LOST
        rises = story.rises(at)
        stop = rises if lost else story.stands(at, rises)
        self._without_q(at, stop, Q_LOST if lost else TOO_SLOW)
        if stop < story.count:
            self._phase = _ON_GROUND if stop < rises else _JUDGED
        return stop

    def _pieces(self, lo: int, hi: int, flying: bool) -> Iterator[tuple[int, int, int]]:
        """(from, to, first tick) of the parts of a stretch without a gap in them; gaps are told
        on the way."""
        while lo < hi:
            if lo == self._starts[self._next]:
                span = self._spans[self._next]
                before = self._spans[self._next - 1].stop if self._next else self._ticks.first
                self._outage(before, span.both)
                self._unready = None
                self._next += 1
            self._flying = flying
            stop = min(hi, self._starts[self._next])
            first = self._spans[self._next - 1].both + lo - self._starts[self._next - 1]
            yield lo, stop, first
            lo = stop

    def _ground(self, lo: int, hi: int) -> None:
        group = self._group
        for start, stop, first in self._pieces(lo, hi, False):
            self._bands.reset()
            self._sound = (0, 0)
            after = first + stop - start
            self._said.at(first, QUIET, ON_GROUND, self._sound)
            refused = max(group.zero_refused_from, first)
            if refused < min(group.zero_known_from, after):
                self._said.at(refused, FAULT, NO_ZERO, (0, FIGURE_HZ))
                if group.zero_known_from < after:
                    self._said.at(group.zero_known_from, QUIET, ON_GROUND, self._sound)

    def _judged(self, lo: int, hi: int) -> None:
        for start, stop, first in self._pieces(lo, hi, True):
            if first < self._group.zero_known_from:
                self._said.at(first, FAULT, NO_ZERO, (0, FIGURE_HZ))
                continue
            changes = self._bands.step(self._group, start, stop)
            ends = [at for at, _ in changes[1:]] + [stop]
            for (at, band), end in zip(changes, ends, strict=True):
                self._band(band, at, end, first + at - start)

    def _band(self, band: int, lo: int, hi: int, first: int) -> None:
        """One band, in use from position lo to hi, which is tick `first`."""
        tones, said = self._tones, self._said
        if band == PRESSING:
            self._pressing.append((lo, hi, first))
            i = tones.step_of_lift[self._group.lift_pm[hi - 1]]
            self._sound = (int(tones.rates_millihz[i]), int(tones.pitches_hz[i]))
            return
        if band == CALM:
            settles = self._story.settles
            if lo < settles:
                said.at(first, band, OK, (0, 0))
            if settles < hi:
                said.at(first + max(settles - lo, 0), band, OK, tones.calm)
            self._sound = tones.calm if settles < hi else (0, 0)
            return
        self._sound = tones.warble if band == STALLING else (0, 0)
        said.at(first, band, OK, self._sound)

    def _press(self) -> None:
        """All the pressing at once: where the pulse rate changes."""
        if not self._pressing:
            return
        lo, hi, first = np.array(self._pressing).T
        begins = np.cumsum(hi - lo) - (hi - lo)
        at = np.arange(int((hi - lo).sum()))
        step = self._tones.step_of_lift[
            self._group.lift_pm[at + np.repeat(lo - begins, hi - lo)]]
        changes = np.ones(len(at), bool)
        changes[1:] = step[1:] != step[:-1]
        changes[begins] = True
        step = step[changes]
        ticks = (at + np.repeat(first - begins, hi - lo))[changes]
        self._said.many(ticks, np.full(len(step), PRESSING), np.full(len(step), OK),
                        self._tones.rates_millihz[step], self._tones.pitches_hz[step])

    def _without_q(self, lo: int, hi: int, code: int) -> None:
        for start, stop, first in self._pieces(lo, hi, True):
            ticks = np.arange(first, first + stop - start)
            self._held(ticks, np.zeros(len(ticks), bool), np.full(len(ticks), code, np.int8))

    def _outage(self, lo: int, hi: int) -> None:
        """Ticks at which the channels are not both ready."""
        if lo >= hi:
            return
        before = self._unready or Unready(int(self._ticks.times_ms[max(lo - 1, 0)]))
        fault, code, self._unready = outage(self._ticks, lo, hi, self._settings, before)
        self._held(np.arange(lo, hi), fault, code)

    def _held(self, ticks: np.ndarray, fault: np.ndarray, code: np.ndarray) -> None:
        """Ticks without a lift share: what outlives it, and for how long (`Decision._held`)."""
        group, settings, times = self._group, self._settings, self._ticks.times_ms
        band = self._bands.band if self._flying else QUIET
        unknown_ms = times[ticks] - self._known_before(int(ticks[0]))
        if band == STALLING:
            lost = unknown_ms > settings.hold_ms
        elif self._flying:
            lost = fault | (unknown_ms > settings.fault_after_ms)
        else:
            lost = fault.copy()
        amiss = ~fault & (ticks < group.zero_known_from) & (
            self._flying | (ticks >= group.zero_refused_from))
        lost |= amiss
        code = np.where(amiss, NO_ZERO, code)
        self._said.many(ticks, np.where(lost, FAULT, band), code,
                        np.where(lost, 0, self._sound[0]),
                        np.where(lost, FIGURE_HZ, self._sound[1]))

    def _known_before(self, tick: int) -> int:
        """Time of the last tick before this one with a known lift share, or of the first tick of
        all."""
        spans = self._spans
        for i in range(min(self._next, len(spans)) - 1, -1, -1):
            lo = self._starts[i]
            hi = min(self._starts[i + 1], lo + tick - spans[i].both)
            at = self._story.enough_before(lo, hi)
            if at >= 0:
                return int(self._ticks.times_ms[spans[i].both + at - lo])
        assert self._known_ms is not None
        return self._known_ms
