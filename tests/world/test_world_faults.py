"""Faults act where they sit: in a line before the difference, in a word after it."""

from functools import cache

import numpy as np
import pytest
from ambiance import Atmosphere

from host_sim.fly import sensor_rows
from host_sim.world.faults import FAULTS, KINDS, inject, when_of
from host_sim.world.flight import LINES, Flight, differences, fly
from host_sim.world.probe import PLUMBINGS
from host_sim.world.scenario import load_scenario

# +-1 psi over 10 to 90 % of 14 bits: the transfer function of the sensor's data sheet, as in
# the Linux driver hsc030pa.c (secondary source).
PA_PER_CODE = 2 * 6894.757 / (14746 - 1638)
PITOT, ANGLED = 2, 4
CRUISE_S = 130.0
PORT_STATIC = "port-static"


@cache
def flown(plumbing: str = PORT_STATIC) -> tuple[Flight, np.ndarray]:
    flight = fly(load_scenario("ordinary"), 1, plumbing)
    return flight, sensor_rows(flight, 1)


def pushed_pa(wanted: str, plumbing: str = PORT_STATIC) -> tuple[np.ndarray, np.ndarray]:
    """What a fault adds to each sensor, Pa, all rows; noise cancels, rounding stays."""
    flight, rows = flown(plumbing)
    changed, _ = inject(rows, wanted, 1, flight)
    apart = (changed.astype(float) - rows) * PA_PER_CODE
    return apart[:, PITOT], apart[:, ANGLED]


def at(flight: Flight, time_s: float) -> int:
    return int(np.searchsorted(flight.time_s, time_s))


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_the_lines_give_what_the_sensors_feel(plumbing: str) -> None:
    flight, _ = flown(plumbing)
    pitot, angled = differences(plumbing, flight.line_pa)
    assert set(flight.line_pa) == set(LINES)
    assert np.array_equal(pitot, flight.pitot_pa) and np.array_equal(angled, flight.angled_pa)


def test_lines_hold_absolute_pressures_of_the_standard_atmosphere() -> None:
    # ICAO standard atmosphere by PyPI ambiance; the tube is late by some ms of climb.
    flight, _ = flown()
    expected = Atmosphere(flight.height_m[::500]).pressure
    assert flight.line_pa["static"][::500] == pytest.approx(expected, abs=2.0)


@pytest.mark.parametrize("name", sorted(FAULTS))
@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_a_fault_changes_only_its_own_time_and_the_same_way_each_time(
    name: str, plumbing: str
) -> None:
    flight, rows = flown(plumbing)
    wanted = f"{name}@90+150"  # turns, a slow-down and a descent are in it
    once, text = inject(rows, wanted, 1, flight)
    again, _ = inject(rows, wanted, 1, flight)
    span = when_of(rows, wanted)
    assert np.array_equal(once, again)
    assert np.array_equal(once[:span.start], rows[:span.start])
    assert np.array_equal(once[span.stop:], rows[span.stop:])
    assert FAULTS[name].text in text and FAULTS[name].kind in KINDS
    assert not np.array_equal(once, rows)


def test_b6_hoses_are_wrong_from_the_first_tick_and_the_five_orders_differ() -> None:
    flight, rows = flown()
    seen = []
    for number in range(1, 6):
        changed, _ = inject(rows, f"hoses-{number}", 1, flight)
        assert not np.array_equal(changed[-9000:], rows[-9000:])
        seen.append(changed.tobytes())
    assert len(set(seen)) == 5


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_b6_a_swapped_pitot_and_static_turn_the_sign(plumbing: str) -> None:
    flight, _ = flown(plumbing)
    pitot, _ = pushed_pa("hoses-2", plumbing)
    assert flight.pitot_pa + pitot == pytest.approx(-flight.pitot_pa, abs=1.1)


@pytest.mark.parametrize(("plumbing", "share"), [("port-static", -1), ("pitot-port", 0),
                                                 ("opposed", 0)])
def test_b1_a_blocked_static_reads_the_height_flown_since(plumbing: str, share: int) -> None:
    # A blocked static shows too much speed in a descent and too little in a climb (pilots'
    # handbooks, from memory), by the difference of static pressure (ambiance).
    flight, _ = flown(plumbing)
    begin = at(flight, 240.0)
    pitot, angled = pushed_pa("static-blocked@240", plumbing)
    lower = Atmosphere(flight.height_m[begin:]).pressure - Atmosphere(
        flight.height_m[begin]).pressure
    assert lower[-1] > 500.0
    assert pitot[begin:] == pytest.approx(lower, abs=4.0)
    assert angled[begin:] == pytest.approx(-share * lower, abs=4.0)


