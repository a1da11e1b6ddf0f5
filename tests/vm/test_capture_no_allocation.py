"""A whole capture, arm to READY, allocates nothing: under a locked heap in the real VM."""

import subprocess
from pathlib import Path

from host_sim.runtimes.run import find_vm, vm_environment

HERE = Path(__file__).parent


def test_a_capture_allocates_nothing_in_the_vm():
    done = subprocess.run([find_vm(), "-X", "heapsize=64m", HERE / "locked_heap_capture.py"],
                          env=vm_environment(), capture_output=True, text=True, check=False,
                          timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
    flights = [line.split()[1:] for line in done.stdout.splitlines() if line.startswith("flown")]
    assert len(flights) == 5 and all(int(ticks) > 8000 for ticks, _, _ in flights)
    met = [[int(digit) for digit in states] for _, states, _ in flights]
    # with n: idle, steady, slowing, recovering, judging, ready
    assert met[0][:6] == [1, 1, 1, 1, 1, 1] and met[3][:6] == [1, 1, 1, 1, 1, 1]
    # every flight was armed, slowed, recovered and was judged
    assert all(flown[:5] == [1, 1, 1, 1, 1] for flown in met)
    assert all(int(verdicts) >= 3 for _, _, verdicts in flights)
