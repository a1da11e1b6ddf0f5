"""Differences of two logs of one flight: lift, and what the units said."""

from dataclasses import dataclass

import numpy as np

from host_sim.output.review_flight import ReviewFlight, Span, spans

LONGEST_GAP_S = 0.25  # values of the second log further away than this do not count
SHOWN_S = 0.3  # shorter differences of state are counted, not listed


@dataclass(frozen=True)
class Comparison:
    """offset_s: see `review_align.align`; correlation: there. partner: for every tick of the first
    log the nearest tick of the second, -1 where there is none. lift: difference of the lift share,
    second less first, NaN where one is not known. apart: spans of the first log's ticks in which
    the units were in different states. overlap_s, apart_s: seconds compared, and apart."""

    offset_s: float
    correlation: float
    partner: np.ndarray
    lift: np.ndarray
    apart: list[Span]
    overlap_s: float
    apart_s: float


def compare(one: ReviewFlight, two: ReviewFlight, offset_s: float,
            correlation: float) -> Comparison:
    """Compare two logs whose offset is known."""
    partner = nearest(one.now_ms / 1000 - offset_s, two.now_ms / 1000)
    there = partner >= 0
    lift = np.where(there, two.lift[partner] - one.lift, np.nan)
    differ = there & (two.state[partner] != one.state)
    found = spans(differ)
    return Comparison(offset_s, correlation, partner, lift, found,
                      sum(one.seconds(span) for span in spans(there)),
                      sum(one.seconds(span) for span in found))


def nearest(wanted_s: np.ndarray, times_s: np.ndarray) -> np.ndarray:
    """Index of the nearest time, or -1 where that is more than LONGEST_GAP_S away."""
    after = np.searchsorted(times_s, wanted_s).clip(0, len(times_s) - 1)
    before = np.maximum(after - 1, 0)
    closer = abs(times_s[before] - wanted_s) < abs(times_s[after] - wanted_s)
    index = np.where(closer, before, after)
    return np.where(abs(times_s[index] - wanted_s) <= LONGEST_GAP_S, index, -1)
