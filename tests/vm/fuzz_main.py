"""Started inside the MicroPython VM: random words through units, the heap locked in every tick.

    micropython fuzz_main.py TICKS_A_RUN SEED [SEED ...]
"""

import sys

from alula.health import WORDS
from host_sim.bench.locked_heap import run_with_locked_heap
from tests.vm.fuzz_run import Run, planted
from tests.vm.fuzz_setups import SETUPS


def main(ticks: int, seeds) -> None:
    """Prints what was met, or stops with the run, the tick and the law that broke."""
    try:
        run_with_locked_heap(planted, 1)
    except MemoryError:
        print("planted allocation caught")
    total = checksum = 0
    states, healths = [0] * 8, [0] * len(WORDS)
    for seed in seeds:
        for i in range(len(SETUPS)):
            run = Run(i, seed)
            run.fly(ticks)
            total += run.ticks
            checksum = (checksum * 31 + run.checksum) & 0x3FFFFFFF
            for into, of in ((states, run.watch.states), (healths, run.watch.healths)):
                for k in range(len(of)):
                    into[k] += of[k]
    print("ticks", total)
    print("checksum", checksum)
    print("states", ",".join([str(n) for n in states]))
    print("healths", ",".join([str(n) for n in healths]))


main(int(sys.argv[1]), [int(word) for word in sys.argv[2:]])
