"""What is measured of a candidate, with definition, unit and source; and on one flight."""

from dataclasses import dataclass, replace

import numpy as np

from host_sim.output.review_stalls import ENTRY_SPEED, LEAST_KT, LEAST_SHARE, SLOW_ENTRY_KT_S
from host_sim.runtimes.paths import use_firmware
from host_sim.tuning.candidates import SHIPPED
from host_sim.tuning.engine.decisions import Decisions
from host_sim.tuning.engine.timers import runs
from host_sim.tuning.measuring.reference import Reference

use_firmware()

from alula.states import CALM, FAULT, PRESSING, STALLING  # noqa: E402

DEFINITIONS = (
    ("delay", "s, and degrees", "an angle of attack rests, then rises steadily at 1, 3 and 10 "
     "degrees a second: the most by which the conditioned ratio lies behind; degrees are delay "
     "times rate. Tubes, sensor and sound come on top (`alula size` adds them up)"),
    ("noise", "per mille of lift", "standard deviation of the lift share in steady flight at "
     "1.05, 1.20 and 1.30 Vs, with the sensor noise found in the flights (second differences of "
     "the words in the air), through the firmware's conditioning"),
    ("warning lead", "s, kt", "from the beginning of the pressing or stalling sound that goes on "
     "without a break to the stall, and the indicated airspeed lost meanwhile"),
    ("margin at onset", "kt, %", "indicated airspeed at that beginning less the speed of the "
     "stall, scaled to the load factor of that moment by the square root; in entries of at most "
     f"{SLOW_ENTRY_KT_S} kt/s from {ENTRY_SPEED} Vs it must be {LEAST_KT:.0f} kt and "
     f"{LEAST_SHARE:.0%} at least (14 CFR 23.207(c), 25.207(c))"),
    ("misses", "stalls", "stalls at which neither sounds; must be 0"),
    ("pulses", "pulses", "how many pulses are heard before the unbroken warble or the stall"),
    ("nuisance", "an hour", "beginnings of pressing or stalling in flight outside slow flight "
     "(mean lift over 2 s below that of 1.30 Vs, 3 s away from more): 14 CFR 23.207(d) allows no "
     "warning in normal flight"),
    ("changes in gusts", "a minute", "changes of state where the lift varies by more than 5 % "
     "around its 2 s mean (over 10 s; light turbulence by common practice, no source)"),
    ("calm changes", "a minute", "changes between quiet and calm where the mean lift over 10 s "
     "lies between 0.45 and 0.66 (1.49 and 1.23 Vs), as on an approach"),
    ("overstay", "s", "how long a warning (pressing or stalling) goes on after its cause: from "
     "the last moment at which the lift, mean of 0.5 s on both sides, was at "
     f"{SHIPPED['pressing_pm'] / 1000:.3f} (where pressing begins as shipped: one yardstick for "
     "all) to the end of the sound in flight; mean over all warnings"),
    ("fault", "s", "time in flight in which the unit said that it cannot know"),
)
LONGEST_ENTRY_S = 40.0


@dataclass(frozen=True)
class StallSeen:
    """One stall as a candidate warned of it; None in all where it did not. margins: None where
    the entry was fast, or is not known. warble_s: lead of the stalling sound, 0 where none."""

    lead_s: float | None
    lead_kt: float | None
    margin_kt: float | None
    margin_share: float | None
    warble_s: float | None
    pulses: float | None


MISSED = StallSeen(None, None, None, None, None, None)


@dataclass(frozen=True)
class FlightSeen:
    """One flight as a candidate sounded on it. Counts, and the hours or minutes they belong to.
    overstay_s: sum over `warnings`, those that end in flight."""

    stalls: tuple[StallSeen, ...]
    nuisance: int
    hours: float
    gust_changes: int
    gust_minutes: float
    calm_changes: int
    calm_minutes: float
    overstay_s: float
    warnings: int
    fault_s: float

    @property
    def misses(self) -> int:
        """Stalls without a warning."""
        return sum(stall.lead_s is None for stall in self.stalls)


