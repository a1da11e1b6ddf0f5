"""Started inside the MicroPython VM: the log on a real littlefs.

    micropython log_on_littlefs_main.py count|cut

count: how many erases and programs one step of writing needs, over two full files and with the
oldest ones removed. cut: the power cut at every operation of one block, in every way. Prints what
was counted; a broken promise raises.
"""

import os
import sys

import vfs

from alula import log_layout
from alula.log_block import fill_header, seal
from alula.log_ring import LogRing
from alula.record_payloads import ZERO
from alula.vault import Vault
from drivers.log_files import LogFiles
from log_store import PART_BLOCKS, RESERVE_BYTES, LogStore
from tests.vm.power_cut_device import BLOCK_BYTES, MODES, PROGRAM_BYTES, CutFlash, PowerCut
from tests.vm.power_cut_values import VALUES

MOUNT = "/flash"


class Counting(CutFlash):
    """erases: so far."""

    def __init__(self, data: bytearray, cut_at: int = 0, mode: int = 0) -> None:
        CutFlash.__init__(self, data, cut_at, mode)
        self.erases = 0

    def ioctl(self, request: int, argument: int) -> int:
        self.erases += request == 6
        return CutFlash.ioctl(self, request, argument)


class Session:
    """A mounted flash, and a store that writes numbered blocks to it."""

    def __init__(self, flash: Counting, number: int = 1) -> None:
        self.flash = flash
        vfs.mount(vfs.VfsLfs2(flash, progsize=PROGRAM_BYTES), MOUNT)
        self._opened = []
        self.files = LogFiles(os, self._open, MOUNT)
        self.ring = LogRing(2)
        self.store = LogStore(self.files, self.ring, number, b"\x10\x01\x01\x00x")
        self.made = 0

    def _open(self, path: str, mode: str):
        self._opened = [open(path, mode)]  # noqa: SIM115  (closed by the store, or by `off`)
        return self._opened[0]

    def step(self) -> tuple:
        """(erases, programs) of one step of the store; there is always a block to write."""
        if not self.ring.waiting:
            fill_header(self.ring.block, log_layout.DATA, 1, self.made, 0, 0, 4000)
            for i in range(4000):
                self.ring.block[20 + i] = (i * 7 + self.made) & 0xFF
            self.made += 1
            self.ring.advance()
        erases, operations = self.flash.erases, self.flash.operations
        assert self.store.step(0), self.store.problem
        erases = self.flash.erases - erases
        return erases, self.flash.operations - operations - erases

    def block(self) -> None:
        """One more block, whole and closed."""
        self.step()
        while self.store.writing:
            self.step()

    def whole(self) -> int:
        """Blocks on the flash; every one must be whole."""
        found = 0
        for name in self.files.logs():
            data, part = b"", bytearray(BLOCK_BYTES)
            with open(MOUNT + "/" + name, "rb") as file:
                while True:
                    count = file.readinto(part)
                    if not count:
                        break
                    assert count == BLOCK_BYTES, (name, count)
                    data = bytes(part)
                    seal(part)
                    assert bytes(part) == data, name
                    found += 1
        return found

    def off(self) -> None:
        """Unmount; of a dead device nothing goes on but what was taken before."""
        if self.flash.dead:
            self.flash.dead = False
            for file in self._opened:
                try:
                    file.close()
                except OSError:
                    pass
        vfs.umount(MOUNT)


def formatted(blocks: int) -> bytearray:
    flash = CutFlash(bytearray(b"\xff" * BLOCK_BYTES * blocks))
    vfs.VfsLfs2.mkfs(flash, progsize=PROGRAM_BYTES)
    return flash.data


def count() -> None:
    """Two full files and the beginning of a third on a flash that holds less than two."""
    flash = Counting(formatted(PART_BLOCKS + 40 + RESERVE_BYTES // BLOCK_BYTES))
    session = Session(flash)
    most_erases = most_programs = steps = erases = 0
    least = 1 << 30
    for _ in range(2 * PART_BLOCKS + 10):
        while True:
            found, programs = session.step()
            steps += 1
            erases += found
            most_erases = max(most_erases, found)
            most_programs = max(most_programs, programs)
            if not session.store.writing:  # an open file's blocks are counted twice (lfs_fs_size)
                break
        least = min(least, session.files.free_bytes())
    assert session.files.logs()[0] != "00001-000.log"
    assert least >= RESERVE_BYTES, least // BLOCK_BYTES
    assert flash.overwritten == 0
    session.whole()
    session.off()
    print("steps", steps, "erases", erases, "most_erases", most_erases, "most_programs",
          most_programs, "least_free", least)


def cut() -> None:
    """Cut one block's writing at every operation: the first of a file (a head), and the sixth."""
    session = Session(Counting(formatted(60)))
    assert Vault(session.files).save(ZERO, VALUES[ZERO](1)) == ""
    session.block()
    data = bytes(session.flash.data)
    session.off()
    cuts = old = new = 0
    for written in (0, 5):
        operations = one_more(data, written, 0, 0)[1]
        for mode in MODES:
            for cut_at in range(1, operations + 1):
                left, _ = one_more(data, written, cut_at, mode)
                session = Session(Counting(bytearray(left)))
                found = session.whole() - 1 - written
                assert 0 <= found <= 1, (written, mode, cut_at, found)
                assert Vault(session.files).load(ZERO) == (VALUES[ZERO](1), ""), (mode, cut_at)
                assert session.flash.operations == 0
                session.off()
                cuts += 1
                old += found == 0
                new += found == 1
    print("cuts", cuts, "old", old, "new", new)


def one_more(data: bytes, written: int, cut_at: int, mode: int) -> tuple:
    """(bytes on the flash, operations) after a new session has written some blocks and one more,
    which is cut."""
    flash = Counting(bytearray(data), 0, mode)
    session = Session(flash, 2)
    for _ in range(written):
        session.block()
    before = flash.operations
    if cut_at:
        flash._cut_at = before + cut_at
    try:
        session.block()
        assert not cut_at
    except PowerCut:
        pass
    left, operations = bytes(flash.data), flash.operations - before
    assert flash.overwritten == 0
    session.off()
    return left, operations


{"count": count, "cut": cut}[sys.argv[1]]()
