"""A bench unit that starts as the board does and leaves its log in a folder."""

import json
import os
from pathlib import Path

import numpy as np

from alula.record_payloads import SETTINGS, ZERO
from alula.vault import Vault
from drivers.log_files import LogFiles
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.runtimes.run import run_rows
from host_sim.runtimes.session import BenchSession
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario
from startup import prepare


class LoggedBench:
    """One power-up on a folder of flash. keeper: the log's; said: lines on the console;
    board: the fakes."""

    def __init__(self, folder, start_ms: int = 0, stalls=None) -> None:
        flash = LogFiles(os, open, str(folder))
        self.said: list[str] = []
        board = self.board = BenchBoard(VirtualClock(start_ms, stalls), "lis3dh")
        self.loop, _ = prepare(board, Vault(flash), self.said.append, flash)
        self.keeper = self.loop._followers[0]
        self._session = BenchSession(self.loop.unit, self.loop, board, flash)

    def fly(self, rows: np.ndarray) -> np.ndarray:
        """Input rows as `session.IN_COLUMNS`; the output rows."""
        return run_rows(self._session, rows)

    def off(self) -> None:
        """The power goes; on the ground some time after the flight."""
        self._session.off()


def flown(folder: Path, name: str, **more) -> tuple[Path, np.ndarray]:
    """(log, decisions a tick) of a scenario; the unit then stands until all is written."""
    (log,), out = flown_in_parts(folder, name, **more)
    return log, out


def flown_in_parts(folder: Path, name: str, calibrated: bool = True, spoil=None,
                   plumbing: str = "port-static", **power_up) -> tuple[list[Path], np.ndarray]:
    """As `flown`, where the log may lie in several files."""
    flight = fly(load_scenario(name), 1, plumbing)
    folder.mkdir(exist_ok=True)
    vault = Vault(LogFiles(os, open, str(folder)))
    settings = scenario_settings(flight.scenario, plumbing, {})
    assert vault.save(SETTINGS, settings) == ""
    nothing = dict.fromkeys(("spread_pitot_dpa", "spread_angled_dpa", "temperature_dc", "count"))
    assert vault.save(ZERO, {**stored_zero(flight.scenario), **nothing}) == ""
    if calibrated:
        (folder / "calibration.json").write_text(json.dumps(perfect_calibration(flight)))
    rows = sensor_rows(flight, 1)
    if spoil:
        rows = spoil(rows)
    unit = LoggedBench(folder, **power_up)
    out = unit.fly(rows)
    unit.off()
    assert not unit.keeper.stopped
    return sorted(folder.glob("*.log")), out
