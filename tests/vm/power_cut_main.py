"""Started inside the MicroPython VM: saves on real littlefs, the power cut at every operation.

    micropython power_cut_main.py KIND SCENARIO [careless]

Prints what was counted; a broken promise raises, and names the cut that shows it.
"""

import os
import sys

import vfs

from alula.vault import Vault
from drivers.flash_files import FlashFiles
from tests.vm.power_cut_device import BLOCK_BYTES, MODES, PROGRAM_BYTES, CutFlash, PowerCut
from tests.vm.power_cut_values import KINDS, VALUES

BLOCKS = 24
MOUNT = "/flash"
EDITIONS = 12  # one directory block is full, and is compacted, within five saves
AGED = 700  # littlefs moves a directory block after 100 erases


class Careless(FlashFiles):
    """What the harness must catch: one file a kind, removed before it is written."""

    def read(self, name: str) -> tuple:
        return FlashFiles.read(self, name[:-2] + ".a")

    def write_whole(self, name: str, data: bytes) -> str:
        path = self._root + name[:-2] + ".a"
        if name[:-2] + ".a" in self.names():
            os.remove(path)
        with open(path, "wb") as file:
            file.write(data)
        return ""


class Count:
    """What was done, so that a run that did nothing shows."""

    def __init__(self) -> None:
        self.cuts = self.old = self.new = self.twice = self.longest = 0


def boot(flash: CutFlash, store) -> tuple:
    """(vault, list of the files it will open) after a mount as on the board; an error here is a
    unit that would format its flash, and lose everything."""
    system = vfs.VfsLfs2(flash, progsize=PROGRAM_BYTES)
    vfs.mount(system, MOUNT)
    opened = []

    def tracked(path: str, mode: str):
        opened.append(open(path, mode))  # noqa: SIM115  (closed by the caller, or by `off`)
        return opened[-1]

    return Vault(store(os, tracked, MOUNT)), opened


def off(flash: CutFlash, opened: list) -> None:
    """Unmount. Of a dead device nothing but the bytes taken before goes on; its open files are
    closed on what is left of it, because the VM's finaliser would do so at any later time."""
    if flash.dead:
        flash.dead = False
        for file in opened:
            try:
                file.close()
            except OSError:
                pass
    vfs.umount(MOUNT)


def cut_save(data: bytes, kind: int, value, cut_at: int, mode: int, store):
    """(bytes after the cut, whether it came) of a save that is cut."""
    flash = CutFlash(bytearray(data), cut_at, mode)
    vault, opened = boot(flash, store)
    cut = False
    try:
        problem = vault.save(kind, value)
        assert problem == "", problem
    except PowerCut:
        cut = True
    left = bytes(flash.data)
    assert flash.overwritten == 0
    off(flash, opened)
    return left, cut


def found_after(data: bytes, kind: int, others: list, store):
    """What a unit that boots on these bytes finds; the other kinds must be as they were."""
    flash = CutFlash(bytearray(data))
    vault, opened = boot(flash, store)
    found, problem = vault.load(kind)
    assert problem == "", problem
    for other, value in others:
        assert vault.load(other) == (value, ""), "another kind was harmed: %d" % other
    assert flash.operations == 0, "loading wrote"
    off(flash, opened)
    return found


def saved(data: bytes, kind: int, value, store) -> tuple:
    """(bytes after a save that nobody cuts, its number of operations)."""
    flash = CutFlash(bytearray(data))
    vault, opened = boot(flash, store)
    problem = vault.save(kind, value)
    assert problem == "" and vault.load(kind) == (value, ""), problem
    off(flash, opened)
    return bytes(flash.data), flash.operations


def check_every_cut(data: bytes, kind: int, old, new, others: list, count: Count, store,
                    twice: bool) -> None:
    """Cut one save at every operation in every way; with `twice`, the save after it as well."""
    _, operations = saved(data, kind, new, store)
    count.longest = max(count.longest, operations)
    for mode in MODES:
        for cut_at in range(1, operations + 1):
            where = "kind %d mode %d cut %d of %d" % (kind, mode, cut_at, operations)
            try:
                left, cut = cut_save(data, kind, new, cut_at, mode, store)
                assert cut, "no cut"
                found = found_after(left, kind, others, store)
                assert found in (old, new), "neither: %s" % (found,)
                count.cuts += 1
                count.old += found == old
                count.new += found == new
                if twice:
                    check_second_cut(left, kind, found, others, count, store, cut_at, mode)
            except Exception as error:
                print("FAILED at", where)
                raise error


def check_second_cut(left: bytes, kind: int, old, others: list, count: Count, store,
                     first: int, mode: int) -> None:
    """The next save after a cut is cut, too: at one operation, another for every first one."""
    new = VALUES[kind](77)
    _, operations = saved(left, kind, new, store)
    for cut_at in {1 + (first + mode) % operations, 1 + (3 * first) % operations, operations}:
        again, cut = cut_save(left, kind, new, cut_at, mode, store)
        assert cut
        found = found_after(again, kind, others, store)
        assert found in (old, new), "neither after the second cut at %d: %s" % (cut_at, found)
        count.twice += 1
        saved(again, kind, new, store)


def formatted() -> bytes:
    flash = CutFlash(bytearray(b"\xff" * BLOCK_BYTES * BLOCKS))
    vfs.VfsLfs2.mkfs(flash, progsize=PROGRAM_BYTES)
    return bytes(flash.data)


def with_others(data: bytes, kind: int, store) -> tuple:
    """(bytes on which every other kind is saved, those kinds and values)."""
    others = [(other, VALUES[other](0)) for other in KINDS if other != kind]
    for other, value in others:
        data, _ = saved(data, other, value, store)
    return data, others


def first_saves(kind: int, count: Count, store) -> None:
    """On a fresh flash, alone and beside the other kinds; the second one too, cut twice."""
    for data, others in ((formatted(), []), with_others(formatted(), kind, store)):
        check_every_cut(data, kind, None, VALUES[kind](0), others, count, store, True)
        data, _ = saved(data, kind, VALUES[kind](0), store)
        check_every_cut(data, kind, VALUES[kind](0), VALUES[kind](1), others, count, store, True)


def later_saves(kind: int, count: Count, store) -> None:
    """One edition after another, past the compaction of the directory."""
    data, others = with_others(formatted(), kind, store)
    old = None
    for n in range(EDITIONS):
        new = VALUES[kind](n)
        check_every_cut(data, kind, old, new, others, count, store, False)
        data, _ = saved(data, kind, new, store)
        old = new


def aged_save(kind: int, count: Count, store) -> None:
    """The longest save of a long life: littlefs moves its directory to other blocks there."""
    data, others = with_others(formatted(), kind, store)
    longest, at = 0, (data, 0)
    for n in range(AGED):
        after, operations = saved(data, kind, VALUES[kind](n), store)
        if operations > longest:
            longest, at = operations, (data, n)
        data = after
    data, n = at
    assert n, "the first save was the longest"
    check_every_cut(data, kind, VALUES[kind](n - 1), VALUES[kind](n), others, count, store, False)


def main(kind: int, scenario: str, store) -> None:
    count = Count()
    {"first": first_saves, "later": later_saves, "aged": aged_save}[scenario](kind, count, store)
    print("cuts", count.cuts, "old", count.old, "new", count.new, "twice", count.twice,
          "longest", count.longest)


main(int(sys.argv[1]), sys.argv[2], Careless if sys.argv[3:] == ["careless"] else FlashFiles)
