"""Wind from behind and the propeller's wash, on the ground: what the probe feels."""

from dataclasses import replace
from math import radians, sin

import numpy as np
import pytest

from host_sim.errors import UsageError
from host_sim.world.flight import Flight, fly
from host_sim.world.probe import Probe, pitot_coefficient, port_coefficient, port_in_wake
from host_sim.world.scenario import load_scenario

KT_15_PA = 36.5  # 1/2 * 1.225 * 7.72^2


def felt(flight: Flight, label: str, values: np.ndarray) -> np.ndarray:
    """The second half of a phase."""
    at = np.flatnonzero(np.array(flight.phase) == label)
    return values[at[len(at) // 2:]]


@pytest.fixture(scope="module")
def taxi() -> Flight:
    """In steady wind."""
    scenario = load_scenario("taxi-in-wind")
    return fly(replace(scenario, air=replace(scenario.air, turbulence="none")))


def test_a_wind_from_ahead_is_felt_whole_and_one_from_behind_as_a_wake(taxi: Flight) -> None:
    ahead = felt(taxi, "stop", taxi.pitot_pa)
    assert ahead == pytest.approx(KT_15_PA, rel=0.02)
    astern = felt(taxi, "waiting, tail to wind", taxi.pitot_pa)
    assert astern == pytest.approx(-0.4 * KT_15_PA, rel=0.02)
    rolling = felt(taxi, "before the wind", taxi.pitot_pa)
    assert abs(rolling).max() < KT_15_PA / 4  # 5 kt are left from astern


def test_slips_feel_as_ever_and_only_winds_from_the_side_are_wakes() -> None:
    beta = np.array([0.0, 10.0, 30.0, 45.0, 90.0, 120.0, 180.0])
    assert pitot_coefficient(beta)[:3] == pytest.approx(1.0)
    assert (np.diff(pitot_coefficient(beta)) <= 0.0).all()
    ideal = 1.0 - 2.1 * (1.0 - (np.cos(np.radians(beta)) * np.cos(radians(42.0))) ** 2)
    port = port_in_wake(port_coefficient(Probe(), 45.0, 3.0, beta), beta)
    assert port[:4] == pytest.approx(ideal[:4])
    assert port[4:] == pytest.approx(-0.4)


def test_the_wash_has_the_mean_it_was_given_is_unsteady_and_dies_away() -> None:
    scenario = load_scenario("run-up")
    flight = fly(replace(scenario, air=replace(scenario.air, turbulence="none", wind_kt=0.0)))
    blown = felt(flight, "run-up", flight.pitot_pa)
    assert blown.mean() == pytest.approx(110.0, rel=0.1)  # as in the scenario
    assert 0.15 < blown.std() / blown.mean() < 0.3
    port = felt(flight, "run-up", flight.angled_pa) / blown
    # the wake is twisted by some degrees round the 3 degrees of attitude
    assert port.mean() == pytest.approx(1.0 - 2.1 * sin(radians(42.0)) ** 2, abs=0.05)
    assert abs(felt(flight, "stopped", flight.pitot_pa)).max() < 1.0


def test_only_an_aeroplane_on_the_ground_has_the_wind_astern(tmp_path) -> None:
    text = (
        'title = "x"\nsetting = "x"\n[[phases]]\ndo = "park"\nseconds = 8\n'
        '[[phases]]\ndo = "cruise"\nspeed_kt = 80\nseconds = 5\nwind_from_deg = 90\n'
    )
    path = tmp_path / "hop.toml"
    path.write_text(text)
    with pytest.raises(UsageError, match="wind_from_deg"):
        load_scenario(path)
