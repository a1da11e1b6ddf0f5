"""Which boards the firmware knows, and what a board's own MicroPython says of itself."""

from dataclasses import dataclass

from host_sim.board.repl import Repl
from host_sim.errors import UsageError
from host_sim.runtimes.paths import FIRMWARE

# name of the file in firmware/boards, a word in sys.implementation._machine
KNOWN = (("rpi_pico", "RP2040"), ("esp32", "ESP32"))
# Architecture in bits 10 to 13 of sys.implementation._mpy, by the table of MicroPython's manual,
# "MicroPython .mpy files".
ARCHITECTURES = ("", "x86", "x64", "armv6", "armv6m", "armv7m", "armv7em", "armv7emsp",
                 "armv7emdp", "xtensa", "xtensawin", "rv32imc", "rv64imc")
_ASK = "[list(sys.implementation[1])[:3], sys.implementation._machine, sys.implementation._mpy]"


@dataclass(frozen=True)
class Machine:
    """A board's MicroPython. version: "1.29.0". mpy, sub: version and sub-version of the .mpy
    files that it reads. arch: as mpy-cross names it; "" for none."""

    version: str
    machine: str
    mpy: int
    sub: int
    arch: str

    def text(self) -> str:
        """One line for people."""
        return f"MicroPython {self.version} on {self.machine}, .mpy {self.mpy}.{self.sub}"


def machine_of(repl: Repl) -> Machine:
    """Ask the board. UsageError where its MicroPython reads no .mpy files."""
    repl.run("import sys")
    try:
        version, machine, number = repl.ask(_ASK)
    except Exception as error:
        if "AttributeError" in str(error):
            raise UsageError(f"{repl.port.name}: this MicroPython reads no .mpy files; install "
                             "the one for your board (hardware_notes/flashing.md)") from error
        raise
    arch = number >> 10 & 0xF
    return Machine(".".join(map(str, version)), machine, number & 0xFF, number >> 8 & 3,
                   ARCHITECTURES[arch] if arch < len(ARCHITECTURES) else "")


def board_names() -> list[str]:
    """The boards that the firmware has a file for."""
    return [name for name, _ in KNOWN if (FIRMWARE / "boards" / f"{name}.py").is_file()]


def choose_board(machine: Machine, word: str | None) -> str:
    """The board's file: the one named, or the one for this machine; UsageError for neither."""
    names = board_names()
    if word is not None:
        if word not in names:
            raise UsageError(f"--board {word}: is not known; use " + ", ".join(names))
        return word
    for name, mark in KNOWN:
        if name in names and mark in machine.machine:
            return name
    raise UsageError(f"this board is no {' or '.join(names)}: it calls itself "
                     f"{machine.machine!r}; use another board or, if it is wired as one of them, "
                     "say so with --board")