@dataclass(frozen=True)
class _Going:
    """A warning that goes on. time_ms, speed_kt, load: of its onset. caused_ms: when the lift was
    last as high as its cause. warble_ms: when the stalling sound began. pulses: heard before that
    and until_ms; rate_hz: from there on."""

    time_ms: float
    speed_kt: float
    load: float
    caused_ms: float
    until_ms: float
    warble_ms: float | None = None
    pulses: float = 0.0
    rate_hz: float = 0.0


def see(reference: Reference, decisions: Decisions) -> FlightSeen:
    """Measure a flight in one stretch."""
    watch = Watch()
    watch.take(reference, decisions)
    return watch.seen()


class Watch:
    """Measures one candidate on one flight, stretch by stretch."""

    def __init__(self) -> None:
        self._stalls: list[StallSeen] = []
        self._counts = np.zeros(4, int)  # nuisance, in gusts, calm, warnings that end in flight
        self._spent_s = np.zeros(5)  # flying, in gusts, approach, overstay, in fault
        self._state: int | None = None
        self._going: _Going | None = None

    def seen(self) -> FlightSeen:
        """All so far."""
        nuisance, gusts, calm, warnings = self._counts.tolist()
        flying, rough, approach, overstay, fault = self._spent_s.tolist()
        return FlightSeen(tuple(self._stalls), nuisance, flying / 3600.0, gusts, rough / 60.0,
                          calm, approach / 60.0, overstay, warnings, fault)

    def take(self, reference: Reference, decisions: Decisions) -> None:
        """A further stretch."""
        if not len(decisions.rows):
            return
        at, state = decisions.rows - reference.first_row, decisions.state
        before = np.r_[state[0] if self._state is None else self._state, state[:-1]]
        changed = np.flatnonzero(state != before)
        ticks, before, after = at[changed], before[changed], state[changed]
        warns = _warns(after) & ~_warns(before)
        quiet = reference.flying[ticks] & ~reference.slow[ticks]
        low = (before <= CALM) & (after <= CALM)
        heard = (before <= STALLING) & (after <= STALLING)
        self._counts[:3] += [(warns & quiet).sum(), (heard & reference.rough[ticks]).sum(),
                             (low & reference.approach[ticks]).sum()]
        self._spent_s[:3] += reference.spent_s
        flown = np.diff(reference.flown[np.r_[at, len(reference.time_ms)]])
        self._spent_s[4] += float(flown[state == FAULT].sum()) * reference.every_ms / 1000.0
        self._warnings(reference, decisions, at)
        self._state = int(state[-1])

    def _warnings(self, reference: Reference, decisions: Decisions, at: np.ndarray) -> None:
        """Every warning, and the stalls in it; the other stalls are missed."""
        starts, stops = runs(_warns(decisions.state))
        going, self._going = self._going, None
        if going and (not len(starts) or starts[0] > 0):
            self._ended(reference, going, 0, int(decisions.state[0]))
        found: dict[int, StallSeen] = {}
        for start, stop in zip(starts.tolist(), stops.tolist(), strict=True):
            first, after = int(at[start]), int(at[stop]) if stop < len(at) else len(
                reference.time_ms)
            one = going if going and start == 0 else _onset(reference, first)
            for stall in reference.stalls:
                if first <= stall < after:
                    here = int(np.searchsorted(at, stall, "right")) - 1
                    told = _heard(one, reference, decisions, range(start, here + 1), stall)
                    found[stall] = _stall(reference, told, stall)
            one = _caused(one, reference, first, after)
            if stop < len(at):
                self._ended(reference, one, after, int(decisions.state[stop]))
            else:
                self._going = _heard(one, reference, decisions, range(start, stop),
                                     int(at[-1]))
        self._stalls += [found.get(stall, MISSED) for stall in reference.stalls]

    def _ended(self, reference: Reference, going: _Going, tick: int, state: int) -> None:
        if state <= CALM and reference.flying[tick]:
            self._spent_s[3] += (reference.time_ms[tick] - going.caused_ms) / 1000.0
            self._counts[3] += 1


