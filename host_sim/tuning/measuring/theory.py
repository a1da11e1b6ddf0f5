"""The line that no two-state filter passes: steady-state Kalman, Benedict-Bordner gains.

A filter that follows position and speed, x += T v + alpha (z - x), v += beta/T (z - x), is the
steady state of a Kalman filter whose model lets the speed alone wander between two samples. Its
gains then keep Benedict and Bordner's relation beta = alpha^2/(2 - alpha) (IRE Trans. Automatic
Control AC-7, 1962; from memory): of all such filters with the same noise it has the least sum of
squared lags after a kink in the signal. Noise of its output over that of its input, variances:
(2 alpha^2 + beta (2 - 3 alpha)) / (alpha (4 - beta - 2 alpha)) (textbook; from memory). The tests
check both against scipy's solve_discrete_are and lfilter.
"""

from math import sqrt

import numpy as np

LAG_S = 4.0  # a kink has died out after so long


def benedict_bordner(alpha: float) -> float:
    """beta for alpha in 0..1."""
    return alpha * alpha / (2.0 - alpha)


def kalman_gains(wander: float) -> tuple[float, float]:
    """(alpha, beta) for a speed that wanders by `wander` (variance a step, in noise variances a
    squared step), in closed form: with the two-state model the steady state has
    wander = beta^2/(1 - alpha), and Benedict-Bordner's relation gives alpha by bisection."""
    low, high = 0.0, 1.0
    for _ in range(80):
        alpha = (low + high) / 2.0
        if benedict_bordner(alpha) ** 2 / (1.0 - alpha) < wander:
            low = alpha
        else:
            high = alpha
    return low, benedict_bordner(low)


def noise_gain(alpha: float, beta: float) -> float:
    """Standard deviation of the output over that of independent noise on the input."""
    return sqrt((2.0 * alpha ** 2 + beta * (2.0 - 3.0 * alpha))
                / (alpha * (4.0 - beta - 2.0 * alpha)))


def kink_lags(alpha: float, beta: float, steps: int) -> np.ndarray:
    """How far behind, in samples, the output is while a ramp of one a sample begins at 0."""
    position = speed = 0.0
    lags = np.empty(steps)
    for k in range(steps):
        position += speed
        off = k - position
        position += alpha * off
        speed += beta * off
        lags[k] = k - position
    return lags


def best_line(period_s: float, alphas: np.ndarray) -> list[tuple[float, float]]:
    """(most lag after a kink in s, noise gain) for each alpha: the line of the plot."""
    found = []
    for alpha in alphas.tolist():
        beta = benedict_bordner(alpha)
        lags = kink_lags(alpha, beta, round(LAG_S / period_s))
        found.append((float(lags.max()) * period_s, noise_gain(alpha, beta)))
    return found
