"""The moving line and the channel around it against least squares, theory and scipy.signal."""

import numpy as np
import pytest
from scipy import signal

from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.conditioning import Channel
from alula.moving_line import MovingLine
from alula.sample import FRESH
from alula.settings import Settings
from alula.transfer import Transfer

DEFAULTS = Settings()
PERIOD_MS = 1000 // DEFAULTS.sample_rate_hz
# (slots, period in ms, horizon in ms): the default, the corners of the settings, and leads.
SHAPES = [(20, 10, 0), (20, 10, 10), (20, 10, 60), (8, 10, 10), (40, 10, 10), (80, 5, 5),
          (4, 20, 20), (20, 20, 170), (16, 5, 155)]
shapes = pytest.mark.parametrize(("slots", "period_ms", "horizon_ms"), SHAPES)


def line_weights(slots: int, period_ms: int, horizon_ms: int) -> np.ndarray:
    """What the end of a least-squares line is worth in each of its values, oldest first; by the
    normal equations of numpy, not by our rearranged formula."""
    times = np.arange(1 - slots, 1) * period_ms
    design = np.stack([np.ones(slots), times], axis=1)
    return np.array([1.0, horizon_ms]) @ np.linalg.pinv(design)


def smoothed(values: np.ndarray, slots: int, period_ms: int, horizon_ms: int) -> np.ndarray:
    """The line's value after every push, once it is full."""
    line = MovingLine(slots, period_ms)
    found = []
    for value in values.tolist():
        line.push(value)
        if line.full:
            found.append(line.value(horizon_ms))
    return np.array(found)


def channel(lead_ms: int = 0, window_ms: int = 200) -> Channel:
    """A channel of direct words at the default rate."""
    return Channel(Transfer("direct", -100000, 100000, 1), DEFAULTS.sample_rate_hz, window_ms,
                   DEFAULTS.gap_ms, lead_ms)


def through(conditioner: Channel, words: np.ndarray) -> np.ndarray:
    """The channel's pressure after every word, NaN until it is ready."""
    found = np.full(len(words), np.nan)
    for i, word in enumerate(words.tolist()):
        conditioner.step(PERIOD_MS if i else 0, FRESH, word)
        if conditioner.ready:
            found[i] = conditioner.dpa
    return found


@shapes
def test_line_is_numpys_polyfit(slots: int, period_ms: int, horizon_ms: int) -> None:
    rng = np.random.default_rng(slots)
    values = rng.integers(-90000, 90000, 6 * slots)
    values[3 * slots:] //= 40  # small ones too, where rounding would show
    found = smoothed(values, slots, period_ms, horizon_ms)
    times = np.arange(1 - slots, 1) * period_ms
    for i in range(len(found)):
        fitted = np.polyval(np.polyfit(times, values[i:i + slots], 1), horizon_ms)
        expected = min(max(fitted, -100000), 100000)
        # two roundings of 1/2 each, and the polynomial's own last digits
        assert found[i] == pytest.approx(expected, abs=1.0 + 1e-6)


@shapes
def test_noise_gain_is_the_theory_of_a_lines_end(
        slots: int, period_ms: int, horizon_ms: int) -> None:
    # Variance of a least-squares line, x slots from its middle: 1/N + 12 x^2/(N (N^2 - 1))
    # (textbook). The estimate from M independent windows is right to sqrt(2/M), 1 sigma.
    x = (slots - 1) / 2 + horizon_ms / period_ms
    gain = 1 / slots + 12 * x ** 2 / (slots * (slots ** 2 - 1))
    assert np.sum(line_weights(slots, period_ms, horizon_ms) ** 2) == pytest.approx(gain, rel=1e-9)
    windows = 1500
    sigma = 2000.0
    words = np.rint(sigma * np.random.default_rng(2).standard_normal(windows * slots)).astype(int)
    ends = smoothed(words, slots, period_ms, horizon_ms)[::slots]
    assert (ends / sigma).var() == pytest.approx(gain, rel=4 * (2 / windows) ** 0.5)


