"""The log on a real littlefs in the MicroPython VM: what a step costs, and what a cut leaves.

Cases F1 and F2. The device is power_cut_device.py.
"""

import subprocess
from pathlib import Path

from host_sim.runtimes.run import find_vm, vm_environment
from log_store import RESERVE_BYTES

SCRIPT = Path(__file__).with_name("log_on_littlefs_main.py")


def counted(word: str) -> dict[str, int]:
    """What the script counted in the VM."""
    done = subprocess.run([find_vm(), "-X", "heapsize=64m", SCRIPT, word], env=vm_environment(),
                          capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    words = done.stdout.split()
    return dict(zip(words[::2], map(int, words[1::2]), strict=True))


def test_f1_after_a_cut_at_any_operation_all_blocks_but_the_new_one_are_there():
    count = counted("cut")
    assert count["cuts"] == count["old"] + count["new"] > 150
    assert count["old"] > 0 and count["new"] > 0


def test_e4_no_step_erases_more_than_once_and_the_reserve_stays_free():
    """An erase stops the board for 45 ms (measured on an emulator of the chip); two of them in one
    step would be longer than gap_ms."""
    count = counted("count")
    assert count["most_erases"] == 1
    assert count["erases"] > 200  # two a block: littlefs copies the begun block at a file's end
    assert count["least_free"] >= RESERVE_BYTES
