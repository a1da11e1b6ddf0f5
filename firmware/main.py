"""Start of the unit: board, stored records, unit, loop; nothing else."""

import gc
import os

import assembly
from alula import figures
from alula.unit import Unit
from alula.vault import Vault
from drivers.flash_files import FlashFiles
from keeper import Keeper
from narrator import Narrator
from stop import stop_and_restart
from stored import Stored


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


def prepare(board, vault, say) -> tuple:
    """(loop, remarks): the loop ready to run, and a line for all that is amiss."""
    stored = Stored(vault)
    unit, settings, remarks = assembly.make_unit(stored.settings, stored.plain, stored.zero)
    followers: tuple = ()
    if isinstance(unit, Unit):
        if stored.reference_pm is not None:
            unit.adopt_reference(stored.reference_pm)
        if stored.amiss:
            unit.voice.announce(figures.AMISS)
        followers = (Keeper(unit, vault, settings, stored.calibration, say), Narrator(unit, say))
    return assembly.make_loop(board, unit, settings, followers), stored.remarks + remarks


if __name__ == "__main__":
    from boards.rpi_pico import Board

    start(Board(), Vault(FlashFiles(os, open, "")))
