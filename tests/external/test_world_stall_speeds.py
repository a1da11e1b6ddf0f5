"""Stall speed, load factor and bank: the simulated aeroplane against the textbook table."""

from math import cos, radians

import numpy as np
import pytest

from host_sim.world.airframe import Airframe, lift_coefficient
from host_sim.world.motion import Controls, Motion

FRAME = Airframe()
# bank: load factor 1/cos(bank), stall speed factor sqrt(n); 30, 45 and 60 degrees as on the
# FAA's handbook chart (secondary source), the rest computed
BANKS = {
    0: (1.0, 1.0),
    15: (1.0353, 1.0175),
    30: (1.1547, 1.0746),
    45: (1.4142, 1.1892),
    60: (2.0, 1.4142),
    70: (2.9238, 1.7099),
}


@pytest.mark.parametrize("bank_deg", BANKS)
def test_stall_speed_grows_with_the_root_of_the_load(bank_deg: int) -> None:
    load, factor = BANKS[bank_deg]
    found = FRAME.stall_speed_kt(0.0, load) / FRAME.stall_speed_kt(0.0)
    assert found == pytest.approx(factor, abs=1e-4)


@pytest.mark.parametrize("flap_deg", [0.0, 20.0, 35.0])
def test_one_g_stall_speed_carries_the_weight(flap_deg: float) -> None:
    # L = W at the highest lift coefficient that the curve really reaches
    shape = FRAME.shape_at(flap_deg)
    top = max(lift_coefficient(shape, alpha) for alpha in np.arange(-5.0, 30.0, 0.01))
    speed_ms = FRAME.stall_speed_kt(flap_deg) * 1852.0 / 3600.0
    lift_n = 0.5 * 1.225 * speed_ms**2 * FRAME.wing_area_m2 * top
    assert lift_n == pytest.approx(FRAME.mass_kg * 9.80665, rel=1e-4)


@pytest.mark.parametrize("bank_deg", [0, 30, 45, 60])
def test_level_turn_needs_one_over_cos_bank(bank_deg: int) -> None:
    # The motion alone, without the scripted pilot: a bisection finds the angle of attack that
    # keeps the path level at this bank; the load factor there must be the table's.
    def bend(alpha_deg: float) -> tuple[float, float]:
        plane = airborne(60.0, alpha_deg, bank_deg)
        plane.advance(Controls(alpha_deg=alpha_deg, bank_deg=bank_deg, engine_runs=False), 0.001)
        return plane.path_rad, plane.lift_n / FRAME.weight_n

    low, high = -3.0, 15.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if bend(middle)[0] < 0.0 else (low, middle)
    assert bend(low)[1] == pytest.approx(BANKS[bank_deg][0], abs=1e-4)


def airborne(speed_ms: float, alpha_deg: float, bank_deg: float = 0.0) -> Motion:
    """A plane in level flight at 500 m with the state given."""
    plane = Motion(FRAME, 0.0)
    plane.on_ground = False
    plane.height_m, plane.speed_ms = 500.0, speed_ms
    plane.alpha_deg, plane.bank_deg = alpha_deg, bank_deg
    return plane


@pytest.mark.parametrize("bank_deg", [30, 45, 60])
def test_turn_rate_is_g_tan_bank_over_v(bank_deg: int) -> None:
    # textbook: g tan(bank)/V in a level turn
    speed_ms = 50.0
    density = 1.167271  # 500 m, US Standard Atmosphere 1976
    need = FRAME.weight_n / cos(radians(bank_deg))
    cl = need / (0.5 * density * speed_ms**2 * FRAME.wing_area_m2)
    alpha_deg = -3.5 + cl / FRAME.shapes[0].slope_per_deg
    plane = airborne(speed_ms, alpha_deg, bank_deg)
    controls = Controls(alpha_deg=alpha_deg, bank_deg=bank_deg, engine_runs=False)
    for _ in range(10):
        plane.advance(controls, 0.005)
    expected = np.degrees(9.80665 * np.tan(radians(bank_deg)) / speed_ms)
    assert plane.turned_deg / 0.05 == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize(("ratio", "share"), [(1.05, 0.907), (1.2, 0.694), (1.4, 0.51)])
def test_speed_margin_as_lift_share(ratio: float, share: float) -> None:
    # CL/CLmax = (Vs/V)^2 in steady flight (computed table)
    speed_ms = ratio * FRAME.stall_speed_kt() * 1852.0 / 3600.0
    cl = FRAME.weight_n / (0.5 * 1.225 * speed_ms**2 * FRAME.wing_area_m2)
    assert cl / FRAME.shapes[0].cl_max == pytest.approx(share, abs=1e-3)
