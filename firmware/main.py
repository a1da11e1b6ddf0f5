"""Start of the unit: board, stored records, unit, loop; nothing else."""

import gc
import os

from alula.vault import Vault
from drivers.flash_files import FlashFiles
from startup import prepare
from stop import stop_and_restart


def start(board, vault) -> None:
    """Run the unit on a board with the records of a vault, for ever; an error restarts it."""
    try:
        loop, remarks = prepare(board, vault, board.console.say)
        for line in remarks:
            board.console.say(line)
        gc.collect()
        loop.run()
    except Exception as error:
        stop_and_restart(board, vault, error)


if __name__ == "__main__":
    from boards.choice import choose

    start(choose()(), Vault(FlashFiles(os, open, "")))
