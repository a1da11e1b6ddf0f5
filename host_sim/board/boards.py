"""Which boards the firmware knows, and what a board's own MicroPython says of itself."""

from dataclasses import dataclass

from host_sim.board.repl import Repl
from host_sim.errors import UsageError
from host_sim.runtimes.paths import FIRMWARE, use_firmware

use_firmware()

from boards.choice import BOARDS, OWN  # noqa: E402

# name of the file in firmware/boards, a word in sys.implementation._machine
KNOWN = (("rpi_pico", "RP2040"), ("esp32", "ESP32"))
# Architecture in bits 10 to 13 of sys.implementation._mpy, by the table of MicroPython's manual,
# "MicroPython .mpy files".
ARCHITECTURES = ("", "x86", "x64", "armv6", "armv6m", "armv7m", "armv7em", "armv7emsp",
                 "armv7emdp", "xtensa", "xtensawin", "rv32imc", "rv64imc")
_ASK = ("[list(sys.implementation[1])[:3], sys.implementation._machine, sys.implementation._mpy, "
        "sys.platform]")


@dataclass(frozen=True)
class Machine:
    """A board's MicroPython. version: "1.29.0". mpy, sub: version and sub-version of the .mpy
    files that it reads. arch: as mpy-cross names it; "" for none. platform: its port, by which a
    unit takes its board file."""

    version: str
    machine: str
    mpy: int
    sub: int
    arch: str
    platform: str

    def text(self) -> str:
        """One line for people."""
        return f"MicroPython {self.version} on {self.machine}, .mpy {self.mpy}.{self.sub}"


def machine_of(repl: Repl) -> Machine:
    """Ask the board. UsageError where its MicroPython reads no .mpy files."""
    repl.run("import sys")
    try:
        version, machine, number, platform = repl.ask(_ASK)
    except Exception as error:
        if "AttributeError" in str(error):
            raise UsageError(f"{repl.port.name}: this MicroPython reads no .mpy files; install "
                             "the one for your board (hardware_notes/flashing.md)") from error
        raise
    arch = number >> 10 & 0xF
    return Machine(".".join(map(str, version)), machine, number & 0xFF, number >> 8 & 3,
                   ARCHITECTURES[arch] if arch < len(ARCHITECTURES) else "", platform)


def _is_there(name: str) -> bool:
    return (FIRMWARE / "boards" / f"{name}.py").is_file()


def board_names() -> list[str]:
    """The boards that the firmware has a file for."""
    return [name for name, _ in KNOWN if _is_there(name)]


def choose_board(machine: Machine, word: str | None) -> str:
    """The board's file: the builder's own, the one named, or the one for this machine. UsageError
    for none, and for one that the unit on this machine would not take (`boards.choice`)."""
    names, own = board_names(), _is_there(OWN)
    if word not in [None, *names, *([OWN] if own else [])]:
        raise UsageError(f"--board {word}: is not known; use " + ", ".join(names))
    if own:
        if word not in (None, OWN):
            raise UsageError(f"--board {word}: the unit would take firmware/boards/{OWN}.py, "
                             "which is there; leave --board out, or move that file away")
        return OWN
    name = word or next((name for name, mark in KNOWN if name in names
                         and mark in machine.machine), None)
    if name is None:
        raise UsageError(f"this board is no {' or '.join(names)}: it calls itself "
                         f"{machine.machine!r}; use another board or, if it is wired as one of "
                         "them, say so with --board")
    _refuse_not_taken(machine, name, names)
    return name


def _refuse_not_taken(machine: Machine, name: str, names: list[str]) -> None:
    """A unit looks its board file up by the port of its MicroPython, whatever was said here."""
    taken = BOARDS.get(machine.platform)
    if name == taken:
        return
    if taken in names:
        raise UsageError(f"--board {name}: is not for this board: its MicroPython is of the port "
                         f"{machine.platform!r}, and a unit there takes {taken}; nothing was "
                         f"written; use --board {taken}, or plug the other board in")
    raise UsageError(f"--board {name}: a unit would not start on this board: there is no board "
                     f"file for its port {machine.platform!r}; nothing was written; write "
                     f"firmware/boards/{OWN}.py (hardware_notes/add_a_board.md)")
