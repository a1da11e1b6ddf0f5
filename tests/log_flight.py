"""A bench unit that starts as the board does and leaves its log in a folder."""

import os

import numpy as np

from alula.vault import Vault
from drivers.log_files import LogFiles
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from host_sim.runtimes.run import run_rows
from host_sim.runtimes.session import BenchSession
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
        self._session = BenchSession(self.loop.unit, self.loop, board)

    def fly(self, rows: np.ndarray) -> np.ndarray:
        """Input rows as `session.IN_COLUMNS`; the output rows."""
        return run_rows(self._session, rows)
