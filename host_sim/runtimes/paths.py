"""Where the firmware lies, and how the desk imports it unchanged."""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FIRMWARE = ROOT / "firmware"
SHIM = Path(__file__).resolve().parent / "shim"


def use_firmware() -> None:
    """Put the firmware and the shim for `micropython` on the import path of CPython."""
    for path in (SHIM, FIRMWARE):
        if str(path) not in sys.path:
            sys.path.insert(0, str(path))
