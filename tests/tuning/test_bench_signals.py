"""Delay and noise as the firmware has them, against the closed form of its moving line."""

import numpy as np
import pytest

from host_sim.sizing.noise_gain import channel_covariances, line_weights
from host_sim.tuning.candidates import candidate, record_of
from host_sim.tuning.engine.through_engine import Short
from host_sim.tuning.measuring.bench_signals import (
    RATES_DEG_S,
    Wing,
    most_lag_s,
    noise,
    noise_pm,
    ramp,
    raw_noise_pm,
    slope_bp,
)

POINTS = [[-1250, 200], [700, 400], [2600, 694], [3600, 850], [4700, 1000]]


def wing(plumbing="port-static", rate_hz=100):
    return Wing({"plumbing": plumbing, "flap": 0, "points": POINTS},
                {"plumbing": plumbing, "sample_rate_hz": rate_hz}, 2500.0, (10.0, 10.0))


def most_lag_by_hand_s(slots, period_ms, lead_ms):
    """The line through the last N medians, each one sample old, read one sample and the lead
    after the newest: the most by which it lies behind a ramp that begins at sample 0."""
    weights = line_weights(slots, (period_ms + lead_ms) / period_ms)
    lags = []
    for k in range(4 * slots):
        values = np.maximum(np.arange(k - slots, k), 0)  # medians of a ramp: its middle sample
        lags.append(k - float(weights @ values))
    return max(lags) * period_ms / 1000.0


@pytest.mark.parametrize("plumbing", ["port-static", "pitot-port", "opposed"])
@pytest.mark.parametrize(("window_ms", "lead_ms", "rate_hz"), [
    (200, 0, 100), (80, 0, 100), (300, 40, 100), (200, 20, 50), (120, 0, 200)])
def test_delay_is_the_closed_form_s(plumbing, window_ms, lead_ms, rate_hz):
    fleet = wing(plumbing, rate_hz)
    period_ms = 1000 // rate_hz
    expected_s = most_lag_by_hand_s(max(4, window_ms // period_ms), period_ms, lead_ms)
    for rate in RATES_DEG_S[1:]:
        prepared = Short(ramp(fleet, rate))
        shown = prepared.shown(record_of(prepared.flight.settings, candidate(
            {"window_ms": window_ms, "lead_ms": lead_ms})))
        # half a unit of the ratio, and three roundings of 0.1 Pa in 5000 Pa (0.2 units each)
        rounding_s = 1.1 / (slope_bp(plumbing) * rate)
        assert most_lag_s(fleet, prepared.time_ms, shown, rate) == pytest.approx(
            expected_s, abs=rounding_s)


def test_most_lag_is_four_twenty_sevenths_of_a_long_window():
    """The continuous limit: a line's answer to a step is 4x - 3x^2, one at x = 1/3 of the window;
    the integral of what is missing until then is 4/27 (by hand)."""
    assert most_lag_by_hand_s(4000, 1, 0) == pytest.approx(4000 * 4 / 27 / 1000, rel=2e-3)


@pytest.mark.parametrize("plumbing", ["port-static", "pitot-port"])
def test_noise_is_the_closed_form_s(plumbing):
    """Two independent channels through ratio and curve; nine stretches of 19 s around 1.2 Vs.
    Some 850 independent windows tell a standard deviation to 2.4 %: four times that. Rounding of
    the lift to whole per mille adds 1/12."""
    fleet = wing(plumbing)
    found = []
    for speeds in ((1.19, 1.2, 1.21), (1.2, 1.21, 1.19), (1.21, 1.19, 1.2)):
        prepared = Short(noise(fleet, speeds))
        shown = prepared.shown(record_of(prepared.flight.settings, candidate({})))
        found += [sigma ** 2 for sigma in noise_pm(fleet, shown)]
    gain = channel_covariances(20, 1.0)[0]
    expected = raw_noise_pm(fleet, 1.2) ** 2 * gain + 1 / 12
    assert np.sqrt(np.mean(found)) == pytest.approx(np.sqrt(expected), rel=0.10)


def test_raw_noise_is_what_the_firmware_makes_of_one_word():
    """Small errors of each sensor through the firmware's own ratio and curve."""
    from alula.lift_curve import LiftCurve
    from alula.pressure_ratio import PLUMBINGS, ratio_bp
    from host_sim.tuning.measuring.bench_signals import angled_dpa
    for plumbing in PLUMBINGS:
        fleet = wing(plumbing)
        curve, scale = LiftCurve(POINTS), 20  # twentyfold pressures: the same ratio, less rounding
        q = 2500.0 * 1.44 * scale
        ratio = np.interp(694.4, [p[1] for p in POINTS], [p[0] for p in POINTS]) / 1e4
        angled = float(angled_dpa(plumbing, np.array(q), np.array(ratio)))
        kind, moved = PLUMBINGS.index(plumbing), []
        for dq, da in ((400, 0), (0, 400)):
            ends = [curve.lift_pm(ratio_bp(kind, round(q + sign * dq), round(angled + sign * da)))
                    for sign in (-1, 1)]
            moved.append((ends[1] - ends[0]) / 800 * scale * 10.0)
        assert raw_noise_pm(fleet, 1.2) == pytest.approx(float(np.hypot(*moved)), rel=0.03)
