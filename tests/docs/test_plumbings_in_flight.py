"""The table of plumbings.md against whole flights through the firmware.

The table reads one static curve; here the same faults are laid over a simulated flight, through
tubes, sensors, filters, the unit and its calibration. The pressures of both come from the same
world, so this holds the unit's way of reading them to the table's, not the world to nature.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.notes.plumbing_compare import FAULTS, read, slow_down
from host_sim.runtimes.run import Stream, run_rows
from host_sim.runtimes.session import OUT_COLUMNS, make_session
from host_sim.world.flight import differences, fly
from host_sim.world.scenario import load_scenario

NAMES = ("static reads 5 % of q too high", "a tenth of the angled line leaks into the cabin",
         "a tenth of the pitot line leaks into the cabin")
WANTED = {fault.text: fault for fault in FAULTS}
SEED = 3


@cache
def flown(plumbing, static_error):
    scenario = load_scenario("stall-straight")
    probe = replace(scenario.probe, static_error=static_error)
    return fly(replace(scenario, probe=probe), SEED, plumbing)


@cache
def onset_kt(text, plumbing):
    """Knots above the stall at which the unit first says stalling, the calibration flawless."""
    from alula.states import STALLING
    fault = WANTED[text]
    healthy, flight = flown(plumbing, 0.0), flown(plumbing, fault.static_error)
    if fault.change:
        lines = {name: values.copy() for name, values in flight.line_pa.items()}
        fault.change(lines)
        pitot_pa, angled_pa = differences(plumbing, lines)
        flight = replace(flight, pitot_pa=pitot_pa, angled_pa=angled_pa)
    rows = sensor_rows(flight, SEED)
    stream = Stream(rows, scenario_settings(flight.scenario, plumbing, {}),
                    perfect_calibration(healthy), stored_zero(flight.scenario), "bench")
    until = int(np.searchsorted(flight.time_s, flight.stalls[0]))
    out = run_rows(make_session(stream.job(len(rows))), rows[:until])
    stalling = np.flatnonzero(out[:, OUT_COLUMNS.index("state")] == STALLING)
    assert len(stalling), "no stalling sound before the stall"
    return flight.kcas[stalling[0]] - flight.kcas[until]


@pytest.mark.parametrize("plumbing", ["port-static", "opposed"])
@pytest.mark.parametrize("text", NAMES)
def test_a_fault_moves_the_sound_as_the_table_says(text, plumbing):
    """Within 0.2 kt: what the unit's window of 200 ms is worth at 1 kt/s."""
    run = slow_down()
    expected = read(WANTED[text], plumbing, run).begins_kt - \
        read(WANTED["nothing"], plumbing, run).begins_kt
    seen = onset_kt(text, plumbing) - onset_kt("nothing", plumbing)
    assert seen == pytest.approx(expected, abs=0.2)
    assert np.sign(seen) == np.sign(expected)
