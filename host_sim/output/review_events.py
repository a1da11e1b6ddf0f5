"""Approaches and turns of a flight, by definitions that the page states too.

A unit with two pressures and an accelerometer knows neither height nor bank: what a landing and a
turn are must be told from dynamic pressure and load factor.
"""

from dataclasses import dataclass
from math import acos, degrees

import numpy as np

from host_sim.output.review_flight import ReviewFlight, Span, spans
from host_sim.output.review_margins import Margins, margins, mean_over

APPROACH_S = 120.0
FLARE_S = 15.0
TURN_MEAN_S = 5.0
TURN_BEGINS, TURN_ENDS = 1.06, 1.03  # load factor: as in level turns banked 19 and 14 degrees
TURN_LEAST_S, TURN_GAP_S = 5.0, 5.0
LEVEL_OFF = 0.05  # an accelerometer on a slant, or with a zero error, may read so far from 1

DEFINITIONS = (
    ("in the air", "from the first half second with dynamic pressure above the setting "
     "flying_q_dpa (slower, no wing of this aeroplane flies) to the last time it is above, before "
     "the unit says that it is on the ground"),
    ("approach", f"the last {APPROACH_S:.0f} s in the air before a landing, without the last "
     f"{FLARE_S:.0f} s. A touch-and-go that stays fast is not seen"),
    ("flare", f"the last {FLARE_S:.0f} s in the air before a landing, touch-down and roll-out "
     "included: a small margin is meant there"),
    ("turn or pull-up", f"mean load factor over {TURN_MEAN_S:.0f} s of at least {TURN_BEGINS} "
     f"times that of level flight, until it is below {TURN_ENDS}; {TURN_LEAST_S:.0f} s or longer, "
     f"gaps of less than {TURN_GAP_S:.0f} s do not count, the flare neither. A pull-up looks the "
     "same, and in rough air gusts do: the unit does not know the bank. The bank named is that of "
     "a level turn with the greatest such mean. Not known without an accelerometer"),
)


@dataclass(frozen=True)
class Event:
    """A span worth a row of the table. kind: a word of DEFINITIONS. bank_deg: of a level turn with
    the same greatest mean load factor (1/cos bank), None where that does not apply."""

    kind: str
    span: Span
    margins: Margins
    bank_deg: float | None = None


def find_events(flight: ReviewFlight) -> list[Event]:
    """All spans in the air, approaches, flares and turns, in order of time."""
    found = []
    for span in flight.air:
        landing = _landing(flight, span)
        found += [Event("in the air", span, margins(flight, span)), *landing]
        found += _turns(flight, (span[0], landing[0].span[0] if landing else span[1]))
    return sorted(found, key=lambda event: (event.span[0], -event.span[1]))


def _landing(flight: ReviewFlight, span: Span) -> list[Event]:
    """Flare and approach; nothing where the log ended in the air."""
    if not flight.landed(span):
        return []
    late = flight.last_seconds(span, FLARE_S)
    early = (flight.last_seconds(span, APPROACH_S)[0], late[0])
    found = [Event("flare", late, margins(flight, late))]
    if early[1] > early[0]:
        found.append(Event("approach", early, margins(flight, early)))
    return found


def level_load(flight: ReviewFlight) -> float:
    """What the accelerometer reads in level flight: its median in the air, if that is near 1."""
    air = np.concatenate([np.ones(1), *(flight.load[first:after] for first, after in flight.air)])
    median = float(np.nanmedian(air)) if np.isfinite(air).any() else 1.0
    return min(max(median, 1 - LEVEL_OFF), 1 + LEVEL_OFF)


def _turns(flight: ReviewFlight, span: Span) -> list[Event]:
    first, after = span
    if not flight.has_load or after <= first:
        return []
    load = mean_over(flight, flight.load, TURN_MEAN_S)[first:after] / level_load(flight)
    found = []
    for begin, end in _joined(flight, [(first + a, first + b) for a, b in spans(load >= TURN_ENDS)
                                       if load[a:b].max() >= TURN_BEGINS]):
        if flight.seconds((begin, end)) >= TURN_LEAST_S:
            most = float(np.nanmax(load[begin - first:end - first]))
            found.append(Event("turn or pull-up", (begin, end), margins(flight, (begin, end)),
                               degrees(acos(1 / most))))
    return found


def _joined(flight: ReviewFlight, parts: list[Span]) -> list[Span]:
    found: list[Span] = []
    for begin, end in parts:
        if found and flight.seconds((found[-1][1], begin)) < TURN_GAP_S:
            found[-1] = (found[-1][0], end)
        else:
            found.append((begin, end))
    return found
