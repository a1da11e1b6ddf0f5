"""Whole flights: what each shipped scenario promises, and what every flight must keep."""

import time

import numpy as np
import pytest

from host_sim.errors import UsageError
from host_sim.world.atmosphere import impact_from_cas_pa
from host_sim.world.flight import Flight, find_stalls, fly
from host_sim.world.probe import PLUMBINGS
from host_sim.world.scenario import list_scenarios, load_scenario

PRESSING = 0.694  # CL/CLmax at 1.20 Vs
STALLING = 0.907  # at 1.05 Vs


@pytest.fixture(scope="module")
def flights() -> dict[str, Flight]:
    """Every shipped scenario, flown once."""
    return {name: fly(load_scenario(name)) for name in list_scenarios()}


def lift_in(flight: Flight, label: str | None = None) -> np.ndarray:
    """CL/CLmax while airborne, in one phase or in all."""
    chosen = ~flight.on_ground
    if label is not None:
        chosen = chosen & (np.array(flight.phase) == label)
    return flight.lift[chosen]


def test_the_promised_scenarios_are_there() -> None:
    assert set(list_scenarios()) >= {
        "engine-failure",
        "first-flight",
        "ordinary",
        "slow-flight-gusts",
        "stall-straight",
        "steep-turns",
        "tightened-turn",
    }


@pytest.mark.parametrize("name", list_scenarios())
def test_every_flight_is_sane(flights: dict[str, Flight], name: str) -> None:
    flight = flights[name]
    assert 60.0 <= flight.time_s[-1] <= 1900.0  # half an hour on the ramp
    arrays = [value for value in vars(flight).values() if isinstance(value, np.ndarray)]
    assert {len(value) for value in arrays} == {len(flight.phase)}
    assert all(np.isfinite(value).all() for value in arrays)
    assert (flight.height_m >= flight.scenario.elevation_m).all()
    assert (np.abs(np.diff(flight.alpha_deg)) < 1.0).all()
    assert flight.phase[0] == "park"
    assert flight.on_ground[:600].all()
    # at most one landing a take-off; in gusts a wheel may skip for less than a second
    take_offs = sum(phase.do == "take_off" for phase in flight.scenario.phases)
    changes_s = flight.time_s[1:][np.diff(flight.on_ground.astype(int)) != 0]
    assert np.count_nonzero(np.diff(changes_s, prepend=-9.0) > 1.0) <= 2 * take_offs


@pytest.mark.parametrize("name", [
    name for name in list_scenarios() if load_scenario(name).phases[-1].do == "flare_land"])
def test_flights_end_stopped_on_the_ground(flights: dict[str, Flight], name: str) -> None:
    flight = flights[name]
    assert flight.on_ground[-1]
    wind_kt = flight.scenario.air.wind_kt
    assert flight.kcas[-100:].min() < wind_kt + 8.0  # turbulence still blows into the pitot


@pytest.mark.parametrize("seed", range(4))
def test_ordinary_never_presses(seed: int) -> None:
    # the true share itself, unfiltered: in light turbulence another seed may just touch 0.70
    flight = fly(load_scenario("ordinary"), seed)
    assert lift_in(flight).max() < PRESSING
    assert flight.stalls == []