def test_a_blocked_pitot_reads_height_like_an_altimeter() -> None:
    # Ram hole and drain blocked: the indication rises in a climb (pilots' handbooks, from memory).
    flight, rows = flown()
    begin = at(flight, 45.0)
    pitot, angled = pushed_pa("pitot-blocked@45+30")
    shown = flight.pitot_pa + pitot
    risen = Atmosphere(flight.height_m[begin]).pressure - Atmosphere(
        flight.height_m[begin + 2900]).pressure
    assert risen > 300.0
    assert shown[begin + 2900] - flight.pitot_pa[begin] == pytest.approx(risen, abs=4.0)
    assert not angled.any()


def test_a_blocked_pitot_with_an_open_drain_reads_nothing() -> None:
    # Indicated speed falls to zero (pilots' handbooks, from memory).
    flight, _ = flown()
    pitot, angled = pushed_pa(f"pitot-blocked-drain@{CRUISE_S}+10")
    late = slice(at(flight, CRUISE_S + 5), at(flight, CRUISE_S + 10))
    assert (flight.pitot_pa + pitot)[late] == pytest.approx(0.0, abs=1.1)
    assert not angled.any()


def test_a_blocked_angled_line_keeps_its_pressure_in_every_plumbing() -> None:
    for plumbing in PLUMBINGS:
        flight, _ = flown(plumbing)
        begin = at(flight, 45.0)
        _, angled = pushed_pa("angled-blocked@45+30", plumbing)
        lines = {name: line.copy() for name, line in flight.line_pa.items()}
        lines["port"][:] = lines["port"][begin]
        expected = differences(plumbing, lines)[1][begin:begin + 3000]
        assert (flight.angled_pa + angled)[begin:begin + 3000] == pytest.approx(expected, abs=1.1)


@pytest.mark.parametrize("plumbing", PLUMBINGS)
@pytest.mark.parametrize("seconds", [2, 5, 30, 60, 120])
def test_b2_ice_takes_the_impact_pressure_linearly(plumbing: str, seconds: int) -> None:
    flight, _ = flown(plumbing)
    pitot, _ = pushed_pa(f"pitot-iced-{seconds}@100+{seconds}", plumbing)
    share = (flight.pitot_pa + pitot) / flight.pitot_pa
    half = slice(at(flight, 100 + seconds * 0.5) - 5, at(flight, 100 + seconds * 0.5) + 5)
    assert share[half].mean() == pytest.approx(0.5, abs=0.03)
    assert share[at(flight, 100 + seconds) - 1] == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_b2_ice_on_all_holes_alike_keeps_the_ratio(plumbing: str) -> None:
    flight, _ = flown(plumbing)
    pitot, angled = pushed_pa("both-iced-60@100+60", plumbing)
    clean = flight.angled_pa / flight.pitot_pa
    iced = (flight.angled_pa + angled) / (flight.pitot_pa + pitot)
    early = slice(at(flight, 101), at(flight, 130))  # half of q is left; rounding is small
    assert iced[early] == pytest.approx(clean[early], abs=0.006)


@pytest.mark.parametrize(("plumbing", "pitot_sign", "angled_sign"), [
    ("port-static", -1, -1), ("pitot-port", -1, 0), ("opposed", -1, 0)])
def test_b4_water_comes_in_steps(plumbing: str, pitot_sign: int, angled_sign: int) -> None:
    flight, _ = flown(plumbing)
    pitot, angled = pushed_pa(f"static-water@{CRUISE_S}+60", plumbing)
    steps = np.rint(pitot * pitot_sign / 100) * 100
    assert set(steps) == {-300.0, -100.0, 0.0, 100.0, 300.0}
    assert pitot == pytest.approx(pitot_sign * steps, abs=1.1)
    assert angled == pytest.approx(angled_sign * steps, abs=1.1)
    edges = np.flatnonzero(np.diff(steps))
    long_s = np.diff(edges)[::2] / flight.rate_hz
    assert long_s.min() >= 0.29 and long_s.max() <= 2.01


