"""What is to lie on a board: .mpy files in a folder of their own, and main.py, which names it.

The folder's name holds a hash of all of it. So new firmware is laid down beside the old one,
and the one small rename of main.py switches over: a board starts the old or the new, never a mix.
"""

import hashlib
import tempfile
from dataclasses import dataclass
from pathlib import Path

from host_sim.board.boards import KNOWN, Machine
from host_sim.compile_mpy import compile_file, firmware_files
from host_sim.errors import UsageError
from host_sim.runtimes.paths import FIRMWARE, use_firmware

use_firmware()

from boards.choice import OWN  # noqa: E402

MAIN = "/main.py"
FOLDER_START = "/firmware-"
_DIGITS = 12
_NATIVE_HEADER = 2  # byte 2 of a .mpy: architecture << 2 | sub-version


@dataclass(frozen=True)
class Image:
    """folder: where `files` (path in it: content) go. main: content of main.py."""

    folder: str
    files: dict[str, bytes]
    main: bytes

    def hashes(self) -> dict[str, str]:
        """SHA-256 by absolute path, main.py not among them."""
        return {f"{self.folder}/{name}": hashlib.sha256(data).hexdigest()
                for name, data in self.files.items()}

    def bytes_on_flash(self, block: int) -> int:
        """Room that it takes where every file begins a new block, and a folder takes two."""
        folders = {str(Path(name).parent) for name in self.files}
        blocks = sum(-(-len(data) // block) for data in self.files.values())
        return (blocks + 2 * len(folders)) * block


def build_image(board: str, machine: Machine) -> Image:
    """Compile the firmware for a board. UsageError where its MicroPython would not load it."""
    if not machine.arch:
        raise UsageError(f"{machine.text()}: no machine code can be compiled for it; install the "
                         "MicroPython for your board (hardware_notes/flashing.md)")
    with tempfile.TemporaryDirectory() as folder:
        files = {}
        for source in _sources(board):
            files[source.with_suffix(".mpy").as_posix()] = compile_file(
                source, machine.arch, Path(folder) / "one.mpy")
    _refuse_other_version(files, machine)
    text = (FIRMWARE / "main.py").read_bytes()
    digest = hashlib.sha256(text)
    for name, data in sorted(files.items()):
        digest.update(name.encode() + b"\0" + hashlib.sha256(data).digest())
    place = FOLDER_START + digest.hexdigest()[:_DIGITS]
    return Image(place, files, preamble(place) + text)


def preamble(folder: str) -> bytes:
    """The line before the firmware's own main.py: where its rooms are."""
    return f"import sys; sys.path.insert(0, {folder!r})\n".encode()


def folder_named(main: bytes) -> str:
    """The folder that a board's main.py names; "" where it is not of our making."""
    first = main.split(b"\n", 1)[0].decode("ascii", "replace")
    name = first.partition("(0, '")[2].partition("'")[0]
    return name if name and preamble(name) == first.encode() + b"\n" else ""


def _sources(board: str) -> list[Path]:
    """Every file of the firmware but main.py and the other boards; a builder's own board file may
    be made of any of them."""
    others = {f"boards/{name}.py" for name, _ in KNOWN if board not in (name, OWN)} | {"main.py"}
    return [name for name in firmware_files() if name.as_posix() not in others]


def _refuse_other_version(files: dict[str, bytes], machine: Machine) -> None:
    """The rules of MicroPython's manual: the version must match, of machine code also the
    sub-version."""
    for name, data in files.items():
        version, native, sub = data[1], data[_NATIVE_HEADER] >> 2, data[_NATIVE_HEADER] & 3
        if version != machine.mpy or native and sub != machine.sub:
            raise UsageError(
                f"the board reads .mpy {machine.mpy}.{machine.sub} (MicroPython "
                f"{machine.version}), and {name} compiles to {version}.{sub}: install MicroPython "
                "1.23 or newer on the board (hardware_notes/flashing.md; its files stay), or the "
                "mpy-cross that goes with it here")
