"""Started inside the MicroPython VM: every flight of `every_branch` under a locked heap."""

from host_sim.bench.locked_heap import run_with_locked_heap
from tests.vm.every_branch import UNITS, Seen, UnitFlight, loop_flights


def planted() -> None:
    """Proof that the lock works: this must raise."""
    try:
        run_with_locked_heap(lambda: [1, 2, 3], 1)
    except MemoryError:
        print("planted allocation caught")


def main() -> None:
    """Prints the ticks flown, or the traceback of the allocation."""
    planted()
    seen = Seen()
    for unit, script in UNITS:
        flight = UnitFlight(unit, script, seen)
        run_with_locked_heap(flight.step, flight.total)
    print("unit", seen.ticks)
    seen = Seen()
    swallowed = 0
    for flight in loop_flights(seen):
        run_with_locked_heap(flight.step, flight.total)
        # the tone driver catches whatever its hardware raises, and would catch a MemoryError too
        swallowed += flight.loop._tone.errors
    print("loop", seen.ticks)
    print("swallowed", swallowed)


main()
