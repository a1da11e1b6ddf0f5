"""Case C5: the power goes in every phase of flight, for 80 ms, 1 s and 20 s, and comes back.

The world flies on. The board starts anew, its counter from 0, with what is stored on its flash: no
zero is taken in the air, and the sound of an unbroken flight is back within 1.5 s of the power.
The board's own way to `main.py` (a part of a second, not measured) is not on the desk.
"""

import os
from functools import cache

import numpy as np
import pytest

from alula.health import WORDS
from alula.record_payloads import CALIBRATION, SETTINGS, STARTS, ZERO
from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING
from alula.vault import Vault
from drivers.flash_files import FlashFiles
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows
from host_sim.runtimes.run import run_rows
from host_sim.runtimes.session import BenchSession
from host_sim.world.flight import Flight, fly
from host_sim.world.scenario import load_scenario
from startup import prepare

BACK_MS = 1500
CUTS_MS = (80, 1000, 20000)
SCENARIOS = ("stall-straight", "tightened-turn", "slow-flight-gusts", "ordinary")


class Board:
    """One power-up: board, unit and loop on a folder of flash; out: a row of decisions a tick."""

    def __init__(self, folder, word: str) -> None:
        self.vault = Vault(FlashFiles(os, open, str(folder)))
        board = BenchBoard(VirtualClock(), "lis3dh")
        board.start_word = word
        self.loop, self.remarks = prepare(board, self.vault, lambda line: None)
        self._session = BenchSession(self.loop.unit, self.loop, board)

    def fly(self, rows: np.ndarray) -> np.ndarray:
        return run_rows(self._session, rows)


@cache
def flown(name: str) -> tuple[Flight, np.ndarray]:
    flight = fly(load_scenario(name), 1)
    return flight, sensor_rows(flight, 1)


def stored(folder, flight: Flight) -> None:
    """Settings, a perfect calibration and a zero in the vault."""
    vault = Vault(FlashFiles(os, open, str(folder)))
    settings = scenario_settings(flight.scenario, "port-static", {})
    assert vault.save(SETTINGS, settings) == ""
    curves = [{"flap": curve["flap"], "method": "from-file", "points": curve["points"],
               "entry_rate_ckt_s": None, "runs": None, "spread_bp": None}
              for curve in perfect_calibration(flight)["curves"]]
    assert vault.save(CALIBRATION, {"plumbing": "port-static", "fingerprint": None,
                                    "curves": curves}) == ""
    zeros = [round(10 * sensor.zero_error_pa) for sensor in (
        flight.scenario.pitot_sensor, flight.scenario.angled_sensor)]
    assert vault.save(ZERO, {"pitot_dpa": zeros[0], "angled_dpa": zeros[1],
                             "spread_pitot_dpa": None, "spread_angled_dpa": None,
                             "temperature_dc": None, "count": None}) == ""


def moments(name: str) -> list[tuple[str, float]]:
    """The middle of each phase in the air, and the seconds round each stall."""
    flight, _ = flown(name)
    labels = np.array(flight.phase)
    found = []
    for label in dict.fromkeys(flight.phase):
        air = flight.time_s[(labels == label) & ~flight.on_ground]
        if len(air) > 200:
            found.append((label, float(air[len(air) // 2])))
    return found + [(f"stall {at:+.1f}", stall + at) for stall in flight.stalls[:1]
                    for at in (-8.0, -2.0, 0.2, 1.0)]


CASES = [(name, label, at_s) for name in SCENARIOS for label, at_s in moments(name)]


@pytest.mark.parametrize("name,label,at_s", CASES, ids=[f"{n}-{m}" for n, m, _ in CASES])
def test_c5_the_right_sound_is_back_after_a_brown_out(name: str, label: str, at_s: float,
                                                      tmp_path):
    flight, rows = flown(name)
    stored(tmp_path, flight)
    kept = {kind: Vault(FlashFiles(os, open, str(tmp_path))).load(kind)[0]
            for kind in (ZERO, CALIBRATION)}
    first = int(at_s * 100)
    for cut_ms in CUTS_MS:
        back = first + cut_ms // 10
        if back + 400 > len(rows) or flight.on_ground[back:back + 400].any():
            continue
        unbroken = Board(tmp_path, "power").fly(rows[back - 2000 if back > 2000 else 0:back + 400])
        board = Board(tmp_path, "watchdog" if cut_ms == 80 else "power")
        out = board.fly(rows[back:back + 400])
        assert not (out[:, 5] == FAULT).any(), {WORDS[w] for w in out[:, 8]}
        right_again(out[BACK_MS // 10:], unbroken[-400:][BACK_MS // 10:])
        assert board.loop.unit.phase.air_start and not board.loop.unit.zero.taken
        assert {kind: board.vault.load(kind)[0] for kind in kept} == kept
        heard = out[:, 10] > 0
        assert heard.any()  # the start figure, a warning or the hint of a start in the air


def right_again(out: np.ndarray, unbroken: np.ndarray) -> None:
    """Pressing and stalling tick by tick as in the unbroken flight, and heard. The calm tick may
    differ for `calm_release_ms` (2 s): so long it outlives its band, of which a new start knows
    nothing."""
    state, usual = out[:, 5], unbroken[:, 5]
    differ = state != usual
    pairs = set(zip(state[differ].tolist(), usual[differ].tolist(), strict=True))
    assert pairs <= {(QUIET, CALM)} and differ.sum() <= 200, pairs
    stalling = out[state == STALLING]
    assert (stalling[:, 10] > 0).all() and set(stalling[:, 9].tolist()) <= {1000, 1400}
    silent = 0
    for row in out:
        silent = silent + 1 if row[5] == PRESSING and row[10] == 0 else 0
        assert silent <= 70  # the slowest pulse comes every 667 ms


def test_c5_a_start_in_the_air_is_hinted_when_it_is_quiet(tmp_path):
    """Three level notes at 750 Hz after the start figure."""
    flight, rows = flown("ordinary")
    stored(tmp_path, flight)
    out = Board(tmp_path, "watchdog").fly(rows[12000:12300])
    assert set(out[:, 5]) <= {QUIET, CALM}
    notes = out[out[:, 10] > 0, 9]
    assert {600, 800, 1000, 750} <= set(notes.tolist())


def test_c5_every_restart_in_the_air_is_counted(tmp_path):
    flight, rows = flown("ordinary")
    stored(tmp_path, flight)
    cuts = (6000, 9000, 12000, 15000)
    begin = 0
    for i, end in enumerate((*cuts, len(rows))):
        board = Board(tmp_path, "power" if i == 0 else "watchdog")
        board.fly(rows[begin:end])
        begin = end + 8
    found = board.vault.load(STARTS)[0]
    assert found == {"power": 1, "watchdog": 4, "restart": 0, "in_air": 4, "last": "watchdog"}


def test_c5_on_the_ground_a_restart_takes_a_zero_by_the_rules_only(tmp_path):
    flight, rows = flown("ordinary")
    stored(tmp_path, flight)
    board = Board(tmp_path, "power")
    board.fly(rows[:700])
    assert board.loop.unit.zero.taken == 1 and not board.loop.unit.phase.air_start
    rolling = Board(tmp_path, "power")
    roll = np.flatnonzero(np.array(flight.phase) == "take_off")
    out = rolling.fly(rows[roll[150]:roll[150] + 1500])
    assert not rolling.loop.unit.zero.taken and not (out[:, 5] == FAULT).any()