def test_tightened_turn_reaches_the_stalling_band_and_unloads(flights: dict[str, Flight]) -> None:
    flight = flights["tightened-turn"]
    tight = lift_in(flight, "tightened turn")
    assert tight.max() > STALLING
    assert flight.stalls == []
    assert (flight.alpha_deg < flight.stall_alpha_deg)[~flight.on_ground].all()
    assert lift_in(flight, "unload")[-1] < PRESSING
    assert flight.kcas[flight.lift > STALLING].min() > 1.2 * 41.5  # an airspeed that looks safe
    before = flight.phase.index("final turn")
    assert flight.lift[~flight.on_ground][: before // 2].max() < PRESSING


def test_steep_turns_reach_their_load_factors(flights: dict[str, Flight]) -> None:
    # n = 1/cos(bank) (textbook); middle of each turn
    flight = flights["steep-turns"]
    phase = np.array(flight.phase)
    for label, load in (("turn 45", 1.414), ("turn 60 fast", 2.0), ("turn 60 slow", 2.0)):
        steady = np.flatnonzero(phase == label)
        steady = steady[3 * len(steady) // 5 :]
        assert np.mean(flight.nz_g[steady]) == pytest.approx(load, rel=0.03), label
    assert lift_in(flight, "turn 60 fast").max() < PRESSING
    assert PRESSING < lift_in(flight, "turn 60 slow").max() < STALLING


def test_slow_flight_in_gusts_presses_on_and_off(flights: dict[str, Flight]) -> None:
    flight = flights["slow-flight-gusts"]
    slow = lift_in(flight, "slow flight 54")
    assert 0.2 < np.mean(slow > PRESSING) < 0.9
    assert flight.stalls == []
    assert np.ptp(flight.beta_deg) > 2.0


def test_engine_failure_eats_the_margin(flights: dict[str, Flight]) -> None:
    flight = flights["engine-failure"]
    glide = lift_in(flight, "engine fails")
    assert glide.max() > PRESSING
    assert flight.stalls == []
    start = flight.phase.index("engine fails")
    assert flight.kcas[start : start + 500].min() < flight.kcas[start] - 8.0


@pytest.mark.parametrize(("name", "count"), [("stall-straight", 1), ("first-flight", 3)])
def test_straight_stalls(flights: dict[str, Flight], name: str, count: int) -> None:
    flight = flights[name]
    assert len(flight.stalls) == count
    for stall_s in flight.stalls:
        at = round(stall_s * flight.rate_hz)
        entry = slice(at - 1500, at)
        # 1 kt/s (14 CFR 23.201(b)); the load factor at a "1 g" stall is 0.9 to 1 (flight tests)
        rate = np.polyfit(flight.time_s[entry], flight.kcas[entry], 1)[0]
        assert rate == pytest.approx(-1.0, abs=0.15)
        assert 0.9 < flight.nz_g[at] < 1.01
        # stall speed follows the load factor: V = Vs sqrt(n) (textbook), within half a knot
        expected = flight.airframe.stall_speed_kt() * np.sqrt(flight.nz_g[at])
        assert flight.kcas[at] == pytest.approx(expected, abs=0.5)
        # 1.2 deg/s in a 1 kt/s stall, as independent flight dynamics (JSBSim) have it
        last = slice(at - 100, at)
        assert 0.7 < np.polyfit(flight.time_s[last], flight.alpha_deg[last], 1)[0] < 1.8


def test_the_capture_starts_with_one_long_press_in_the_air(flights: dict[str, Flight]) -> None:
    flight = flights["first-flight"]
    presses = np.flatnonzero(np.diff(flight.button.astype(int)) == 1)
    assert len(presses) == 1
    assert np.count_nonzero(flight.button) / flight.rate_hz == pytest.approx(2.0, abs=0.1)
    assert not flight.on_ground[presses].any()


def test_same_seed_same_bytes_and_another_seed_differs() -> None:
    scenario = load_scenario("slow-flight-gusts")
    first, again, other = fly(scenario, 4), fly(scenario, 4), fly(scenario, 5)
    for name in ("pitot_pa", "angled_pa", "nz_g", "alpha_deg"):
        assert getattr(first, name).tobytes() == getattr(again, name).tobytes()
    assert first.pitot_pa[:5000].tobytes() != other.pitot_pa[:5000].tobytes()


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_pressures_at_the_sensors_follow_the_sphere(plumbing: str) -> None:
    # written out here; in steady flight the tubes do not matter
    flight = fly(load_scenario("stall-straight"), 0, plumbing)
    at = flight.phase.index("steady") + 1400
    alpha = np.radians(flight.alpha_deg[at])
    impact_pa = impact_from_cas_pa(flight.kcas[at] * 0.514444)
    cross = 2.1 * np.sin(np.radians(45.0) - alpha) ** 2
    expected = {
        "port-static": 1.0 - cross,
        "pitot-port": cross,
        "opposed": 2.1 * np.sin(2.0 * alpha),
    }[plumbing]
    assert flight.pitot_pa[at] == pytest.approx(impact_pa, rel=2e-3)
    assert flight.angled_pa[at] / flight.pitot_pa[at] == pytest.approx(expected, abs=2e-3)


def test_half_the_rate_flies_the_same_flight() -> None:
    scenario = load_scenario("stall-straight")
    fine, coarse = fly(scenario, rate_hz=100), fly(scenario, rate_hz=50)
    assert coarse.stalls[0] == pytest.approx(fine.stalls[0], abs=0.3)


def test_five_minutes_fly_in_less_than_three_seconds() -> None:
    start = time.process_time()
    flight = fly(load_scenario("ordinary"))
    assert (time.process_time() - start) / flight.time_s[-1] < 3.0 / 300.0


@pytest.mark.parametrize(
    ("arguments", "says"),
    [({"plumbing": "sideways"}, "port-static"), ({"rate_hz": 5}, "10 to 1000")],
)
def test_bad_arguments_are_refused(arguments: dict[str, object], says: str) -> None:
    with pytest.raises(UsageError, match=says):
        fly(load_scenario("ordinary"), **arguments)


def test_stall_marks_need_to_be_armed_and_in_the_air() -> None:
    past = np.array([-2.0, 0.5, -0.5, 0.5, -1.5, 0.2, -3.0, 1.0])
    ground = np.array([False] * 7 + [True])
    assert find_stalls(np.arange(8.0), past, ground) == [1.0, 5.0]
