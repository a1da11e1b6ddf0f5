"""The tone levels against a spectrum, not against the formula they were made with."""

import numpy as np
import pytest

from drivers.tone_pwm import DUTY_U16


def fundamental(duty_u16: int) -> float:
    """Amplitude of the fundamental of one period of a pulse wave between 0 and 1."""
    wave = (np.arange(65536) < duty_u16).astype(float)
    return 2 * abs(np.fft.rfft(wave)[1]) / 65536


def test_full_level_is_the_square_wave():
    # Fourier series of a square wave between 0 and 1: fundamental 2/pi
    assert fundamental(DUTY_U16[8]) == pytest.approx(2 / np.pi, abs=1e-4)


@pytest.mark.parametrize("level", range(9))
def test_levels_are_eighths_of_it(level):
    assert fundamental(DUTY_U16[level]) == pytest.approx(level / 8 * 2 / np.pi, abs=1e-4)
