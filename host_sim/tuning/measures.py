"""What is measured of a candidate, with definition, unit and source; and on one flight."""

from dataclasses import dataclass

import numpy as np

from host_sim.output.review_stalls import ENTRY_SPEED, LEAST_KT, LEAST_SHARE, SLOW_ENTRY_KT_S
from host_sim.runtimes.paths import use_firmware
from host_sim.tuning.candidates import SHIPPED
from host_sim.tuning.decisions import Decisions
from host_sim.tuning.reference import Reference

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


def see(reference: Reference, decisions: Decisions) -> FlightSeen:
    """Measure one flight."""
    at, state = decisions.rows, decisions.state
    quiet = reference.flying & ~reference.slow
    changed = np.flatnonzero(np.diff(state)) + 1  # change points at which the state changes
    ticks, before, after = at[changed], state[changed - 1], state[changed]
    warns = _warns(after) & ~_warns(before)
    low = (before <= CALM) & (after <= CALM)
    flown = np.diff(reference.flown[np.r_[at, len(reference.time_ms)]])
    fault_ms = float(flown[state == FAULT].sum()) * reference.every_ms
    return FlightSeen(
        tuple(_stall(reference, decisions, tick) for tick in reference.stalls),
        int((warns & quiet[ticks]).sum()), reference.seconds(reference.flying) / 3600.0,
        int((reference.rough[ticks] & (after <= STALLING) & (before <= STALLING)).sum()),
        reference.seconds(reference.rough) / 60.0,
        int((low & reference.approach[ticks]).sum()),
        reference.seconds(reference.approach) / 60.0, *_overstay(reference, decisions),
        fault_ms / 1000.0)


def _overstay(reference: Reference, decisions: Decisions) -> tuple[float, int]:
    """(seconds by which warnings outlast their cause, how many end in flight)."""
    at, warns = decisions.rows, _warns(decisions.state)
    high = reference.lift_pm >= SHIPPED["pressing_pm"]
    found_ms, count, onset = 0.0, 0, -1
    for k, tick in enumerate(at.tolist()):
        if warns[k] and onset < 0:
            onset = tick
        elif onset >= 0 and not warns[k]:
            if decisions.state[k] <= CALM and reference.flying[tick]:
                caused = np.flatnonzero(high[onset:tick])
                last = onset + int(caused[-1]) if len(caused) else onset
                found_ms += float(reference.time_ms[tick] - reference.time_ms[last])
                count += 1
            onset = -1
    return found_ms / 1000.0, count


def _warns(state: np.ndarray) -> np.ndarray:
    return (state == PRESSING) | (state == STALLING)


def _stall(reference: Reference, decisions: Decisions, tick: int) -> StallSeen:
    """Look back from a stall to where the sound of it began."""
    at = decisions.rows
    here = int(np.searchsorted(at, tick, "right")) - 1
    if here < 0 or not _warns(decisions.state[here:here + 1])[0]:
        return StallSeen(None, None, None, None, None, None)
    silent = np.flatnonzero(~_warns(decisions.state[:here]))
    first = int(silent[-1]) + 1 if len(silent) else 0
    onset = int(at[first])
    time_ms, speed_kt = reference.time_ms, reference.speed_kt
    margin_kt, share = _margin(reference, onset, tick)
    warble = [k for k in range(first, here + 1) if decisions.state[k] == STALLING]
    ends = int(at[warble[0]]) if warble else tick
    return StallSeen(
        float(time_ms[tick] - time_ms[onset]) / 1000.0, _number(speed_kt[onset] - speed_kt[tick]),
        margin_kt, share, float(time_ms[tick] - time_ms[ends]) / 1000.0,
        _pulses(reference, decisions, first, here, ends))


def _pulses(reference: Reference, decisions: Decisions, first: int, here: int,
            ends: int) -> float:
    """Pulse rate over time, from the onset to the warble or the stall."""
    edges = np.minimum(np.r_[decisions.rows[first:here + 1], ends], ends)
    seconds = np.diff(reference.time_ms[edges]) / 1000.0
    return float((seconds * decisions.pulse_millihz[first:here + 1] / 1000.0).sum())


def _margin(reference: Reference, onset: int, tick: int) -> tuple[float | None, float | None]:
    speed, load = reference.speed_kt, reference.load
    if not 0 < entry_rate_kt_s(reference, tick) <= SLOW_ENTRY_KT_S:
        return None, None
    stall_kt = speed[tick] * np.sqrt(max(load[onset], 0.0) / max(load[tick], 0.1))
    margin = _number(speed[onset] - stall_kt)
    return margin, None if margin is None or stall_kt <= 0 else margin / float(stall_kt)


def entry_rate_kt_s(reference: Reference, tick: int) -> float:
    """Mean loss of speed from ENTRY_SPEED times the stall's to the stall; 0 where there is no
    such entry in the LONGEST_ENTRY_S before."""
    speed, time_ms = reference.speed_kt, reference.time_ms
    first = int(np.searchsorted(time_ms, time_ms[tick] - 1000.0 * LONGEST_ENTRY_S))
    fast = np.flatnonzero(speed[first:tick] >= ENTRY_SPEED * speed[tick])
    if not len(fast):
        return 0.0
    begin = first + int(fast[-1])
    return float(speed[begin] - speed[tick]) / float(time_ms[tick] - time_ms[begin]) * 1000.0


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