@shapes
def test_frequency_response_is_that_of_the_weights(
        slots: int, period_ms: int, horizon_ms: int) -> None:
    # scipy.signal.freqz of the least-squares weights against sines through the integers.
    weights = line_weights(slots, period_ms, horizon_ms)[::-1]
    rate_hz = 1000 / period_ms
    amplitude = 20000.0
    for hz in (0.2, 0.5, 1.0, 2.0, 5.0, 0.2 * rate_hz, 0.4 * rate_hz):
        _, response = signal.freqz(weights, worN=[hz], fs=rate_hz)
        at = np.arange(slots + round(max(2 * rate_hz, 3 * rate_hz / hz)))
        turn = 2 * np.pi * hz / rate_hz * at
        found = smoothed(np.rint(amplitude * np.cos(turn)).astype(int), slots, period_ms,
                         horizon_ms)
        expected = amplitude * (response[0] * np.exp(1j * turn[slots - 1:])).real
        expected = np.clip(expected, -100000, 100000)
        # rounding: 1/2 in every word, weighed, and 1 in the result
        assert abs(found - expected).max() <= 0.5 * abs(weights).sum() + 1.01


@shapes
def test_step_response_is_the_running_sum_of_the_weights(
        slots: int, period_ms: int, horizon_ms: int) -> None:
    weights = line_weights(slots, period_ms, horizon_ms)[::-1]
    height = 10000
    found = smoothed(np.r_[np.zeros(slots, int), np.full(slots + 5, height)], slots, period_ms,
                     horizon_ms)
    expected = height * np.minimum(np.cumsum(np.r_[0.0, weights, np.zeros(5)]), 10.0)
    assert found == pytest.approx(expected, abs=1.01)
    assert (found[slots:] == height).all()  # settled after one window, exactly


@pytest.mark.parametrize("lead_ms", [0, 20, 50, 150])
@pytest.mark.parametrize("slope_dpa_per_tick", [-500, -37, -1, 0, 3, 250])
def test_a_ramp_is_followed_without_delay(slope_dpa_per_tick: int, lead_ms: int) -> None:
    # With a lead of 0 the pressure of *now*, although a median of three looks one sample back.
    ticks = np.arange(60)
    ramp = 1000 + slope_dpa_per_tick * ticks
    found = through(channel(lead_ms), ramp)
    expected = ramp + slope_dpa_per_tick * lead_ms / PERIOD_MS
    ready = ~np.isnan(found)
    assert ready[30:].all()
    assert abs(found - expected)[ready].max() <= 1  # two roundings of 1/2


def test_channel_is_a_median_of_three_and_a_line() -> None:
    # scipy.signal.medfilt, then the least-squares weights: an independent make of the channel.
    words = np.random.default_rng(4).integers(-50000, 50000, 400)
    found = through(channel(), words)
    medians = signal.medfilt(words.astype(float), 3)[1:-1]
    slots = DEFAULTS.window_ms // PERIOD_MS
    weights = line_weights(slots, PERIOD_MS, PERIOD_MS)  # the newest median is one sample old
    expected = np.convolve(medians, weights[::-1], "valid")
    expected = np.clip(expected, -100000, 100000)
    assert np.isnan(found[:slots + 1]).all()
    assert abs(found[slots + 1:] - expected).max() <= 1.01


def test_noise_gain_of_the_whole_channel() -> None:
    # The median of three Gaussian values has 0.449 of their variance (order statistics, textbook)
    # but neighbours hang together; white through the line alone would leave:
    slots = DEFAULTS.window_ms // PERIOD_MS
    x = (slots - 1) / 2 + 1
    line_alone = 1 / slots + 12 * x ** 2 / (slots * (slots ** 2 - 1))
    words = np.rint(1000 * np.random.default_rng(6).standard_normal(60000)).astype(int)
    medians = signal.medfilt(words.astype(float), 3)[1:-1]
    assert (medians / 1000).var() == pytest.approx(0.449, abs=0.01)
    found = through(channel(), words)
    gain = np.nanvar(found / 1000)
    again = np.convolve(medians, line_weights(slots, PERIOD_MS, PERIOD_MS)[::-1], "valid")
    assert gain == pytest.approx((again / 1000).var(), rel=1e-3)
    # Measured: with the median a little more noise gets through than theory gives the line alone
    # (the median is a worse mean than the mean); bounded by the three-fold overlap.
    assert line_alone < gain < 3 * 0.449 * line_alone


def test_one_wild_word_never_shows() -> None:
    # A2: single corrupt reads. Steady pressure: the output must not move at all.
    words = np.full(80, 6000)
    words[45] = 95000
    words[60] = -95000
    found = through(channel(), words)
    assert (found[~np.isnan(found)] == 6000).all()