def test_b5_a_leak_between_pitot_and_angled_line_draws_them_together() -> None:
    flight, _ = flown()
    pitot, angled = pushed_pa(f"pitot-angled-leak@{CRUISE_S}+20")
    late = slice(at(flight, CRUISE_S + 10), at(flight, CRUISE_S + 20))
    assert (pitot[late] < -100).all()
    assert (pitot + angled)[late] == pytest.approx(0.0, abs=1.1)  # what one loses the other gains
    assert ((flight.pitot_pa + pitot) > (flight.angled_pa + angled))[late].all()


@pytest.mark.parametrize("name", ["pitot", "angled", "static"])
def test_h3_a_hose_that_is_off_feels_the_cabin_a_little_below_static(name: str) -> None:
    # Cabin below static: common practice, no source.
    flight, _ = flown()
    pitot, angled = pushed_pa(f"{name}-off@{CRUISE_S}+10")
    span = slice(at(flight, CRUISE_S) + 1, at(flight, CRUISE_S + 10) - 1)
    q = flight.pitot_pa[span]
    if name == "static":
        assert (pitot[span] / q).mean() == pytest.approx(0.05, abs=0.01)
        assert angled[span] == pytest.approx(pitot[span], abs=1.1)
        return
    felt = (flight.pitot_pa + pitot if name == "pitot" else flight.angled_pa + angled)[span]
    assert (felt / q).mean() == pytest.approx(-0.05, abs=0.01)


def test_a2_flipped_bits_and_wild_words_come_at_their_rates() -> None:
    flight, rows = flown()
    flipped, _ = inject(rows, f"flipped-bit@{CRUISE_S}+60", 1, flight)
    for column in (PITOT, ANGLED):
        apart = flipped[:, column] ^ rows[:, column]
        assert set(apart.tolist()) == {0, 1 << 13}
        assert 0.013 < np.count_nonzero(apart) / 6000 < 0.027  # 1 in 50, four sigma of 6000 reads
    wild, _ = inject(rows, f"wild-words@{CRUISE_S}+60", 1, flight)
    changed = wild[:, PITOT] != rows[:, PITOT]
    assert set(wild[changed, PITOT].tolist()) == {0, 16383}
    edges = np.diff(np.concatenate([[0], changed.astype(int), [0]]))
    runs = np.flatnonzero(edges == -1) - np.flatnonzero(edges == 1)
    assert {1, 2, 5} <= set(runs.tolist())


def test_a_twin_sends_the_pitots_word() -> None:
    flight, rows = flown()
    changed, _ = inject(rows, f"twins@{CRUISE_S}+10", 1, flight)
    begin = at(flight, CRUISE_S)
    assert np.array_equal(changed[begin:begin + 1000, ANGLED], rows[begin:begin + 1000, PITOT])


def test_c2_zeros_drift_opposite_ways_30_pa_in_20_minutes() -> None:
    flight, _ = flown()
    pitot, angled = pushed_pa("zero-drift@20+240")
    end = at(flight, 260) - 1
    assert pitot[end] == pytest.approx(30.0 * 240 / 1200, abs=1.1)
    assert angled[end] == pytest.approx(-30.0 * 240 / 1200, abs=1.1)
    pitot, angled = pushed_pa("zero-drifted@20")
    assert pitot[-1] == pytest.approx(30.0, abs=1.1) == -angled[-1]


@pytest.mark.parametrize(("name", "size_pa", "noise_pa"), [
    ("radio", 200.0, 20.0), ("radio-negative", -200.0, 20.0), ("sun", 138.0, 0.0)])
def test_e2_c2_bursts_last_five_seconds(name: str, size_pa: float, noise_pa: float) -> None:
    flight, _ = flown()
    pitot, angled = pushed_pa(f"{name}@{CRUISE_S}")
    burst = np.flatnonzero(pitot)
    assert burst[0] == at(flight, CRUISE_S) and burst[-1] - burst[0] == pytest.approx(499, abs=1)
    assert pitot[burst].mean() == pytest.approx(size_pa, abs=4.0)
    assert pitot[burst].std() == pytest.approx(noise_pa, abs=2.5)
    assert angled.any() == (name != "sun")


def test_d4_a_flap_switch_wavers_between_two_settings_beside_each_other() -> None:
    flight, rows = flown()
    changed, _ = inject(rows, "flap-switch-bounces@250", 1, flight)
    apart = changed[:, 7] - rows[:, 7]
    assert set(apart.tolist()) == {0, -1}
    assert np.count_nonzero(np.diff(apart)) > 40
    broken, _ = inject(rows, "flap-switch-broken@250", 1, flight)
    assert (broken[at(flight, 251):, 7] == -2).all()
