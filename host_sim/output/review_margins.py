"""Margins over a span of a flight.

V/Vs = 1/sqrt(lift) and n_available/n = 1/lift, with lift = CL/CLmax: both follow from the lift
equation n W = q S CL at the q of the moment, and at the n of the moment.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.output.review_flight import ReviewFlight, Span, spans

THIN = 0.10  # "thin": less than a tenth of speed margin
THIN_LIFT = 1 / (1 + THIN) ** 2


@dataclass(frozen=True)
class Margins:
    """Over one span. None where the unit never knew the lift in it.

    speed: least V/Vs - 1 (below 0: past the stall). speed_kt: the same in knots of indicated
    airspeed at that moment: IAS - IAS sqrt(lift). load: least n_available/n. at: tick of both.
    ias_kt: indicated airspeed there. thin_s: longest unbroken time with less than THIN of speed
    margin. known: share of the time in which the lift was known. load_most: largest load factor,
    a mean over a second, None without an accelerometer.
    """

    at: int | None
    speed: float | None
    speed_kt: float | None
    load: float | None
    ias_kt: float | None
    thin_s: float | None
    known: float
    load_most: float | None


def margins(flight: ReviewFlight, span: Span) -> Margins:
    """Least margins in a span."""
    first, after = span
    lift = flight.lift[first:after]
    share = float(np.isfinite(lift).mean()) if len(lift) else 0.0
    load_most = greatest_load(flight, span)
    if not share or np.nanmax(lift) <= 0:
        return Margins(None, None, None, None, None, None, share, load_most)
    at = first + int(np.nanargmax(lift))
    most = float(flight.lift[at])
    ias_kt = float(flight.ias_kt[at])
    return Margins(at, most ** -0.5 - 1, ias_kt * (1 - most ** 0.5), 1 / most, ias_kt,
                   _longest_thin_s(flight, span), share, load_most)


def _longest_thin_s(flight: ReviewFlight, span: Span) -> float:
    first, after = span
    thin = flight.lift[first:after] > THIN_LIFT
    return max((flight.seconds((first + a, first + b)) for a, b in spans(thin)), default=0.0)


def mean_over(flight: ReviewFlight, values: np.ndarray, seconds: float) -> np.ndarray:
    """Running mean of a column over `seconds`, centred; NaN where half of it is missing."""
    tick_s = float(np.median(np.diff(flight.now_ms))) / 1000 if len(values) > 1 else 1.0
    width = max(1, round(seconds / tick_s))
    there = np.isfinite(values)
    sums = np.r_[0.0, np.cumsum(np.where(there, values, 0.0))]
    counts = np.r_[0, np.cumsum(there)]
    low = np.clip(np.arange(len(values)) - width // 2, 0, len(values))
    high = np.clip(low + width, 0, len(values))
    count = counts[high] - counts[low]
    enough = count * 2 > width
    return np.where(enough, (sums[high] - sums[low]) / np.maximum(count, 1), np.nan)


def greatest_load(flight: ReviewFlight, span: Span) -> float | None:
    """Largest load factor of a span, a mean over one second; None without an accelerometer."""
    if not flight.has_load:
        return None
    mean = mean_over(flight, flight.load[span[0]:span[1]], 1.0)
    return float(np.nanmax(mean)) if np.isfinite(mean).any() else None
