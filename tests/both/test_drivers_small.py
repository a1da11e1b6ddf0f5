"""Lamp, button, watchdog and clock."""

from drivers.button import Button
from drivers.clock import WAIT_MOST_MS, Clock
from drivers.lamp import Lamp
from drivers.watchdog import Watchdog
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.fake_pins import FakePin, ScriptedContact
from host_sim.bench.locked_heap import run_with_locked_heap
from host_sim.bench.virtual_clock import VirtualClock


class FakeTime:
    """MicroPython's `time` on a 32-bit board: its ticks wrap at 2^30 (documented)."""

    def __init__(self, start_ms: int) -> None:
        self.clock = VirtualClock(start_ms)
        self.longest_sleep_ms = 0
        self.oversleep_ms = 0

    def ticks_ms(self) -> int:
        return self.clock.now_ms()

    def ticks_diff(self, end: int, start: int) -> int:
        return self.clock.since_ms(end, start)

    def ticks_add(self, ticks: int, delta: int) -> int:
        return self.clock.add_ms(ticks, delta)

    def sleep_ms(self, duration_ms: int) -> None:
        self.longest_sleep_ms = max(self.longest_sleep_ms, duration_ms)
        self.clock.advance_ms(duration_ms + self.oversleep_ms)

    def sleep_us(self, duration_us: int) -> None:
        self.clock.advance_us(duration_us)


def test_lamp_is_dark_first_and_touched_only_at_a_change():
    pin = FakePin(1)
    lamp = Lamp(pin)
    assert pin.value() == 0 and pin.writes == 1
    for on in (False, True, True, 1, 0, False, True):
        lamp.show(on)
        assert pin.value() == (1 if on else 0)
    assert pin.writes == 4


def test_button_is_active_low():
    pin = FakePin(1)
    button = Button(pin)
    assert button.pressed() == 0
    pin.value(0)
    assert button.pressed() == 1


def test_button_follows_a_script():
    clock = VirtualClock()
    button = Button(ScriptedContact(clock, [[100, 300]], bounce_ms=5))
    levels = []
    for _ in range(400):
        levels.append(button.pressed())
        clock.advance_ms(1)
    assert sum(levels[:100]) == 0 and sum(levels[105:300]) == 195 and sum(levels[305:]) == 0
    assert 0 < sum(levels[100:105]) < 5  # it bounces


def test_watchdog_sleeps_until_started():
    board = BenchBoard()
    watchdog = Watchdog(board.make_watchdog, 2000)
    watchdog.feed()
    assert board.watchdog is None and not watchdog.running
    assert watchdog.start() and watchdog.running
    made = board.watchdog
    assert watchdog.start() and board.watchdog is made  # a second start makes no second one
    board.clock.advance_ms(1999)
    watchdog.feed()
    board.clock.advance_ms(2000)
    assert not made.check()
    board.clock.advance_ms(1)
    assert made.check() and made.feeds == 1


def test_a_board_without_watchdog_says_so_and_goes_on():
    watchdog = Watchdog(None, 2000)
    assert not watchdog.start()
    watchdog.feed()


def test_a_watchdog_that_refuses_its_timeout_says_so():
    def refuses(timeout_ms: int) -> None:
        raise ValueError("timeout exceeds 8388")

    watchdog = Watchdog(refuses, 99999)
    assert not watchdog.start() and not watchdog.running
    watchdog.feed()


def test_clock_waits_to_the_deadline_across_the_wrap():
    # MicroPython documentation: ticks wrap; 2^30 ms on 32-bit boards
    time = FakeTime((1 << 30) - 25)
    clock = Clock(time)
    deadline_ms = clock.now_ms()
    for tick in range(1, 11):
        deadline_ms = clock.add_ms(deadline_ms, 10)
        assert clock.wait_until_ms(deadline_ms) == 0
        assert clock.now_ms() == deadline_ms
        assert time.clock.elapsed_ms() == 10 * tick
    assert clock.now_ms() == 75
    assert clock.since_ms(75, (1 << 30) - 25) == 100
    assert clock.since_ms((1 << 30) - 25, 75) == -100


def test_clock_reports_lateness_and_does_not_sleep_then():
    time = FakeTime(5)
    clock = Clock(time)
    deadline_ms = clock.add_ms(clock.now_ms(), 10)
    time.clock.advance_ms(47)
    assert clock.wait_until_ms(deadline_ms) == 37
    assert time.longest_sleep_ms == 0
    time.oversleep_ms = 3
    assert clock.wait_until_ms(clock.add_ms(clock.now_ms(), 10)) == 3


def test_clock_never_sleeps_long_whatever_the_deadline():
    time = FakeTime(0)
    clock = Clock(time)
    assert clock.wait_until_ms(1 << 28) == 0
    assert time.longest_sleep_ms == WAIT_MOST_MS


def test_clock_of_the_board_and_of_the_bench_agree():
    for start_ms in (0, 12345, (1 << 30) - 7):
        real = Clock(FakeTime(start_ms))
        bench = VirtualClock(start_ms)
        for delta_ms in (0, 1, 7, 10, 1000, -3):
            assert real.add_ms(real.now_ms(), delta_ms) == bench.add_ms(bench.now_ms(), delta_ms)
            deadline_ms = bench.add_ms(bench.now_ms(), delta_ms)
            assert real.wait_until_ms(deadline_ms) == bench.wait_until_ms(deadline_ms)
            assert real.now_ms() == bench.now_ms()


def test_no_allocation():
    board = BenchBoard()
    lamp = Lamp(board.lamp_pin)
    button = Button(board.button_pin)
    watchdog = Watchdog(board.make_watchdog, 2000)
    watchdog.start()
    clock = Clock(FakeTime((1 << 30) - 500))

    def step() -> None:
        lamp.show(1 - button.pressed())
        lamp.show(0)
        watchdog.feed()
        clock.wait_until_ms(clock.add_ms(clock.now_ms(), 10))

    run_with_locked_heap(step)
    assert board.watchdog is not None and board.watchdog.feeds == 1000


def test_the_locked_heap_does_catch_an_allocation():
    import micropython

    if not hasattr(micropython, "heap_lock"):
        return
    try:
        run_with_locked_heap(lambda: bytearray(100), 1)
    except MemoryError:
        return
    raise AssertionError("an allocation went unnoticed")
