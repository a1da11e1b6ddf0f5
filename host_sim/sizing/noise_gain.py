"""How much of a sensor's noise the smoothing lets through, in closed form.

The moving line's end is a weighted sum of its N values; with values T apart, x = (N-1)/2 + h/T
slots from the line's middle, its variance is 1/N + 12 x^2/(N (N^2 - 1)) of theirs (least squares,
textbook) if they are independent. Behind a median of three they are not: neighbours share words.
For Gaussian words the median has 1 - sqrt(3)/pi = 0.449 of their variance (order statistics,
textbook); its covariance with the next two medians is integrated here. Farther ones share no word.
"""

from functools import lru_cache
from math import pi, sqrt

import numpy as np

from host_sim.sizing.gaussian import below, density

MEDIAN_VARIANCE = 1.0 - sqrt(3.0) / pi
_REACH, _CELLS = 7.0, 1400  # integrals run over +-7 standard deviations


def line_weights(slots: int, horizon_slots: float) -> np.ndarray:
    """What each of the line's values is worth, oldest first: 1/N + (i - m) x 12/(N (N^2 - 1))."""
    middle = (slots - 1) / 2.0
    from_middle = np.arange(slots) - middle
    return 1.0 / slots + from_middle * (middle + horizon_slots) * 12.0 / (
        slots * (slots ** 2 - 1))


def channel_covariances(slots: int, horizon_slots: float) -> tuple[float, float]:
    """(variance, covariance with the value one slot later) of a channel's output, as shares of
    the variance of one word: the median of three, then the line."""
    weights = line_weights(slots, horizon_slots)
    medians = median_covariances()
    found = []
    for shift in (0, 1):
        total = 0.0
        for apart in range(-2, 3):
            lag = apart + shift
            first = weights[max(0, lag):slots + min(0, lag)]
            second = weights[max(0, -lag):slots + min(0, -lag)]
            total += medians[abs(apart)] * float(first @ second)
        found.append(total)
    return found[0], found[1]


@lru_cache(maxsize=1)
def median_covariances() -> tuple[float, float, float]:
    """Covariance of the median of three independent unit Gaussians with itself, with the next
    median (two words shared) and the one after (one word shared)."""
    at = (np.arange(_CELLS) + 0.5) * (2.0 * _REACH / _CELLS) - _REACH
    cell = at[1] - at[0]
    weight = density(at) * cell
    # one word c shared: E[median | c] = integral of 2 F (1 - F) from 0 to c
    middle = np.cumsum(2.0 * below(at) * (1.0 - below(at))) * cell
    one = float(((middle - middle.mean()) ** 2 * weight).sum())
    # two words a <= b shared: the median is the third word, clipped to a..b
    shared = at * below(at) + density(at)
    clipped = shared[:, None] - shared[None, :] + at[None, :]
    both = 2.0 * np.triu(weight[:, None] * weight[None, :] * clipped ** 2, 1)
    same = float((weight ** 2 * np.diag(clipped) ** 2).sum())
    return MEDIAN_VARIANCE, float(both.sum()) + same, one
