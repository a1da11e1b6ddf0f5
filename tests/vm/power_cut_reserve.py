"""Started inside the MicroPython VM: saves while logs have filled all but the reserve.

    micropython power_cut_reserve.py BLOCKS_LEFT

Prints how many of the saves failed, with so many blocks left free by a log.
"""

import os
import sys

import vfs

from alula.vault import Vault
from drivers.flash_files import TEMPORARY, FlashFiles
from tests.vm.power_cut_device import BLOCK_BYTES, PROGRAM_BYTES, CutFlash
from tests.vm.power_cut_values import KINDS, VALUES

BLOCKS = 48
MOUNT = "/flash"
EDITIONS = 150


def fill(store: FlashFiles, leave_bytes: int) -> None:
    """What a log does: one file that grows block by block, as long as the rule allows."""
    block = b"L" * BLOCK_BYTES
    with open(MOUNT + "/log.0", "wb") as file:
        while store.free_bytes() - BLOCK_BYTES >= leave_bytes:
            file.write(block)
            file.flush()
    assert store.free_bytes() < leave_bytes + 2 * BLOCK_BYTES, "not full"


def main(left: int) -> None:
    flash = CutFlash(bytearray(b"\xff" * BLOCK_BYTES * BLOCKS))
    vfs.VfsLfs2.mkfs(flash, progsize=PROGRAM_BYTES)
    vfs.mount(vfs.VfsLfs2(flash, progsize=PROGRAM_BYTES), MOUNT)
    store = FlashFiles(os, open, MOUNT)
    fill(store, left * BLOCK_BYTES)
    with open(MOUNT + "/" + TEMPORARY, "wb") as file:
        file.write(b"x" * 4000)  # as a power cut leaves it
    vault = Vault(store)
    failed = 0
    for n in range(EDITIONS):
        for kind in KINDS:
            problem = vault.save(kind, VALUES[kind](n))
            if problem:
                assert "full" in problem, problem
                failed += 1
    print("failed", failed, "reserve", Vault.reserve_bytes // BLOCK_BYTES)


main(int(sys.argv[1]))
