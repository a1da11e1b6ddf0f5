"""The vault on littlefs (PyPI littlefs-python) against a plain dict: saves, power cuts, restarts
and damaged files, in any order.

Hypothesis prints the steps that fail, each with its cut, and keeps them for the next run.
"""

from collections import Counter

import littlefs
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)
from littlefs import lfs
from littlefs.context import UserContext

from alula.record_codec import decode
from alula.record_payloads import NAMES
from alula.vault import KINDS, Vault
from drivers.flash_files import FlashFiles
from tests.vm.power_cut_device import BLOCK_BYTES, MODES, PROGRAM_BYTES, CutFlash, PowerCut
from tests.vm.power_cut_values import VALUES

BLOCKS = 12
EIO = -5
SEEN: Counter = Counter()


class DeadAfterCut(UserContext):
    """A `CutFlash` under littlefs-python, which takes error codes and no exceptions."""

    def __init__(self, flash: CutFlash) -> None:
        self.flash = flash

    def read(self, cfg, block: int, off: int, size: int) -> bytearray:
        at = block * BLOCK_BYTES + off
        return self.flash.data[at:at + size]

    def prog(self, cfg, block: int, off: int, data: bytes) -> int:
        return self._code(lambda: self.flash.writeblocks(block, data, off))

    def erase(self, cfg, block: int) -> int:
        return self._code(lambda: self.flash.ioctl(6, block))

    def sync(self, cfg) -> int:
        return EIO if self.flash.dead else 0

    @staticmethod
    def _code(operation) -> int:
        try:
            operation()
        except PowerCut:
            return EIO
        return 0


class DeskFile:
    """An open file, by littlefs's own calls: nothing between it and them buffers."""

    def __init__(self, files: "DeskFiles", path: str, mode: str) -> None:
        self._files = files
        self._handle = files.call(lfs.file_open, path, mode, "utf-8")

    def __enter__(self) -> "DeskFile":
        return self

    def __exit__(self, *_) -> None:
        self._files.call(lfs.file_close, self._handle)

    def read(self, most: int) -> bytes:
        return self._files.call(lfs.file_read, self._handle, most)

    def write(self, data: bytes) -> int:
        return self._files.call(lfs.file_write, self._handle, data)


class DeskFiles:
    """littlefs-python behind the calls of `FlashFiles`; cache sizes as MicroPython sets them.

    Once the power is gone every call raises PowerCut and none reaches littlefs, which would stop
    at an assertion of its own: nothing runs on a unit without power.
    """

    def __init__(self, flash: CutFlash) -> None:
        self._flash = flash
        self.system = littlefs.LittleFS(
            context=DeadAfterCut(flash), mount=False, block_size=BLOCK_BYTES, block_count=BLOCKS,
            read_size=32, prog_size=PROGRAM_BYTES, cache_size=4 * PROGRAM_BYTES,
            lookahead_size=32, block_cycles=100)

    def call(self, function, *words):
        if self._flash.dead:
            raise PowerCut
        try:
            return function(self.system.fs, *words)
        except littlefs.LittleFSError as error:
            if self._flash.dead:
                raise PowerCut from error
            raise OSError(-error.code) from error

    def open(self, path: str, mode: str) -> DeskFile:
        return DeskFile(self, path, mode)

    def rename(self, old: str, new: str) -> None:
        self.call(lfs.rename, old, new, "utf-8")

    def remove(self, path: str) -> None:
        self.call(lfs.remove, path, "utf-8")

    def listdir(self, path: str) -> list[str]:
        return list(self.system.listdir(path))


