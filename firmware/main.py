"""Start of the unit: board, stored records, unit, loop; nothing else."""

import gc
import os

import maintenance
from alula.vault import Vault
from drivers.log_files import LogFiles
from startup import prepare
from stop import stop_and_restart


def start(board, vault, log_files=None) -> None:
    """Run the unit on a board with the records of a vault, for ever; an error restarts it. Where
    the board was restarted into maintenance it comes back at once.

    log_files: where the flight log goes, or None: no log is kept."""
    if board.maintenance:
        maintenance.enter(board)
        return
    try:
        loop, remarks = prepare(board, vault, board.console.say, log_files)
        for line in remarks:
            board.console.say(line)
        gc.collect()
        loop.run()
    except Exception as error:
        stop_and_restart(board, vault, error)


if __name__ == "__main__":
    from boards.choice import choose

    flash = LogFiles(os, open, "")
    start(choose()(), Vault(flash), flash)
