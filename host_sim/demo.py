"""`make demo`: whole flights through the firmware, to see and to hear."""

import sys
import time
from pathlib import Path

from host_sim.cli import main as alula

FOLDER = Path("out")
FLIGHTS = (
    ("ordinary", "an ordinary circuit in light turbulence: no warning"),
    ("tightened-turn", "a turn to final, tightened until the unit says: enough"),
    ("stall-straight", "a straight stall at 1 kt/s: the whole range of sounds"),
)


def main() -> int:
    """Fly, listen, and show that the board's interpreter decides the same, bit for bit."""
    begun = time.monotonic()
    for name, text in FLIGHTS:
        print(f"\n== {text} (alula fly {name})")
        failed = alula(["fly", name, "--out", str(FOLDER / name)])
        if failed:
            return failed
    print("\n== the sounds, from quiet to the stall and back (alula listen)")
    failed = alula(["listen", "--out", str(FOLDER / "sweep.wav")]) or _same_in_vm()
    if not failed:
        print(f"\nDone in {time.monotonic() - begun:.0f} s. Open the pictures and sounds in "
              f"{FOLDER}/, e.g. {FOLDER}/tightened-turn/picture.png and sound.wav.")
    return failed


def _same_in_vm() -> int:
    """Fly one scenario again inside the MicroPython VM; 1 if any decision differs."""
    name = FLIGHTS[1][0]
    print(f"\n== the same firmware in the MicroPython VM (alula fly {name} --runtime micropython)")
    folder = FOLDER / f"{name}-vm"
    failed = alula(["fly", name, "--runtime", "micropython", "--out", str(folder), "--json"])
    if failed:
        return failed
    ours, theirs = ((FOLDER / part / "trace.csv").read_bytes() for part in (name, folder.name))
    print("traces of both interpreters: "
          + ("the same, byte for byte" if ours == theirs else "DIFFERENT"))
    return 0 if ours == theirs else 1


if __name__ == "__main__":
    sys.exit(main())
