"""A board at its raw prompt whose power can be cut: the VM, with a littlefs on a chip in memory.

micropython vm_cut_board.py REPOSITORY

One JSON object a line in, one out. What `alula board` sends to a board runs here as on a board, on
paths that begin at the root of the flash; images of the flash are kept by name.
"""

import json
import os
import sys

import vfs

vfs.mount(vfs.VfsPosix(sys.argv[1]), "/repository")
sys.path[:] = ["/repository/firmware", "/repository"]

from alula.vault import KINDS, Vault  # noqa: E402
from drivers.flash_files import FlashFiles  # noqa: E402
from tests.vm.power_cut_device import (  # noqa: E402
    BLOCK_BYTES,
    PROGRAM_BYTES,
    CutFlash,
    PowerCut,
)

BLOCKS = 40


class Board:
    """images: name -> bytes of a flash that is off."""

    def __init__(self) -> None:
        flash = CutFlash(bytearray(b"\xff" * BLOCK_BYTES * BLOCKS))
        vfs.VfsLfs2.mkfs(flash, progsize=PROGRAM_BYTES)
        self.images = {"blank": bytes(flash.data)}
        self._flash = None
        self._names = {}
        self._said = []
        vfs.umount("/")

    def on(self, image, cut_at=0, mode=0):
        self._flash = CutFlash(bytearray(self.images[image]), cut_at, mode)
        vfs.mount(vfs.VfsLfs2(self._flash, progsize=PROGRAM_BYTES), "/")
        os.chdir("/")
        self._names = {"print": lambda *words: self._said.append(" ".join(map(str, words)))}
        return {}

    def off(self, image):
        """Keep what is on the flash; of a dead one what was on it when the power went."""
        flash = self._flash
        self.images[image] = bytes(flash.data)
        assert flash.overwritten == 0
        flash.dead = False  # the file that is open is closed on what is left, and forgotten
        if "_al_file" in self._names:
            try:
                self._names["_al_file"].close()
            except OSError:
                pass
        vfs.umount("/")
        return {"operations": flash.operations}

    def run(self, code):
        self._said.clear()
        wrong = ""
        try:
            exec(code, self._names)
        except PowerCut:
            return {"dead": True}
        except Exception as error:
            wrong = "%s: %s" % (type(error).__name__, error)
        if self._flash.dead:  # littlefs made an OSError of it
            return {"dead": True}
        return {"out": "".join([line + "\n" for line in self._said]), "wrong": wrong}

    def save(self, values):
        vault = Vault(FlashFiles(os, open, ""))
        for kind, value in values:
            problem = vault.save(kind, value)
            assert problem == "", problem
        return {}

    def load(self):
        vault = Vault(FlashFiles(os, open, ""))
        found = {kind: vault.load(kind) for kind in KINDS}
        return {"values": [[kind, found[kind][0], found[kind][1]] for kind in KINDS],
                "names": os.listdir("/"), "operations": self._flash.operations}


def main():
    board = Board()
    for line in sys.stdin:
        words = json.loads(line)
        print(json.dumps(getattr(board, words.pop("do"))(**words)))


main()
