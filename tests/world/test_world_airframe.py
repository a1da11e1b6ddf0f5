"""The wing: one smooth lift curve with a real top and a real break."""

import numpy as np
import pytest

from host_sim.world.airframe import (
    SHAPES,
    Airframe,
    alpha_for_lift_deg,
    drag_coefficient,
    lift_coefficient,
)

FRAME = Airframe()
FLAPS = [0.0, 7.0, 20.0, 26.0, 35.0]


@pytest.mark.parametrize("flap_deg", FLAPS)
def test_top_is_where_the_shape_says(flap_deg: float) -> None:
    shape = FRAME.shape_at(flap_deg)
    alphas = np.arange(-4.0, 40.0, 0.01)
    lifts = np.array([lift_coefficient(shape, alpha) for alpha in alphas])
    assert alphas[lifts.argmax()] == pytest.approx(shape.stall_deg, abs=0.011)
    assert lifts.max() == pytest.approx(shape.cl_max, abs=1e-4)


@pytest.mark.parametrize("flap_deg", FLAPS)
def test_curve_and_slope_have_no_steps(flap_deg: float) -> None:
    shape = FRAME.shape_at(flap_deg)
    alphas = np.arange(shape.zero_lift_deg, shape.stall_deg + 4.9, 0.001)
    lifts = np.array([lift_coefficient(shape, alpha) for alpha in alphas])
    slopes = np.diff(lifts) / 0.001
    assert np.abs(np.diff(slopes)).max() < 0.001


@pytest.mark.parametrize("flap_deg", FLAPS)
def test_lift_breaks_after_the_top(flap_deg: float) -> None:
    shape = FRAME.shape_at(flap_deg)
    assert lift_coefficient(shape, shape.stall_deg + 5.0) == pytest.approx(0.8 * shape.cl_max)
    assert lift_coefficient(shape, shape.stall_deg + 15.0) < 0.75 * shape.cl_max


@pytest.mark.parametrize("flap_deg", FLAPS)
def test_angle_for_lift_inverts_the_curve(flap_deg: float) -> None:
    shape = FRAME.shape_at(flap_deg)
    for share in np.linspace(0.05, 1.0, 20):
        alpha = alpha_for_lift_deg(shape, share * shape.cl_max)
        assert lift_coefficient(shape, alpha) == pytest.approx(share * shape.cl_max, abs=1e-9)
        assert alpha <= shape.stall_deg
    assert alpha_for_lift_deg(shape, 5.0) == shape.stall_deg


def test_lift_slope_is_that_of_a_finite_wing() -> None:
    # Helmbold 2 pi AR/(2 + sqrt(AR^2 + 4)), from memory: 0.083 a degree at AR 7, 0.086 at 8
    aspect = FRAME.aspect_ratio
    helmbold = 2.0 * np.pi * aspect / (2.0 + np.sqrt(aspect**2 + 4.0)) * np.pi / 180.0
    assert SHAPES[0].slope_per_deg == pytest.approx(helmbold, rel=0.03)


def test_flaps_raise_the_top_and_stall_earlier() -> None:
    # stall alpha 2 to 5 degrees lower, clean CLmax 1.3-1.6, flapped 1.8-2.3 for plain or slotted
    # flaps (textbooks, from memory); the half setting lies between
    clean, half, full = SHAPES
    assert 1.3 <= clean.cl_max <= 1.6 < half.cl_max < full.cl_max <= 2.3
    assert full.cl_max >= 1.8
    assert 2.0 <= clean.stall_deg - full.stall_deg <= 5.0
    assert 14.0 <= clean.stall_deg <= 18.0


def test_clean_stall_speed_is_about_45_kt() -> None:
    assert FRAME.stall_speed_kt() == pytest.approx(45.0, abs=0.5)  # as the Lark 2 is meant


def test_best_glide_is_where_a_parabolic_polar_has_it() -> None:
    # CL = sqrt(CD0/k), L/D = 1/(2 sqrt(CD0 k)) (textbook)
    shape, factor = SHAPES[0], FRAME.induced_factor
    alphas = np.arange(0.0, 14.0, 0.01)
    lifts = np.array([lift_coefficient(shape, alpha) for alpha in alphas])
    pairs = zip(alphas, lifts, strict=True)
    ratios = [cl / drag_coefficient(FRAME, shape, alpha, cl) for alpha, cl in pairs]
    best = int(np.argmax(ratios))
    assert lifts[best] == pytest.approx(np.sqrt(shape.cd_zero / factor), rel=0.01)
    assert ratios[best] == pytest.approx(0.5 / np.sqrt(shape.cd_zero * factor), rel=1e-4)


def test_drag_rises_steeply_past_the_stall() -> None:
    shape = SHAPES[0]
    at = drag_coefficient(FRAME, shape, shape.stall_deg, shape.cl_max)
    past = drag_coefficient(FRAME, shape, shape.stall_deg + 5.0, 0.8 * shape.cl_max)
    assert past > at


def test_flap_slot_is_the_nearest_setting() -> None:
    assert [FRAME.slot_of(flap) for flap in (0.0, 9.0, 11.0, 20.0, 28.0, 35.0)] == [
        0,
        0,
        1,
        1,
        2,
        2,
    ]
