"""The motion alone, without the pilot: laws of mechanics that must hold at every step."""

from math import atan, degrees

import numpy as np
import pytest
from scipy import signal

from host_sim.world.airframe import Airframe
from host_sim.world.motion import Controls, Motion

STEP_S = 0.005
FRAME = Airframe()


def gliding(speed_ms: float = 32.0, alpha_deg: float = 4.0) -> Motion:
    """A plane at 800 m, level, engine stopped."""
    plane = Motion(FRAME, 0.0)
    plane.on_ground = False
    plane.height_m, plane.speed_ms, plane.alpha_deg = 800.0, speed_ms, alpha_deg
    return plane


def energy_j(plane: Motion) -> float:
    """Kinetic and potential energy."""
    return FRAME.mass_kg * (0.5 * plane.speed_ms**2 + 9.80665 * plane.height_m)


@pytest.mark.parametrize("bank_deg", [0.0, 30.0])
def test_a_glide_loses_the_energy_that_drag_takes(bank_deg: float) -> None:
    plane = gliding()
    controls = Controls(alpha_deg=4.0, bank_deg=bank_deg, engine_runs=False)
    start, work_j = energy_j(plane), 0.0
    for _ in range(4000):
        plane.advance(controls, STEP_S)
        work_j += plane.drag_n * plane.speed_ms * STEP_S
    assert work_j > 100e3
    assert start - energy_j(plane) == pytest.approx(work_j, rel=0.005)


def test_a_steady_glide_has_the_angle_of_its_lift_to_drag_ratio() -> None:
    # tan(path) = -D/L in a steady glide (textbook); 120 s let the slow oscillation die out
    plane = gliding(30.0)
    controls = Controls(alpha_deg=4.0, engine_runs=False)
    paths = []
    for _ in range(24_000):
        plane.advance(controls, STEP_S)
        paths.append(plane.path_rad)
    expected = -atan(plane.drag_n / plane.lift_n)
    assert np.mean(paths[-8000:]) == pytest.approx(expected, rel=0.02)


def test_without_drag_and_thrust_a_loop_of_speed_and_height_keeps_its_energy() -> None:
    frame = Airframe(span_efficiency=1e9, windmill_cd=-0.032)
    plane = Motion(frame, 0.0)
    plane.on_ground = False
    plane.height_m, plane.speed_ms, plane.alpha_deg = 800.0, 40.0, 2.0
    start = energy_j(plane)
    speeds = []
    for _ in range(8000):
        plane.advance(Controls(alpha_deg=2.0, engine_runs=False), STEP_S)
        speeds.append(plane.speed_ms)
    assert max(speeds) - min(speeds) > 3.0
    assert energy_j(plane) == pytest.approx(start, rel=1e-3)


def test_alpha_follows_the_stick_as_a_second_order_system() -> None:
    # against scipy.signal: 3 rad/s, damping 0.7
    plane = gliding()
    found = []
    for _ in range(600):
        plane.advance(Controls(alpha_deg=9.0, engine_runs=False), STEP_S)
        found.append(plane.alpha_deg)
    times = STEP_S * np.arange(1, 601)
    _, expected = signal.step(signal.lti([9.0], [1.0, 4.2, 9.0]), T=np.concatenate([[0], times]))
    assert found == pytest.approx(4.0 + 5.0 * expected[1:], abs=0.05)


def test_a_sharp_gust_changes_alpha_by_its_angle_and_the_tail_turns_back() -> None:
    plane = gliding(30.0)
    plane.meet_gust(0.0, 3.0)
    assert plane.alpha_deg - 4.0 == pytest.approx(degrees(atan(0.1)), abs=1e-9)
    for _ in range(800):
        plane.meet_gust(0.0, 3.0)
        plane.advance(Controls(alpha_deg=4.0, engine_runs=False), STEP_S)
    # a twentieth of the gust may remain, since the speed goes on changing
    assert plane.alpha_deg == pytest.approx(4.0, abs=0.28)


def test_load_factor_is_lift_and_drag_on_the_body_axis() -> None:
    plane = gliding(40.0, 9.0)
    plane.advance(Controls(alpha_deg=9.0, engine_runs=False), STEP_S)
    alpha = np.radians(plane.alpha_deg)
    force = plane.lift_n * np.cos(alpha) + plane.drag_n * np.sin(alpha)
    assert plane.load_factor == pytest.approx(force / (600.0 * 9.80665), rel=1e-12)


def test_parked_stays_parked_and_feels_one_g() -> None:
    plane = Motion(FRAME, 120.0, 3.0)
    for _ in range(2000):
        plane.advance(Controls(), STEP_S)
    assert plane.ground_speed_ms == 0.0
    assert plane.speed_ms == 3.0  # the wind blows into the pitot
    assert plane.height_m == 120.0
    assert plane.load_factor == pytest.approx(1.0, abs=0.003)


def test_full_throttle_rolls_and_brakes_stop() -> None:
    plane = Motion(FRAME, 0.0)
    for _ in range(1000):
        plane.advance(Controls(throttle=1.0, brake=0.0), STEP_S)
    fast = plane.ground_speed_ms
    assert fast > 8.0
    for _ in range(1400):
        plane.advance(Controls(throttle=0.0, brake=1.0), STEP_S)
    assert plane.ground_speed_ms == 0.0


def test_roll_rate_is_limited() -> None:
    plane = gliding(40.0)
    banks = []
    for _ in range(800):
        plane.advance(Controls(alpha_deg=4.0, bank_deg=45.0, engine_runs=False), STEP_S)
        banks.append(plane.bank_deg)
    assert np.diff(banks).max() / STEP_S == pytest.approx(20.0, abs=1e-6)
    assert plane.bank_deg == pytest.approx(45.0, abs=0.5)


def test_touching_down_bumps_and_stays_down() -> None:
    plane = gliding(25.0, 3.0)
    plane.height_m, plane.path_rad = 0.05, -0.04
    loads = []
    for _ in range(200):
        plane.advance(Controls(alpha_deg=2.0, engine_runs=False), STEP_S)
        loads.append(plane.load_factor)
    assert plane.on_ground
    assert plane.height_m == 0.0
    assert max(loads) > 1.3