def _warns(state: np.ndarray) -> np.ndarray:
    return (state == PRESSING) | (state == STALLING)


def _onset(reference: Reference, tick: int) -> _Going:
    time_ms = float(reference.time_ms[tick])
    return _Going(time_ms, float(reference.speed_kt[tick]), float(reference.load[tick]), time_ms,
                  time_ms)


def _caused(going: _Going, reference: Reference, lo: int, hi: int) -> _Going:
    """With its cause in ticks lo..hi-1."""
    high = np.flatnonzero(reference.high[lo:hi])
    if not len(high):
        return going
    return replace(going, caused_ms=float(reference.time_ms[lo + int(high[-1])]))


def _heard(going: _Going, reference: Reference, decisions: Decisions, told: range,
           tick: int) -> _Going:
    """The pulses until a tick. told: the decisions of this warning until then."""
    own = slice(told.start, told.stop)
    begins_ms = reference.time_ms[decisions.rows[own] - reference.first_row].astype(float)
    rates_hz = decisions.pulse_millihz[own] / 1000.0
    warbles = np.flatnonzero(decisions.state[own] == STALLING)
    warble_ms = going.warble_ms
    if warble_ms is None and len(warbles):
        warble_ms = float(begins_ms[warbles[0]])
    end_ms = float(reference.time_ms[tick])
    edges_ms = np.minimum(np.r_[going.until_ms, begins_ms, end_ms],
                          end_ms if warble_ms is None else warble_ms)
    pulses = float((np.diff(edges_ms) * np.r_[going.rate_hz, rates_hz]).sum()) / 1000.0
    return replace(going, warble_ms=warble_ms, pulses=going.pulses + pulses, until_ms=end_ms,
                   rate_hz=float(rates_hz[-1]))


def _stall(reference: Reference, going: _Going, tick: int) -> StallSeen:
    """Look back from a stall to where the sound of it began."""
    time_ms = float(reference.time_ms[tick])
    warble_ms = time_ms if going.warble_ms is None else going.warble_ms
    return StallSeen((time_ms - going.time_ms) / 1000.0,
                     _number(going.speed_kt - reference.speed_kt[tick]),
                     *_margin(reference, going, tick), (time_ms - warble_ms) / 1000.0,
                     going.pulses)


def _margin(reference: Reference, going: _Going, tick: int) -> tuple[float | None, float | None]:
    if not 0 < entry_rate_kt_s(reference, tick) <= SLOW_ENTRY_KT_S:
        return None, None
    stall_kt = reference.speed_kt[tick] * np.sqrt(
        max(going.load, 0.0) / max(reference.load[tick], 0.1))
    margin = _number(going.speed_kt - stall_kt)
    return margin, None if margin is None or stall_kt <= 0 else margin / float(stall_kt)


def entry_rate_kt_s(reference: Reference, tick: int) -> float:
    """Mean loss of speed from ENTRY_SPEED times the stall's to the stall; 0 where there is no
    such entry in the LONGEST_ENTRY_S before."""
    time_ms = np.concatenate([reference.before[0], reference.time_ms[:tick + 1]])
    speed = np.concatenate([reference.before[1], reference.speed_kt[:tick + 1]])
    first = int(np.searchsorted(time_ms, time_ms[-1] - 1000.0 * LONGEST_ENTRY_S))
    fast = np.flatnonzero(speed[first:-1] >= ENTRY_SPEED * speed[-1])
    if not len(fast):
        return 0.0
    begin = first + int(fast[-1])
    return float(speed[begin] - speed[-1]) / float(time_ms[-1] - time_ms[begin]) * 1000.0


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
