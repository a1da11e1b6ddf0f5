"""The perfect calibration: eight rising points that end at the stall."""

import numpy as np
import pytest

from host_sim.world.airframe import SHAPES, Airframe
from host_sim.world.calibration_truth import true_calibration
from host_sim.world.probe import PLUMBINGS, Probe


@pytest.mark.parametrize("plumbing", PLUMBINGS)
@pytest.mark.parametrize("flap", [0, 1, 2])
@pytest.mark.parametrize("angle_deg", [45.0, 55.0])
def test_eight_points_strictly_rising(plumbing: str, flap: int, angle_deg: float) -> None:
    points = true_calibration(Airframe(), Probe(angle_deg=angle_deg), plumbing, flap)
    ratios, lifts = zip(*points, strict=True)
    assert len(points) == 8
    assert (lifts[0], lifts[-1]) == (200, 1000)
    assert np.diff(ratios).min() > 0
    assert np.diff(lifts).min() > 0


@pytest.mark.parametrize("flap", [0, 1, 2])
def test_last_point_is_the_sphere_at_the_stall_angle(flap: int) -> None:
    # 1 - k sin^2(phi - alpha), written out here and not taken from the probe module
    points = true_calibration(Airframe(), Probe(), "port-static", flap)
    theta = np.radians(45.0 - SHAPES[flap].stall_deg)
    assert points[-1][0] == round(10000 * (1.0 - 2.1 * np.sin(theta) ** 2))


def test_pitot_port_plumbing_gives_the_same_ratio_as_port_static() -> None:
    frame, probe = Airframe(), Probe(static_error=0.03)
    straight = true_calibration(frame, probe, "port-static", 0)
    assert true_calibration(frame, probe, "pitot-port", 0) == straight


def test_flaps_move_the_ratio_of_the_stall() -> None:
    clean = true_calibration(Airframe(), Probe(), "port-static", 0)[-1][0]
    full = true_calibration(Airframe(), Probe(), "port-static", 2)[-1][0]
    assert clean - full > 800
