"""Start of the unit: board, stored records, unit, loop; nothing else."""

import gc
import os

from keeper import Keeper
from stored import Stored

import assembly
from alula import figures
from alula.unit import Unit
from alula.vault import Vault
from drivers.flash_files import FlashFiles


def start(board, vault) -> None:
    """Run the unit on a board with the records of a vault, for ever."""
    loop, remarks = prepare(board, vault, print)
    for line in remarks:
        print(line)
    gc.collect()
    loop.run()


def prepare(board, vault, say) -> tuple:
    """(loop, remarks): the loop ready to run, and a line for all that is amiss."""
    stored = Stored(vault)
    unit, settings, remarks = assembly.make_unit(stored.settings, stored.plain, stored.zero)
    keeper = None
    if isinstance(unit, Unit):
        if stored.reference_pm is not None:
            unit.adopt_reference(stored.reference_pm)
        if stored.amiss:
            unit.voice.announce(figures.AMISS)
        keeper = Keeper(unit, vault, settings, stored.calibration, say)
    return assembly.make_loop(board, unit, settings, keeper), stored.remarks + remarks


if __name__ == "__main__":
    from boards.rpi_pico import Board

    start(Board(), Vault(FlashFiles(os, open, "")))
