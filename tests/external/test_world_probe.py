"""The simulated probe against sphere theory, and its tubes against worked values."""

import numpy as np
import pytest

from host_sim.world.plumbing import Line
from host_sim.world.probe import Probe, port_coefficient, ratio_of

# Potential flow round a sphere, k = 9/4 (textbook, from memory; values computed from
# 1 - k sin^2(phi - alpha)): port angle -> R at alpha 0, 5, 10, 15, 20
SPHERE = {
    45: (-0.125, 0.070, 0.260, 0.437, 0.598),
    55: (-0.510, -0.320, -0.125, 0.070, 0.260),
    60: (-0.687, -0.510, -0.320, -0.125, 0.070),
}
# and its slope a degree at alpha 0, 10, 15
SLOPES = {45: (0.0393, 0.0369, 0.0340), 55: (0.0369, 0.0393, 0.0387), 60: (0.0340, 0.0387, 0.0393)}


@pytest.mark.parametrize("angle_deg", SPHERE)
def test_one_port_on_a_sphere(angle_deg: int) -> None:
    probe = Probe(angle_deg=angle_deg, strength=2.25)
    found = ratio_of(probe, "port-static", np.array([0.0, 5.0, 10.0, 15.0, 20.0]), 0.0)
    assert found == pytest.approx(SPHERE[angle_deg], abs=6e-4)


@pytest.mark.parametrize("angle_deg", SLOPES)
def test_slope_of_one_port(angle_deg: int) -> None:
    probe = Probe(angle_deg=angle_deg, strength=2.25)
    alphas = np.array([0.0, 10.0, 15.0])
    step = 0.01
    up = ratio_of(probe, "port-static", alphas + step, 0.0)
    down = ratio_of(probe, "port-static", alphas - step, 0.0)
    assert (up - down) / (2.0 * step) == pytest.approx(SLOPES[angle_deg], abs=6e-5)


@pytest.mark.parametrize("alpha_deg", [-10.0, -3.0, 0.0, 4.0, 12.0, 20.0])
def test_opposed_ports_give_the_sine_of_twice_the_angle(alpha_deg: float) -> None:
    # two ports at +-45 degrees: (9/4) sin(2 alpha) exactly, 0.0785 a degree at small angles
    probe = Probe(angle_deg=45.0, strength=2.25)
    found = ratio_of(probe, "opposed", alpha_deg, 0.0)
    assert found == pytest.approx(2.25 * np.sin(2.0 * np.radians(alpha_deg)), abs=1e-12)
    assert ratio_of(probe, "opposed", 1.0, 0.0) == pytest.approx(0.0785, abs=5e-5)


def test_named_points_of_the_sphere() -> None:
    # zero at 41.81 degrees, -0.125 at 45, -1.25 at 90 (same source)
    probe = Probe(strength=2.25)
    assert port_coefficient(probe, 41.81, 0.0) == pytest.approx(0.0, abs=1e-3)
    assert port_coefficient(probe, 45.0, 0.0) == pytest.approx(-0.125, abs=1e-12)
    assert port_coefficient(probe, 90.0, 0.0) == pytest.approx(-1.25, abs=1e-12)


@pytest.mark.parametrize("alpha_deg", [-8.0, 0.0, 8.0, 14.0])
def test_ten_degrees_of_sideslip_cost_about_a_degree(alpha_deg: float) -> None:
    # "sideslip of 10 deg costs 0.6 to 1.5 deg" of angle, computed for the same sphere
    probe = Probe(angle_deg=45.0, strength=2.25)
    straight = port_coefficient(probe, 45.0, alpha_deg)
    slipping = port_coefficient(probe, 45.0, alpha_deg, 10.0)
    slope = 2.25 * np.sin(2.0 * np.radians(45.0 - alpha_deg)) * np.pi / 180.0
    assert 0.6 < (straight - slipping) / slope < 1.5


# Laminar tube, tau = 128 mu L Ve/(pi d^4 p) with Ve = sensor + half the tube (formula from
# memory, values computed separately): (length m, bore mm, volume cm3) -> ms
TUBES = [
    ((5.0, 4.0, 1.0), 4.6),
    ((5.0, 3.0, 1.0), 8.3),
    ((5.0, 1.6, 1.0), 33.0),
    ((5.0, 4.0, 200.0), 33.0),
]


@pytest.mark.parametrize(("tube", "tau_ms"), TUBES)
def test_tube_lag_worked_values(tube: tuple[float, float, float], tau_ms: float) -> None:
    assert 1000.0 * Line(*tube).tau_s == pytest.approx(tau_ms, rel=0.02)


def test_sound_needs_its_time() -> None:
    # L/a: 14.7 ms for 5 m (computed)
    assert 1000.0 * Line(5.0).delay_s == pytest.approx(14.7, abs=0.05)