class VaultMachine(RuleBasedStateMachine):
    """The model: for each kind the newest value and the one before, None for none, and which of
    the two files are damaged."""

    def __init__(self) -> None:
        super().__init__()
        self.flash = CutFlash(bytearray(b"\xff" * BLOCK_BYTES * BLOCKS))
        self.model = {kind: [None, None] for kind in KINDS}
        self.harmed = {kind: [False, False] for kind in KINDS}
        self.edition = 0

    @initialize()
    def format(self) -> None:
        self.files = DeskFiles(self.flash)
        self.files.system.format()
        self.start()

    def start(self) -> None:
        """Mount, never format: what does not mount is lost."""
        self.files = DeskFiles(self.flash)
        self.files.system.mount()
        self.store = FlashFiles(self.files, self.files.open, "")
        self.vault = Vault(self.store)

    def next_value(self, kind: int):
        self.edition += 1
        return VALUES[kind](self.edition)

    def stored(self, kind: int, value) -> None:
        """A save went through: it took the file that did not hold the newest whole record."""
        newest, _ = self.model[kind]
        newest_harmed, before_harmed = self.harmed[kind]
        if newest is not None and newest_harmed and not before_harmed:
            self.model[kind][0] = self.model[kind][1]
            self.harmed[kind] = [False, False]
        elif newest_harmed and before_harmed:
            self.model[kind] = [value, None]
            self.harmed[kind] = [False, True]
            return
        self.model[kind] = [value, self.model[kind][0]]
        self.harmed[kind] = [False, self.harmed[kind][0]]

    def in_use(self, kind: int):
        for value, harmed in zip(self.model[kind], self.harmed[kind], strict=True):
            if value is not None and not harmed:
                return value
        return None

    @rule(kind=st.sampled_from(KINDS))
    def save(self, kind: int) -> None:
        value = self.next_value(kind)
        assert self.vault.save(kind, value) == ""
        self.stored(kind, value)
        SEEN["saves"] += 1

    @rule(kind=st.sampled_from(KINDS), cut_at=st.integers(1, 6), mode=st.sampled_from(MODES))
    def save_and_cut(self, kind: int, cut_at: int, mode: int) -> None:
        value, old = self.next_value(kind), self.in_use(kind)
        self.flash = CutFlash(self.flash.data, cut_at, mode)
        self.start()
        announced = False
        try:
            announced = self.vault.save(kind, value) == ""
            assert announced
        except PowerCut:
            pass
        cut = self.flash.dead
        assert cut or announced
        self.flash = CutFlash(self.flash.data)
        self.start()
        found, _ = self.vault.load(kind)
        assert found in (old, value), (kind, cut_at, mode, found)
        assert not announced or found == value, "announced, and not there"
        if found == value:
            self.stored(kind, value)
        SEEN["not cut" if not cut else "cut: new" if found == value else "cut: old"] += 1

    @rule()
    def restart(self) -> None:
        self.flash = CutFlash(self.flash.data)
        self.start()

    @rule(kind=st.sampled_from(KINDS), which=st.sampled_from([0, 1]), bit=st.integers(0, 10 ** 6))
    def damage(self, kind: int, which: int, bit: int) -> None:
        """One bit of one of the two files turns over."""
        value = self.model[kind][which]
        if value is None or self.harmed[kind][which]:
            return
        for ending in (".a", ".b"):
            name = NAMES[kind] + ending
            data, _ = self.store.read(name)
            if data is not None and self.holds(kind, data, value):
                changed = bytearray(data)
                changed[bit // 8 % len(data)] ^= 1 << bit % 8
                assert self.store.write_whole(name, bytes(changed)) == ""
                self.harmed[kind][which] = True
                SEEN["damaged"] += 1
                return
        raise AssertionError(f"no file holds {value}")

    @staticmethod
    def holds(kind: int, data: bytes, value) -> bool:
        return decode(kind, data)[2] == value

    @invariant()
    def every_kind_is_as_the_model_says(self) -> None:
        if not hasattr(self, "vault"):
            return
        for kind in KINDS:
            found, problem = self.vault.load(kind)
            assert found == self.in_use(kind), (kind, problem)
            assert (problem != "") == any(self.harmed[kind]), (kind, problem)
        assert self.flash.overwritten == 0


def test_whatever_happens_the_vault_holds_what_the_model_holds():
    SEEN.clear()
    run_state_machine_as_test(VaultMachine, settings=hypothesis_settings(
        max_examples=100, stateful_step_count=30, deadline=None))
    # it only proves something if there were cuts with both outcomes, and damage
    assert SEEN["saves"] > 50 and SEEN["damaged"] > 10
    assert SEEN["cut: old"] > 20 and SEEN["cut: new"] > 0 and SEEN["not cut"] > 0, SEEN
