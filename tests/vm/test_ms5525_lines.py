"""The test under a locked heap of the 24-bit sensor passes every line that a tick may pass."""

from tests.both.test_pressure_ms5525 import test_no_allocation_in_any_state as in_any_state
from tests.vm.test_no_allocation import Tracer


def test_every_line_of_the_driver_is_passed_under_the_locked_heap():
    tracer = Tracer()
    tracer.run(in_any_state)
    for room in ("drivers.pressure_ms5525", "drivers.ms5525_compensation"):
        count, missed = tracer.missed(room)
        assert count > 30 and not missed, (room, missed)
