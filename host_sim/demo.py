"""`make demo`: the whole job: learn where the wing stalls, store it, fly with it, listen."""

import shutil
import sys
import time
from pathlib import Path

from host_sim.cli import main as alula

FOLDER = Path("out")
FLASH = FOLDER / "flash"
FLASH_VM = FOLDER / "flash-vm"  # as it was before the last flight, for the other interpreter
FLIGHTS = (
    ("first-flight", "a unit that has learned nothing: three guided stalls, flaps up"),
    ("capture-flap20", "the same with the first stage of flap"),
    ("ordinary", "switched on again: an ordinary circuit, and no warning"),
    ("tightened-turn", "a turn to final, tightened until the unit says: enough"),
)


def main() -> int:
    """Capture, store, restart, fly, listen; and the board's interpreter decides the same."""
    begun = time.monotonic()
    shutil.rmtree(FOLDER, ignore_errors=True)
    for name, text in FLIGHTS:
        shutil.rmtree(FLASH_VM, ignore_errors=True)
        if FLASH.exists():
            shutil.copytree(FLASH, FLASH_VM)
        print(f"\n== {text}\n   (alula fly {name} --flash {FLASH})")
        failed = alula(["fly", name, "--flash", str(FLASH), "--out", str(FOLDER / name)])
        if failed:
            return failed
    failed = _replayed()
    if failed:
        return failed
    print("\n== the sounds, from quiet to the stall and back (alula listen)")
    failed = alula(["listen", "--out", str(FOLDER / "sweep.wav")]) or _same_in_vm()
    if not failed:
        print(f"\nDone in {time.monotonic() - begun:.0f} s. Look at {FOLDER}/tightened-turn/"
              f"picture.png and listen to sound.wav beside it, and to {FOLDER}/sweep.wav.")
    return failed


def _replayed() -> int:
    """The last flight from the unit's own log; 1 if any decision differs from the flight's."""
    log = max(FLASH.glob("*.log"))
    print(f"\n== what you replay is what you heard\n   (alula replay {log})")
    return alula(["replay", str(log), "--no-picture"])


def _same_in_vm() -> int:
    """The last flight again inside the MicroPython VM; 1 if any decision differs."""
    name = FLIGHTS[-1][0]
    folder = FOLDER / f"{name}-vm"
    print("\n== the same firmware in the MicroPython VM\n"
          f"   (alula fly {name} --flash {FLASH_VM} --runtime micropython)")
    failed = alula(["fly", name, "--flash", str(FLASH_VM), "--runtime", "micropython",
                    "--out", str(folder)])
    if failed:
        return failed
    ours, theirs = ((part / "trace.csv").read_bytes() for part in (FOLDER / name, folder))
    same = ours == theirs
    print("traces of both interpreters: " + ("the same, byte for byte" if same else "DIFFERENT"))
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main())
