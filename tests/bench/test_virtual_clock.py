"""The virtual clock keeps MicroPython's rules for ticks, and stalls when told to."""

import pytest

from host_sim.bench.fake_watchdog import FakeWatchdog
from host_sim.bench.virtual_clock import TICKS_PERIOD, VirtualClock


def test_the_counter_wraps_at_2_to_30():
    # MicroPython documentation of `time.ticks_ms`; 2^30 on 32-bit boards
    clock = VirtualClock(TICKS_PERIOD - 5)
    clock.advance_ms(10)
    assert clock.now_ms() == 5
    assert clock.elapsed_ms() == 10


@pytest.mark.parametrize("start_ms", [0, TICKS_PERIOD - 5000, TICKS_PERIOD - 1])
def test_difference_and_sum_are_each_other_s_inverse(start_ms):
    clock = VirtualClock(start_ms)
    for delta_ms in (0, 1, -1, 10_000, -10_000, TICKS_PERIOD // 2 - 1, -TICKS_PERIOD // 2):
        later_ms = clock.add_ms(start_ms, delta_ms)
        assert 0 <= later_ms < TICKS_PERIOD
        assert clock.since_ms(later_ms, start_ms) == delta_ms


def test_time_does_not_go_back():
    clock = VirtualClock()
    with pytest.raises(ValueError, match="back"):
        clock.advance_ms(-1)


def test_waiting_jumps_to_the_whole_millisecond():
    clock = VirtualClock(100)
    clock.advance_us(3400)  # part of the tick went into bus calls
    assert clock.wait_until_ms(110) == 0
    assert clock.elapsed_us() == 10_000


def test_waiting_for_the_past_tells_how_late_it_is():
    clock = VirtualClock(100)
    clock.advance_ms(50)
    assert clock.wait_until_ms(110) == 40
    assert clock.elapsed_ms() == 50


def test_stalls_come_once_and_make_the_loop_late():
    clock = VirtualClock(0, [[25, 45], [200, 400]])
    late_ms = []
    for tick in range(1, 101):
        late_ms.append(clock.wait_until_ms(tick * 10))
    assert late_ms[:3] == [0, 0, 45]
    assert max(late_ms) == 400
    assert clock.elapsed_ms() == 1000


def test_the_watchdog_bites_after_its_time_and_not_before():
    clock = VirtualClock()
    dog = FakeWatchdog(clock, 2000)
    for _ in range(5):
        clock.advance_ms(2000)
        dog.feed()
    assert dog.bites == 0 and dog.feeds == 5
    clock.advance_ms(2001)
    dog.feed()
    assert dog.bites == 1 and dog.longest_ms == 2001
