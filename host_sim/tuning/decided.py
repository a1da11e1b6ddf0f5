"""What the unit decides with a candidate's settings, as a list of changes: `alula.decision`.

Exact, bit for bit, as long as the candidate raises no doubt about the pressures (`alula/doubts`:
jumps, lost reads, frozen or dead sensors, a ratio that cannot be). Those are long watches that a
healthy flight never wakes; they are not repeated here. `verify` runs the firmware itself.
"""

from collections.abc import Iterator

import numpy as np

from alula.cues import CALM_HZ, CALM_MILLIHZ, WARBLE_NOTES_MILLIHZ
from alula.decision import FIGURE_HZ
from alula.health import NO_ZERO, OK, ON_GROUND, Q_LOST, TOO_SLOW
from alula.settings import Settings
from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING
from alula.urgency import STEPS, pulse_rates
from host_sim.tuning.bands import Bands
from host_sim.tuning.conditioned import Conditioned, Prepared
from host_sim.tuning.decisions import Decisions, Said
from host_sim.tuning.flight_story import FlightStory
from host_sim.tuning.outage import outage


def decide(prepared: Prepared, group: Conditioned, settings: Settings) -> Decisions:
    """Every change of state, health, pulse rate and pitch.

    group: of the same settings (`Prepared.conditioned`). settings: checked, without problems.
    """
    return _Teller(prepared, group, settings).tell()


class _Sound:
    """Pulse rate and pitch of every band (`Cues._sound`)."""

    def __init__(self, settings: Settings) -> None:
        start, end = settings.pressing_pm, settings.stalling_pm
        rise = settings.pitch_high_hz - settings.pitch_low_hz
        step = np.arange(STEPS + 1)
        self.rates_millihz = np.array(pulse_rates(
            settings.pulse_low_millihz, settings.pulse_high_millihz, settings.urgency_pm))
        self.pitches_hz = settings.pitch_low_hz + rise * step // STEPS
        self.step_of_lift = np.maximum(
            (np.arange(end) - start) * (STEPS + 1) // (end - start), 0).astype(np.int8)
        self.warble = (max(WARBLE_NOTES_MILLIHZ, settings.pulse_high_millihz),
                       settings.warble_high_hz)
        self.calm = (CALM_MILLIHZ, CALM_HZ) if settings.calm_sound else (0, 0)


class _Teller:
    """Walks through a flight's stretches: on the ground, judged, without q, without data."""

    def __init__(self, prepared: Prepared, group: Conditioned, settings: Settings) -> None:
        self._ticks = prepared.ticks
        self._group = group
        self._settings = settings
        self._story = FlightStory(group, settings)
        self._bands = Bands(settings)
        self._tones = _Sound(settings)
        self._sound = (0, 0)
        self._pressing: list[tuple[int, int, int]] = []  # position from, to, and its first tick
        self._flying = False
        self._said = Said()
        some = [i for i, span in enumerate(group.spans) if span.both < span.stop]
        self._spans = [group.spans[i] for i in some]
        self._starts = [group.starts[i] for i in some] + [group.starts[-1]]
        self._next = 0  # span that has not begun yet

    def tell(self) -> Decisions:
        """Everything, from the first tick to the last."""
        at = 0
        while at < self._story.count:
            start = self._story.begins(at)
            self._ground(at, start)
            at = self._fly(start) if start < self._story.count else start
        self._outage(self._spans[-1].stop if self._spans else 0, len(self._ticks))
        self._press()
        return self._said.decisions(self._ticks.rows_at)

    def _fly(self, at: int) -> int:
        """A flight that begins at `at`; where it ends."""
        story = self._story
        while at < story.count:
            stop = story.sinks(at)
            self._judged(at, stop)
            if stop == story.count:
                return stop
            lost = story.lost(stop)
            if not lost and story.ends(self._bands.band):
                return stop
            at = story.rises(stop)
            land = at if lost else story.stands(stop, at)
            self._without_q(stop, land, Q_LOST if lost else TOO_SLOW)
            if land < at:
                return land
        return at

    def _pieces(self, lo: int, hi: int, flying: bool) -> Iterator[tuple[int, int, int]]:
        """(from, to, first tick) of the parts of a stretch without a gap in them; gaps are told
        on the way."""
        while lo < hi:
            if lo == self._starts[self._next]:
                span = self._spans[self._next]
                before = self._spans[self._next - 1].stop if self._next else 0
                self._outage(before, span.both)
                self._next += 1
            self._flying = flying
            stop = min(hi, (self._starts[self._next]))
            first = self._spans[self._next - 1].both + lo - (self._starts[self._next - 1])
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
        fault, code = outage(self._ticks, lo, hi, self._settings)
        self._held(np.arange(lo, hi), fault, code)

    def _held(self, ticks: np.ndarray, fault: np.ndarray, code: np.ndarray) -> None:
        """Ticks without a lift share: what outlives it, and for how long (`Decision._held`)."""
        group, settings, times = self._group, self._settings, self._ticks.times_ms
        band = self._bands.band if self._flying else QUIET
        unknown_ms = times[ticks] - times[self._known_before(int(ticks[0]))]
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
        """The last tick before this one with a known lift share; 0 where there was none."""
        spans = self._spans
        for i in range(min(self._next, len(spans)) - 1, -1, -1):
            lo = (self._starts[i])
            hi = min((self._starts[i + 1]), lo + tick - spans[i].both)
            at = self._story.enough_before(lo, hi)
            if at >= 0:
                return spans[i].both + at - lo
        return 0
