"""A board, on and flashed as a test asks; time limits of the desk shortened, never lengthened."""

import json
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from alula.record_payloads import SETTINGS
from alula.vault import Vault
from drivers.flash_files import FlashFiles
from host_sim import cli, compile_mpy
from host_sim.bench.fake_flash import FakeFlash
from host_sim.board import boards, flash, image, ports, session
from tests.board.rig import HERE, VmBoard

SETTINGS_RECORD = {
    "plumbing": "port-static", "pitot_output": "ms4525-a", "pitot_low_dpa": -10000,
    "pitot_high_dpa": 10000, "angled_output": "ms4525-a", "angled_low_dpa": -10000,
    "angled_high_dpa": 10000}
SMALL = HERE / "small_unit"
PARTS = ("starter.py", "parts/ear.py", "parts/voice.py", "parts/tail.py")


@pytest.fixture(autouse=True)
def in_a_hurry(monkeypatch):
    """The board of the tests restarts in a tenth of a second, and lives on no USB."""
    monkeypatch.setattr(session, "LEAVE_S", 1.0)
    monkeypatch.setattr(session, "AGAIN_S", 0.1)
    monkeypatch.setattr(ports, "usb_ports", lambda: [])


@dataclass(frozen=True)
class Done:
    """How a command ended."""

    code: int
    out: str
    err: str

    def json(self):
        assert self.code == 0, self.err
        return json.loads(self.out)


@pytest.fixture
def alula(capsys):
    """Runs `alula board WORDS`, in this process; its error must be one line."""
    def run(*words: object) -> Done:
        capsys.readouterr()
        code = cli.main(["board", *map(str, words)])
        told = capsys.readouterr()
        if code in (1, 2):
            assert len(told.err.splitlines()) == 1, told.err
            assert told.err.startswith("alula: ")
        return Done(code, told.out, told.err)
    return run


@pytest.fixture
def vm_board(tmp_path):
    """Makes boards; switches them off at the end."""
    made = []

    def make(**more) -> VmBoard:
        made.append(VmBoard(tmp_path, **more))
        return made[-1]
    yield make
    for board in made:
        board.power_off()


@pytest.fixture
def small(tmp_path, monkeypatch):
    """The small unit in place of the firmware; `small.version("2")` makes it another."""
    folder = tmp_path / "small"
    shutil.copytree(SMALL, folder)
    for module in (image, flash, boards, compile_mpy):
        monkeypatch.setattr(module, "FIRMWARE", folder)
    return Small(folder)


@dataclass(frozen=True)
class Small:
    """The source of the small unit."""

    folder: Path

    def version(self, word: str, parts: tuple[str, ...] = PARTS) -> None:
        """Let every part say a word."""
        for name in parts:
            path = self.folder / name
            text = path.read_text()
            path.write_text(text[:text.index(' = "')] + f' = "{word}"\n')


@pytest.fixture(scope="session")
def firmware_image() -> image.Image:
    """The firmware compiled for the VM, once."""
    return image.build_image("rpi_pico", boards.Machine(
        "1.29.0", "the VM", 6, 3, "x64", "rp2"))


@pytest.fixture(scope="session")
def firmware_files(firmware_image) -> dict[str, bytes]:
    """The firmware as `flash` lays it down."""
    found = firmware_image
    return {"/main.py": found.main,
            **{f"{found.folder}/{name}": data for name, data in found.files.items()}}


@pytest.fixture
def unit(vm_board, firmware_files):
    """A board with the firmware itself and settings on it, switched on; more: its records."""
    def make(name: str = "board", **more) -> VmBoard:
        board = vm_board(name=name)
        board.put({**firmware_files, **records({SETTINGS: SETTINGS_RECORD, **more.get(
            "records", {})}), **more.get("files", {})})
        for word in ("sensors", "person", "hurry"):
            board.job[word] = more.get(word, board.job[word])
        board.power_on()
        return board
    return make


def records(values: dict) -> dict[str, bytes]:
    """Files as the firmware's vault writes them."""
    flash = FakeFlash()
    vault = Vault(FlashFiles(flash, flash.open, ""))
    for kind, value in values.items():
        assert vault.save(kind, value) == ""
    return dict(flash.files)
