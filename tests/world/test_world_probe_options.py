"""What the probe's place and the static source's error do to the pressures of a flight."""

from pathlib import Path

import numpy as np
import pytest

from host_sim.world.airframe import SHAPES, Airframe
from host_sim.world.calibration_truth import true_calibration
from host_sim.world.flight import Flight, fly
from host_sim.world.probe import PLUMBINGS, Probe
from host_sim.world.scenario import load_scenario

SCRIPT = """
title = "Level, then a pull-up"
setting = "Invented."
[field]
elevation_m = {field_m}
[probe]
{probe}
[[phases]]
do = "park"
seconds = 6
[[phases]]
do = "take_off"
speed_kt = 65
[[phases]]
do = "climb"
speed_kt = 70
until_height_m = 60
[[phases]]
do = "cruise"
speed_kt = 75
seconds = 25
[[phases]]
do = "pull_up"
rate_deg_s = 8
load_factor = 2
seconds = 1.5
"""


def flown(folder: Path, probe: str, plumbing: str = "port-static", field_m: float = 0) -> Flight:
    """The flight with these lines in the probe's table."""
    path = folder / "level.toml"
    path.write_text(SCRIPT.format(probe=probe, field_m=field_m))
    return fly(load_scenario(path), plumbing=plumbing)


def level_row(flight: Flight) -> int:
    """A row in steady level flight."""
    return flight.phase.index("pull_up") - 10


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_static_error_and_upwash_reach_the_pressures(tmp_path: Path, plumbing: str) -> None:
    # the sphere's formula written out: static reads e qc high, flow comes 1.5 CL degrees steeper
    flight = flown(tmp_path, "static_error = 0.04\nupwash_deg_per_cl = 1.5", plumbing)
    plain = flown(tmp_path, "", plumbing)
    at = level_row(flight)
    alpha = np.radians(flight.alpha_deg[at] + 1.5 * flight.cl[at])
    lower = 1.0 - 2.1 * np.sin(np.pi / 4 - alpha) ** 2
    upper = 1.0 - 2.1 * np.sin(np.pi / 4 + alpha) ** 2
    share = {"port-static": lower - 0.04, "pitot-port": 1.0 - lower, "opposed": lower - upper}
    true_qc = plain.pitot_pa[at]
    assert flight.pitot_pa[at] == pytest.approx(0.96 * true_qc, rel=1e-3)
    assert flight.angled_pa[at] == pytest.approx(share[plumbing] * true_qc, abs=3.0)


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_calibration_knows_static_error_and_upwash(plumbing: str) -> None:
    probe = Probe(static_error=0.04, upwash_deg_per_cl=1.5)
    found = true_calibration(Airframe(), probe, plumbing, 0)[-1][0]
    alpha = np.radians(SHAPES[0].stall_deg + 1.5 * SHAPES[0].cl_max)
    lower = 1.0 - 2.1 * np.sin(np.pi / 4 - alpha) ** 2
    upper = 1.0 - 2.1 * np.sin(np.pi / 4 + alpha) ** 2
    expected = (lower - upper) / 0.96 if plumbing == "opposed" else (lower - 0.04) / 0.96
    assert found == pytest.approx(10_000 * expected, abs=0.51)


def test_pitching_up_lowers_the_angle_at_a_probe_ahead(tmp_path: Path) -> None:
    # -q x/V: 23 deg/s one metre ahead at 33 m/s is -0.7 deg (computed); here 3 m ahead
    plain, ahead = flown(tmp_path, ""), flown(tmp_path, "ahead_m = 3")
    at = plain.phase.index("pull_up") + 60
    gap = (ahead.angled_pa[at] - plain.angled_pa[at]) / plain.pitot_pa[at]
    rising = (plain.alpha_deg[at + 10] - plain.alpha_deg[at - 10]) / 0.2
    bending = np.degrees(9.80665 * (plain.nz_g[at] - 1.0) / (plain.kcas[at] * 0.514444))
    turn = (rising + bending) * 3.0 / (plain.kcas[at] * 0.514444)
    assert turn > 0.5  # the case is not a trivial one
    slope = 2.1 * np.sin(2.0 * np.radians(45.0 - plain.alpha_deg[at])) * np.pi / 180.0
    assert gap / slope == pytest.approx(-turn, rel=0.15)


@pytest.mark.parametrize("field_m", [0.0, 2000.0])
def test_speeds_of_the_script_are_those_of_the_airspeed_indicator(
    tmp_path: Path, field_m: float
) -> None:
    flight = flown(tmp_path, "", field_m=field_m)
    assert flight.kcas[level_row(flight)] == pytest.approx(75.0, abs=0.4)
