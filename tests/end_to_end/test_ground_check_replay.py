"""Checks that were asked for at the console or by the button are replayed as they were: the log
holds the question, the digest the sound."""

import json
import os
from pathlib import Path

import numpy as np
import pytest

from alula.record_payloads import SETTINGS, ZERO
from alula.vault import Vault
from drivers.flash_files import FlashFiles
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.runtimes.session import IN_COLUMNS
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario
from tests.end_to_end.command import alula
from tests.log_flight import LoggedBench


@pytest.fixture(scope="module")
def flight():
    """(flight, its rows) of an ordinary circuit; the first rows stand on the ground."""
    made = fly(load_scenario("ordinary"), 1)
    return made, sensor_rows(made, 1)


def power_up(folder: Path, made) -> LoggedBench:
    """A unit with its settings, zero and curve, just switched on."""
    vault = Vault(FlashFiles(os, open, str(folder)))
    assert vault.save(SETTINGS, scenario_settings(made.scenario, "port-static", {})) == ""
    nothing = dict.fromkeys(("spread_pitot_dpa", "spread_angled_dpa", "temperature_dc", "count"))
    assert vault.save(ZERO, {**stored_zero(made.scenario), **nothing}) == ""
    (folder / "calibration.json").write_text(json.dumps(perfect_calibration(made)))
    return LoggedBench(folder)


def standing(rows: np.ndarray, seconds: float) -> np.ndarray:
    """So long on the ground, with a little noise."""
    still = np.repeat(rows[:1], round(100 * seconds), axis=0)
    still[1::2, [2, 4]] += 1
    still[2::3, [2, 4]] += 2
    return still


def switch_off(unit: LoggedBench) -> None:
    """The block under way is left as it is."""
    unit.keeper._store._files.abandon()


def replayed(folder: Path, runtime: str) -> dict:
    """The one session of the one log, decided again."""
    (log,) = folder.glob("*.log")
    done = alula(folder, "replay", log, "--json", "--no-picture", "--runtime", runtime)
    assert done.code == 0, (done.out[-500:], done.err)
    (session,) = done.json()["sessions"]
    return session


@pytest.mark.parametrize("runtime", ["cpython", "micropython"])
def test_commands_at_the_console_are_in_the_log(flight, tmp_path, runtime):
    made, rows = flight
    unit = power_up(tmp_path, made)
    unit.fly(standing(rows, 5))
    for line, seconds in (("check sounds", 4), ("check next", 1), ("check end", 1), ("zero", 4),
                          ("check leak pitot", 1), ("check flash", 4), ("check lamp", 8)):
        unit.board.keys.type(line + "\n")
        unit.fly(standing(rows, seconds))
    unit.fly(rows)
    unit.fly(np.repeat(rows[-1:], 4000, axis=0) + (np.arange(4000) % 2)[:, None] * np.isin(
        np.arange(rows.shape[1]), [2, 4]))
    switch_off(unit)
    said = [line for line in unit.said if line.startswith("check")]
    assert any("check sound: calm" in line for line in said), said
    assert replayed(tmp_path, runtime)["equal"]


def test_checks_by_the_button_are_replayed_from_the_button(flight, tmp_path):
    made, rows = flight
    unit = power_up(tmp_path, made)
    still = standing(rows, 60)
    still[500:520, IN_COLUMNS.index("button")] = 1
    unit.fly(still)
    assert any(line.startswith("check puff") for line in unit.said)
    unit.fly(rows)
    unit.fly(standing(rows[-1:], 40))
    switch_off(unit)
    assert replayed(tmp_path, "cpython")["equal"]
