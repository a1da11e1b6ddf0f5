"""Ground checks by a short press, over simulated ground runs: not while the aeroplane taxis.

The world knows what the aeroplane does; the unit has two pressures and, perhaps, an accelerometer.
"""

from functools import cache

import numpy as np
import pytest

import assembly
from alula.sample import FRESH, NOT_FITTED, Sample
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario

SETTLED_S = 3.0  # after a phase has begun: from standing, 8 kt through the air take that long


@cache
def begins(name: str, accelerometer: bool, seconds: float = 1e9) -> dict[str, list[np.ndarray]]:
    """By phase, each time it came: for every tick whether a press would begin the checks."""
    scenario = load_scenario(name)
    flight = fly(scenario, 1, "port-static", 100)
    unit = assembly.make_unit(scenario_settings(scenario, "port-static", {}),
                              perfect_calibration(flight), stored_zero(scenario))[0]
    sample, still, seen = Sample(), [], int(100 * seconds)
    for row in sensor_rows(flight, 1)[:seen].tolist():
        sample.pitot_status = sample.angled_status = FRESH
        sample.pitot_word, sample.angled_word = row[2], row[4]
        sample.nz_status, sample.nz_mg = FRESH if accelerometer else NOT_FITTED, row[6]
        unit.tick(row[0], sample)
        still.append(unit.can_check() and unit.checks.stillness.still)
    found: dict[str, list[np.ndarray]] = {}
    starts = [i for i in range(len(still))
              if i == 0 or flight.phase[i] != flight.phase[i - 1]] + [len(still)]
    for first, end in zip(starts, starts[1:], strict=False):
        ticks = np.array(still[first + int(100 * SETTLED_S):end])
        found.setdefault(flight.phase[first], []).append(ticks)
    return found


@pytest.mark.parametrize("accelerometer", [True, False])
@pytest.mark.parametrize(("name", "phase"), [
    ("ordinary", "taxi"), ("taxi-in-wind", "into the wind"),
    ("taxi-in-wind", "fast, into the wind")])
def test_a_press_while_taxiing_begins_no_checks(name, phase, accelerometer):
    rolls = begins(name, accelerometer, 300)[phase]
    assert all(len(ticks) > 800 and not ticks.any() for ticks in rolls)


def test_parked_in_calm_air_a_press_begins_them():
    parked = begins("ordinary", True, 300)["park"][0]
    assert parked[100:].all() and len(parked) > 500


def test_what_is_not_seen_is_said_on_the_page():
    """With the wind as fast as the wheels no air moves past the probe: the page says so."""
    assert begins("taxi-in-wind", False, 300)["before the wind"][0].any()
    assert begins("taxi-in-wind", True, 300)["before the wind"][0].any()
