"""Sound and picture of a run: that they show what the run was."""

import wave
from pathlib import Path

import matplotlib
import numpy as np
import pytest

matplotlib.use("Agg")

from matplotlib import image

from host_sim.output.picture import draw
from host_sim.output.sound import PASS_HZ, PEAK, RATE_HZ, pwm_events, render, write_wav
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.session import OUT_COLUMNS, OUT_WIDTH, UNKNOWN

use_firmware()

from alula.settings import Settings
from drivers.tone_pwm import DUTY_U16


def voiced(*spans: tuple[int, int, int]) -> np.ndarray:
    """Output rows 10 ms apart: (ticks, hz, level) in turn."""
    flat = [(hz, level) for ticks, hz, level in spans for _ in range(ticks)]
    out = np.zeros((len(flat), OUT_WIDTH), np.int32)
    out[:, 0] = 10 * np.arange(len(flat))
    out[:, OUT_COLUMNS.index("voice_hz")] = [hz for hz, _ in flat]
    out[:, OUT_COLUMNS.index("voice_level")] = [level for _, level in flat]
    return out


def fundamental(samples: np.ndarray, hz: float) -> float:
    """Amplitude of a sine of this pitch in the samples."""
    turn = np.exp(-2j * np.pi * hz / RATE_HZ * np.arange(len(samples)))
    return 2 * abs((samples * turn).mean())


def test_events_are_what_the_driver_tells_the_hardware() -> None:
    events = pwm_events(voiced((5, 0, 0), (5, 800, 8), (5, 1000, 4), (5, 1000, 0)))
    heard = [(t, hz, duty) for t, hz, duty in events if t > 0]
    assert heard[-1] == (150_000, 1000, 0)
    assert (50_000, 800, DUTY_U16[8]) in heard
    assert (100_000, 1000, DUTY_U16[4]) in heard


def test_same_request_tick_after_tick_is_told_once() -> None:
    few, many = (pwm_events(voiced((10, 0, 0), (n, 800, 8))) for n in (1, 500))
    assert few == many


@pytest.mark.parametrize("level", range(9))
def test_loudness_goes_with_the_level(level: int) -> None:
    # Fourier series of a pulse: fundamental 2/pi sin(pi d); the driver's duties make it level/8.
    samples = render([(0, 1000, DUTY_U16[level])], 1.0)
    # 2e-3: the duty is rounded to 1/65536, and sums over a second of samples
    assert fundamental(samples, 1000) == pytest.approx(PEAK * level / 8, abs=2e-3)
    if level == 0:
        assert not samples.any()


@pytest.mark.parametrize("hz", [500, 1000, 2500])
def test_nothing_above_the_pass_band_and_no_direct_component(hz: int) -> None:
    samples = render([(0, hz, DUTY_U16[5])], 1.0)
    power = abs(np.fft.rfft(samples)) ** 2  # 1 s: bins of 1 Hz
    assert power[PASS_HZ + 1:].sum() < 1e-6 * power.sum()
    assert power[0] < 1e-6 * power.sum()


def test_phase_runs_on_through_a_change_of_loudness() -> None:
    # No jump in time: the same wave with the same duty in two pieces is the wave in one.
    whole = render([(0, 700, DUTY_U16[8])], 0.5)
    pieces = render([(0, 700, DUTY_U16[8]), (123_000, 700, DUTY_U16[8])], 0.5)
    assert pieces == pytest.approx(whole, abs=1e-9)


def test_wav_has_the_length_of_the_run_and_never_clips(tmp_path: Path) -> None:
    out = voiced((100, 0, 0), (100, 1400, 8), (100, 600, 8))
    seconds = write_wav(tmp_path / "s.wav", out)
    assert seconds == pytest.approx(3.0)
    with wave.open(str(tmp_path / "s.wav"), "rb") as file:
        assert file.getframerate() == RATE_HZ
        assert file.getnframes() == pytest.approx(3.0 * RATE_HZ, abs=1)
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32768
    assert not samples[:RATE_HZ - 5].any()
    assert fundamental(samples[RATE_HZ + 100:2 * RATE_HZ - 100], 1400) == pytest.approx(
        PEAK, abs=0.01)
    assert abs(samples).max() < 0.99


def grey(path: Path) -> np.ndarray:
    """A picture as shades."""
    return image.imread(path)[..., :3].mean(axis=2)


def flown(lift_pm: np.ndarray) -> np.ndarray:
    """Rows of a run with this lift."""
    out = np.zeros((len(lift_pm), OUT_WIDTH), np.int32)
    out[:, 0] = 10 * np.arange(len(out))
    out[:, 1], out[:, 2], out[:, 3], out[:, 4] = 4000, 1500, 3750, lift_pm
    out[:, 5] = np.searchsorted([510, 694, 907], lift_pm, side="right")
    return out


def test_pictures_of_different_runs_differ(tmp_path: Path) -> None:
    draw(tmp_path / "a.png", flown(np.linspace(300, 1100, 500)), Settings(), "up")
    draw(tmp_path / "b.png", flown(np.linspace(1100, 300, 500)), Settings(), "up")
    a, b = grey(tmp_path / "a.png"), grey(tmp_path / "b.png")
    assert a.shape == b.shape
    # Speed and ratio are the same and fill the upper half; the lift panel, third of four, and the
    # strip of states below it must be what differs.
    changed = (abs(a - b) > 0.1).mean(axis=1)
    upper, lift, strip = (changed[int(top * len(changed)):int(end * len(changed))] for top, end in
                          ((0.0, 0.45), (0.5, 0.72), (0.8, 0.95)))
    assert upper.sum() == 0
    assert (lift > 0).mean() > 0.5 and (strip > 0).mean() > 0.5


def test_a_run_without_known_numbers_and_one_of_a_single_tick_are_drawn(tmp_path: Path) -> None:
    out = flown(np.full(50, 500))
    out[:, 1:5] = UNKNOWN
    draw(tmp_path / "a.png", out, Settings(), "blind")
    draw(tmp_path / "b.png", flown(np.full(1, 500)), Settings(), "short")
    for name in ("a.png", "b.png"):
        assert grey(tmp_path / name).std() > 0.01


def test_true_stalls_are_marked(tmp_path: Path) -> None:
    out = flown(np.linspace(300, 1100, 500))
    draw(tmp_path / "a.png", out, Settings(), "t")
    draw(tmp_path / "b.png", out, Settings(), "t", stalls_s=[2.5])
    assert (abs(grey(tmp_path / "a.png") - grey(tmp_path / "b.png")) > 0.2).sum() > 50
