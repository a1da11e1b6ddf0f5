"""Tubes delay and smooth; equal tubes leave the ratio alone, unequal ones do not."""

import numpy as np
import pytest
from scipy import signal

from host_sim.world.plumbing import Line, through_tube

DT_S = 0.01


def test_a_ramp_arrives_late_by_lag_and_delay() -> None:
    # a first-order lag follows a ramp late by tau (textbook)
    line = Line(length_m=6.0, bore_mm=1.6, volume_cm3=2.0)
    ramp = 100.0 * np.arange(300) * DT_S
    late = through_tube(ramp, line, DT_S)
    assert (ramp[-1] - late[-1]) / 100.0 == pytest.approx(line.tau_s + line.delay_s, abs=1e-6)


def test_a_slow_tube_settles_as_one_pole_does() -> None:
    # against scipy.signal.lsim, which also takes straight lines between samples
    line = Line(length_m=0.1, bore_mm=0.5, volume_cm3=60.0)
    rng = np.random.default_rng(3)
    pressure = np.cumsum(rng.standard_normal(400))
    pressure[:3] = 0.0
    times = DT_S * np.arange(400)
    late = np.interp(times - line.delay_s, times, pressure)
    _, expected, _ = signal.lsim(([1.0], [line.tau_s, 1.0]), late, times)
    assert through_tube(pressure, line, DT_S) == pytest.approx(expected, abs=1e-9)


def test_step_reaches_63_percent_after_one_time_constant() -> None:
    line = Line(length_m=3.0, bore_mm=1.0, volume_cm3=3.0)
    fine_s = 1e-4
    step = np.zeros(20_000)
    step[100:] = 1.0
    out = through_tube(step, line, fine_s)
    when = np.interp(1.0 - np.exp(-1.0), out, np.arange(20_000)) * fine_s
    assert when - 99.5 * fine_s - line.delay_s == pytest.approx(line.tau_s, abs=2e-4)


def test_equal_tubes_leave_the_ratio_alone() -> None:
    line = Line(bore_mm=1.0)
    pitot = np.linspace(800.0, 300.0, 1500)
    ratio = through_tube(0.4 * pitot, line, DT_S) / through_tube(pitot, line, DT_S)
    assert ratio == pytest.approx(0.4, abs=1e-12)


def test_unequal_tubes_bias_the_ratio_while_speed_changes() -> None:
    pitot = np.linspace(800.0, 300.0, 1500)
    slow = through_tube(0.4 * pitot, Line(bore_mm=0.8, volume_cm3=5.0), DT_S)
    ratio = slow[-1] / through_tube(pitot, Line(), DT_S)[-1]
    assert ratio > 0.4 * 1.005


def test_a_constant_stays_exactly() -> None:
    flat = np.full(50, 101325.0)
    assert through_tube(flat, Line(bore_mm=0.7), DT_S) == pytest.approx(flat, rel=1e-14)
