"""The best line against a textbook relation, and against scipy (outside code)."""

import numpy as np
import pytest
from scipy.linalg import solve_discrete_are
from scipy.signal import lfilter, savgol_coeffs

from host_sim.sizing.noise_gain import line_weights
from host_sim.tuning.measuring.theory import (
    benedict_bordner,
    best_line,
    kalman_gains,
    kink_lags,
    noise_gain,
)


@pytest.mark.parametrize("wander", [1e-6, 1e-4, 1e-3, 0.01, 0.1, 1.0])
def test_kalman_gains_are_the_riccati_equation_s(wander):
    """Position and speed, the speed alone wanders between samples: scipy solves for the steady
    state; Benedict and Bordner (1962, from memory): beta = alpha^2/(2 - alpha)."""
    step = np.array([[1.0, 1.0], [0.0, 1.0]])
    seen = np.array([[1.0, 0.0]])
    ahead = solve_discrete_are(step.T, seen.T, np.diag([0.0, wander]), np.eye(1))
    alpha, beta = (ahead @ seen.T / (seen @ ahead @ seen.T + 1.0)).ravel()
    assert kalman_gains(wander) == pytest.approx((alpha, beta), rel=1e-6)
    assert beta == pytest.approx(benedict_bordner(alpha), rel=1e-6)


@pytest.mark.parametrize("alpha", [0.05, 0.2, 0.5])
def test_noise_gain_is_the_impulse_response_s_power(alpha):
    """The filter as a transfer function: (alpha + (beta - alpha) z^-1) over
    1 - (2 - alpha - beta) z^-1 + (1 - alpha) z^-2; white noise gains the power of its answer."""
    beta = benedict_bordner(alpha)
    impulse = np.zeros(4000)
    impulse[0] = 1.0
    answer = lfilter([alpha, beta - alpha], [1.0, alpha + beta - 2.0, 1.0 - alpha], impulse)
    assert noise_gain(alpha, beta) == pytest.approx(float(np.sqrt((answer ** 2).sum())), rel=1e-9)
    ramp = np.arange(4000.0)
    lag = ramp - lfilter([alpha, beta - alpha], [1.0, alpha + beta - 2.0, 1.0 - alpha], ramp)
    assert kink_lags(alpha, beta, 4000) == pytest.approx(lag, abs=1e-6)


@pytest.mark.parametrize("alpha", [0.1, 0.3])
def test_no_other_gains_with_the_same_noise_have_less_lag_in_squares(alpha):
    """What Benedict and Bordner asked for; any other pair with the same noise loses."""
    best_beta = benedict_bordner(alpha)
    wanted = noise_gain(alpha, best_beta)
    best = float((kink_lags(alpha, best_beta, 3000) ** 2).sum())
    for other in alpha * np.array([0.8, 0.9, 0.97, 1.03, 1.1, 1.2]):
        betas = np.geomspace(best_beta / 20, best_beta * 3, 4000)
        gains = np.array([noise_gain(other, beta) for beta in betas])
        for i in np.flatnonzero(np.diff(np.sign(gains - wanted))):
            assert float((kink_lags(other, betas[i], 3000) ** 2).sum()) > best


def test_the_best_line_falls():
    """Less lag costs noise, along all of it."""
    lags, gains = np.array(best_line(0.01, np.geomspace(0.03, 0.6, 20))).T
    assert (np.diff(lags) < 0).all()
    assert (np.diff(gains) > 0).all()


@pytest.mark.parametrize("slots", [8, 20, 40])
def test_closed_form_of_the_moving_line_s_noise_is_scipy_s(slots):
    """A straight line fitted by least squares and read at its newest value is a Savitzky-Golay
    filter of order 1 (scipy.signal); its weights squared, summed, are 1/N + 12 x^2/(N(N^2-1))."""
    theirs = savgol_coeffs(slots + 1 - slots % 2, 1, pos=slots - slots % 2, use="dot")
    odd = len(theirs)
    middle = (odd - 1) / 2
    closed = 1 / odd + 12 * middle ** 2 / (odd * (odd ** 2 - 1))
    assert float((theirs ** 2).sum()) == pytest.approx(closed, rel=1e-9)
    assert line_weights(odd, 0.0) == pytest.approx(theirs, abs=1e-9)
