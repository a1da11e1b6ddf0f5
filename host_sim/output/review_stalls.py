"""Stalls of a flight: when the wing broke, how soon the unit had warned, how it was entered."""

from dataclasses import dataclass

import numpy as np

from host_sim.output.review_flight import ReviewFlight, Span, spans
from host_sim.output.review_margins import greatest_load
from host_sim.runtimes.capture_runs import capture_flight
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.states import PRESSING, STALLING  # noqa: E402

REARM_LIFT = 0.90  # a stall is over, and another one possible, when the lift was below this
ENTRY_SPEED = 1.3  # the entry is measured from here, times the stalling speed
SAME_S = 4.0  # two marks no further apart are the same stall
LEAST_KT, LEAST_SHARE = 5.0, 0.05  # 14 CFR 23.207(c), 25.207(c)
# 14 CFR 23.201(b) asks for those margins in an entry of 1 kt/s
SLOW_ENTRY_KT_S = 1.4  # a faster entry is another test (setting capture_fast_ckts)

DEFINITIONS = (
    ("stall by the ratio", "lift reaches 1.00: the ratio at which the calibration puts the stall. "
     f"Counted again after the lift was below {REARM_LIFT:.2f}; less than window_ms in all is a "
     "gust, in which the smoothing line runs ahead, and does not count"),
    ("stall by the lift peak", "the capture's own mark: where load factor over dynamic pressure "
     "peaks (with the accelerometer), or what the pressures alone tell. It does not rest on the "
     "calibration, but needs a slow straight entry that a capture would accept"),
    ("warning lead", "from the start of the warning that goes on without a break to the stall (to "
     "the earlier mark where there are two), in seconds and in knots of indicated airspeed. "
     "Where only the ratio marks the stall, a wrong calibration moves the mark and the warning "
     "together: the row proves the warning against the calibration, not against the wing"),
    ("entry rate", f"mean loss of indicated airspeed from {ENTRY_SPEED} times the stalling speed "
     "to the stall; in turns and pull-ups the load factor rises too, and knots say less"),
)


@dataclass(frozen=True)
class Lead:
    """How long before a stall a sound began. speed: share of the speed at the stall."""

    at: int
    seconds: float
    knots: float
    share: float


@dataclass(frozen=True)
class Stall:
    """One stall. at: tick of the earlier mark. ratio_s, peak_s: time of each mark as the log
    counts, None where it found none. pressing, stalling: lead of each sound, None where it did
    not sound at the stall. entry_kt_s: None where the log has no entry from ENTRY_SPEED on.
    load_most: greatest load factor (a second's mean) in the 3 s before; None without n."""

    at: int
    ias_kt: float
    ratio_s: float | None
    peak_s: float | None
    pressing: Lead | None
    stalling: Lead | None
    entry_kt_s: float | None
    load_most: float | None

    @property
    def enough(self) -> bool | None:
        """Whether pressing began LEAST_KT and LEAST_SHARE before, in a slow entry; None where the
        entry was another, or is not known."""
        if self.entry_kt_s is None or not 0 < self.entry_kt_s <= SLOW_ENTRY_KT_S:
            return None
        lead = self.pressing
        return lead is not None and lead.knots >= LEAST_KT and lead.share >= LEAST_SHARE


def find_stalls(flight: ReviewFlight) -> list[Stall]:
    """Every stall in the air, in order of time."""
    by_ratio = _ratio_marks(flight)
    by_peak = _peak_marks(flight)
    found = []
    for at in sorted(by_ratio):
        near = [peak for peak in by_peak if abs(_apart_s(flight, at, peak)) <= SAME_S]
        found.append(_stall(flight, at, near[0] if near else None))
        by_peak = [peak for peak in by_peak if peak not in near]
    found += [_stall(flight, None, peak) for peak in by_peak]
    return sorted(found, key=lambda stall: stall.at)


def _apart_s(flight: ReviewFlight, a: int, b: int) -> float:
    return float(flight.now_ms[a] - flight.now_ms[b]) / 1000


def _ratio_marks(flight: ReviewFlight) -> list[int]:
    found = []
    for first, after in flight.air:
        lift = flight.lift[first:after]
        high, low = np.flatnonzero(lift >= 1.0), np.flatnonzero(lift < REARM_LIFT)
        while len(high):
            calm = low[np.searchsorted(low, high[0]):]
            until = int(calm[0]) if len(calm) else len(lift)
            begun = int(high[0])
            stalled = [(first + a, first + b) for a, b in spans(lift >= 1.0) if begun <= a < until]
            if 1000 * sum(map(flight.seconds, stalled)) >= flight.settings.window_ms:
                found.append(first + begun)
            high = high[np.searchsorted(high, until):]
    return found


def _peak_marks(flight: ReviewFlight) -> list[int]:
    """Marks of the runs that the capture accepts, as ticks in the air."""
    times_s = [run.stall_time_s for run in capture_flight(
        flight.name, flight.stream, flight.first_ms).runs if run.accepted]
    ticks = [int(np.searchsorted(flight.time_s, time_s)) for time_s in times_s]
    return [at for at in ticks if any(first <= at < after for first, after in flight.air)]


def _stall(flight: ReviewFlight, by_ratio: int | None, by_peak: int | None) -> Stall:
    at = min(mark for mark in (by_ratio, by_peak) if mark is not None)
    ratio_s, peak_s = (None if mark is None else float(flight.time_s[mark])
                       for mark in (by_ratio, by_peak))
    begin = int(np.searchsorted(flight.now_ms, flight.now_ms[at] - 3000))
    return Stall(at, float(flight.ias_kt[at]), ratio_s, peak_s, _lead(flight, at, PRESSING),
                 _lead(flight, at, STALLING), _entry_kt_s(flight, at),
                 greatest_load(flight, (begin, at + 1)))


def _lead(flight: ReviewFlight, at: int, state: int) -> Lead | None:
    """From the start of the unbroken sound, of this state or a more urgent one, to the stall."""
    sounds = (flight.state[:at + 1] >= state) & (flight.state[:at + 1] <= STALLING)
    if not sounds[-1]:
        return None
    silent = np.flatnonzero(~sounds)
    first = int(silent[-1]) + 1 if len(silent) else 0
    knots = float(flight.ias_kt[first] - flight.ias_kt[at])
    return Lead(first, _apart_s(flight, at, first), knots, knots / float(flight.ias_kt[at]))


def _entry_kt_s(flight: ReviewFlight, at: int) -> float | None:
    """Mean loss of speed since the last time at ENTRY_SPEED times the stalling speed: by the lift
    where it is known, else by indicated airspeed."""
    span = next((part for part in flight.air if part[0] <= at < part[1]), None)
    if span is None:
        return None
    before = slice(span[0], at)
    fast = flight.lift[before] <= ENTRY_SPEED ** -2
    if not np.isfinite(flight.lift[before]).any():
        fast = flight.ias_kt[before] >= ENTRY_SPEED * flight.ias_kt[at]
    last = np.flatnonzero(fast)
    if not len(last):
        return None
    start = span[0] + int(last[-1])
    return float(flight.ias_kt[start] - flight.ias_kt[at]) / _apart_s(flight, at, start)


def near_stall(flight: ReviewFlight, stall: Stall, before_s: float, after_s: float) -> Span:
    """The ticks around a stall."""
    now = flight.now_ms[stall.at]
    return (int(np.searchsorted(flight.now_ms, now - 1000 * before_s)),
            int(np.searchsorted(flight.now_ms, now + 1000 * after_s)))
