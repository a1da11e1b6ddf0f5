"""Real littlefs in the MicroPython VM, the power cut inside every program and erase of a save.

After every cut the device must mount and the unit must find the old or the new record, whole.
The device and the ways to tear an operation are in power_cut_device.py.
"""

import subprocess
from pathlib import Path

import pytest

from host_sim.runtimes.run import find_vm, vm_environment
from tests.vm.power_cut_values import KINDS, VALUES

SCRIPT = Path(__file__).parent / "power_cut_main.py"


def in_vm(*words) -> subprocess.CompletedProcess:
    return subprocess.run([find_vm(), "-X", "heapsize=64m", SCRIPT, *map(str, words)],
                          env=vm_environment(), capture_output=True, text=True, check=False,
                          timeout=300)


@pytest.mark.parametrize("scenario", ["first", "later", "aged"])
@pytest.mark.parametrize("kind", KINDS)
def test_old_or_new_after_every_cut(kind, scenario):
    done = in_vm(kind, scenario)
    assert done.returncode == 0, done.stdout + done.stderr
    words = done.stdout.split()
    count = dict(zip(words[::2], map(int, words[1::2]), strict=True))
    # the run can only prove something if there were cuts, and some before and some after the
    # moment that counts
    assert count["cuts"] == count["old"] + count["new"] >= 30
    assert count["old"] > 0 and count["new"] > 0
    assert (count["twice"] > 100) == (scenario == "first")
    if scenario == "aged":
        assert count["longest"] > in_first(kind), "littlefs moved nothing: the flash is not old"


def in_first(kind: int) -> int:
    """Operations of the longest of the first saves of a kind."""
    words = in_vm(kind, "first").stdout.split()
    return int(words[words.index("longest") + 1])


def test_a_careless_store_is_caught():
    done = in_vm(2, "first", "careless")
    assert done.returncode != 0
    assert "FAILED at kind 2 mode" in done.stdout


@pytest.mark.parametrize("blocks, enough", [(8, True), (1, False)])
def test_the_reserve_is_enough_for_every_save_whatever_the_logs_do(blocks, enough):
    done = subprocess.run([find_vm(), "-X", "heapsize=64m",
                           SCRIPT.with_name("power_cut_reserve.py"), str(blocks)],
                          env=vm_environment(), capture_output=True, text=True, check=False,
                          timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    _, failed, _, reserve = done.stdout.split()
    assert int(reserve) == 8
    assert (int(failed) == 0) == enough


def test_there_is_a_value_for_every_kind():
    assert sorted(VALUES) == sorted(KINDS)
