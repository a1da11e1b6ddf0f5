"""Cases H10, C1: taxi in wind, the ramp, run-up, take-off, bumpy cruise, slips and landings: no
stall sound and no fault sound, in any plumbing, but where the wing really has little left."""

from functools import cache

import numpy as np
import pytest

from alula import figures
from alula.health import WORDS
from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows
from host_sim.output.trace import column
from host_sim.runtimes.run import Stream, run_stream
from host_sim.world.flight import Flight, fly
from host_sim.world.probe import PLUMBINGS
from host_sim.world.scenario import load_scenario

GROUND = ("taxi-in-wind", "ramp-idle", "rejected-take-off")
FLOWN = ("bumpy-cruise", "crosswind-landing", "ordinary")
# 1.24 Vs: pressing begins at 0.694 (1.20 Vs), and a line through 0.2 s of gusts overshoots them
LITTLE_LEFT = 0.65
ZERO = {"pitot_dpa": 180, "angled_dpa": -110}  # as stored on a calm day: see the scenarios
SETTLED_S = 2.0  # a band outlasts its cause by its release time and the window


@cache
def flight_of(name: str, plumbing: str, seed: int) -> Flight:
    return fly(load_scenario(name), seed, plumbing)


def decided(flight: Flight, seed: int, rows: np.ndarray | None = None) -> np.ndarray:
    settings = scenario_settings(flight.scenario, flight.plumbing, {})
    rows = sensor_rows(flight, seed) if rows is None else rows
    return run_stream(Stream(rows, settings, perfect_calibration(flight), ZERO))


def sounds(flight: Flight, out: np.ndarray, state: int) -> dict[str, int]:
    """How often a state began, by phase of the flight."""
    states = column(out, "state")
    begun = np.flatnonzero((states[1:] == state) & (states[:-1] != state)) + 1
    counts: dict[str, int] = {}
    for tick in begun.tolist():
        counts[flight.phase[tick]] = counts.get(flight.phase[tick], 0) + 1
    return counts


def near_the_limit(flight: Flight) -> np.ndarray:
    """Ticks at which, or shortly before which, the wing really had little left."""
    rows = round(SETTLED_S * flight.rate_hz)
    lift = np.where(flight.on_ground, 0.0, flight.lift)
    padded = np.concatenate([np.zeros(rows), lift])
    return np.lib.stride_tricks.sliding_window_view(padded, rows + 1).max(axis=1) > (
        LITTLE_LEFT)


@pytest.mark.parametrize("plumbing", PLUMBINGS)
@pytest.mark.parametrize("name", GROUND)
def test_h10_on_the_ground_it_neither_warns_nor_faults(name: str, plumbing: str):
    for seed in ((1,) if name == "ramp-idle" else (1, 2, 3)):
        flight = flight_of(name, plumbing, seed)
        out = decided(flight, seed)
        told = {state: sounds(flight, out, state) for state in (PRESSING, STALLING, FAULT)}
        assert not any(told.values()), told
        # nothing is heard but the start figure and, in wind, once that the old zero is kept
        voiced = column(out, "voice_level") > 0
        allowed_ms = sum(sum(figures.FIGURES[figure][1::2]) for figure in (
            figures.STARTED, figures.ZERO_KEPT, figures.FLAP_UNKNOWN)) + 400
        assert voiced.sum() * 10 <= allowed_ms
    assert column(out, "state")[-1] == QUIET


@pytest.mark.parametrize("plumbing", PLUMBINGS)
@pytest.mark.parametrize("name", FLOWN)
def test_h10_in_flight_it_presses_only_where_little_is_left(name: str, plumbing: str):
    for seed in (1, 2):
        flight = flight_of(name, plumbing, seed)
        out = decided(flight, seed)
        state = column(out, "state")
        words = {WORDS[code] for code in column(out, "health")[state == FAULT]}
        assert not words and not sounds(flight, out, STALLING)
        pressing = (state == PRESSING) & ~near_the_limit(flight)
        assert not pressing.any(), sounds(flight, out, PRESSING)


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_h10_a_run_up_is_silent(plumbing: str):
    """The propeller blows over the probe: 30 Pa of mean and 20 Pa of unsteady pressure on the
    pitot, half of it on the angled line, for two minutes (common practice, no source)."""
    flight = flight_of("ramp-idle", plumbing, 1)
    rows = sensor_rows(flight, 1)[:18000].copy()
    rng = np.random.default_rng(7)
    blown = slice(3000, 15000)
    wash = rng.standard_normal(12000)
    for _ in range(3):  # a propeller's wake is unsteady at some hertz, not from tick to tick
        wash = np.convolve(wash, np.ones(8) / 8, mode="same")
    wash = 30 + 20 * wash / wash.std()
    for column_number, share in ((2, 1.0), (4, 0.5)):
        rows[blown, column_number] += np.rint(share * wash / 1.052).astype(np.int32)
    out = decided(flight, 1, rows)
    assert set(column(out, "state")) == {QUIET}


def test_h10_a_stall_outranks_a_fault_and_a_fault_outranks_a_hint():
    """Both at once: the stall goes on; a hint that waits is not said in a fault."""
    from alula.sample import FRESH, NO_REPLY
    from tests.both.core_rig import airborne
    rig = airborne(950)
    rows = rig.blind(5000, NO_REPLY, FRESH)
    assert {row[1] for row in rows} == {STALLING}
    rig = airborne(300)
    rig.blind(700, NO_REPLY, FRESH)
    rig.unit.voice.announce(figures.NOTED)
    notes = {row[4] for row in rig.blind(4000, NO_REPLY, FRESH) if row[3]}
    assert notes <= {900, 600}


def test_h10_the_calm_tick_is_the_only_sound_of_a_normal_approach():
    flight = flight_of("ordinary", "port-static", 1)
    out = decided(flight, 1)
    final = np.array(flight.phase) == "final"
    assert set(column(out, "state")[final]) <= {QUIET, CALM}
    assert (column(out, "voice_level")[final] <= 4).all()  # soft: half of the amplitude
