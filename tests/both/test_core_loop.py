"""The loop on a bench board with the real drivers: deadlines, bus faults, its own end."""

import main
from alula.states import FAULT, QUIET, STALLING, UNCALIBRATED
from assembly import make_loop, make_unit
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from loop import STOPPED_HZ, BusReviver
from tests.both.core_rig import POINTS, record
from tests.both.vault_rig import vault_with

MIDDLE = 8192  # zero of a differential sensor, and a quarter of its output is 0.25 of its range


def sensor_record(**changes) -> dict:
    """Two sensors of +-2500 Pa over 80 % of the output."""
    found = {"pitot_output": "hsc-a", "angled_output": "hsc-a", "pitot_low_dpa": -25000,
             "pitot_high_dpa": 25000, "angled_low_dpa": -25000, "angled_high_dpa": 25000}
    found.update(changes)
    return record(**found)


def code(dpa: int) -> int:
    """The sensor's word for a pressure: 10 % to 90 % of 2^14 over the range (data sheet)."""
    return (1638 * 50000 + (dpa + 25000) * 13108 + 25000) // 50000


class Bench:
    """A board, a unit and its loop; the sensors convert before every tick."""

    def __init__(self, calibrated: bool = True, clock=None, **changes) -> None:
        self.board = BenchBoard(clock if clock is not None else VirtualClock(), None)
        self.lift_pm = 300
        points = {"plumbing": "port-static", "points": [list(pair) for pair in POINTS]}
        self.unit, settings, remarks = make_unit(
            sensor_record(**changes), points if calibrated else None,
            {"pitot_dpa": 0, "angled_dpa": 0})
        self.loop = make_loop(self.board, self.unit, settings)

    def fly(self, lift_pm: int, ticks: int, q_dpa: int = 6000) -> list:
        """(state, tone heard) of each tick; lift moves by at most 1 % of the greatest a tick."""
        rows = []
        for _ in range(ticks):
            step = lift_pm - self.lift_pm
            self.lift_pm += max(-10, min(10, step))
            self.board.pitot_sensor.refresh(code(q_dpa))
            self.board.angled_sensor.refresh(code((self.lift_pm - 200) * q_dpa // 1000))
            self.loop.run_once()
            pwm = self.board.pwm
            rows.append((self.unit.state, pwm.hz if pwm.duty else 0))
        return rows


def test_each_tick_reads_judges_sounds_and_feeds():
    bench = Bench()
    rows = bench.fly(300, 300)
    assert rows[-1] == (QUIET, 0) and bench.board.watchdog.feeds == 300
    rows = bench.fly(1000, 300)
    assert rows[-1][0] == STALLING and {hz for _, hz in rows[-100:]} == {1000, 1400}
    assert bench.board.lamp_pin.value() == 1
    assert bench.loop.missed == 0 and not bench.board.watchdog.check()
    assert bench.board.clock.elapsed_ms() == 599 * 10


def test_e4_missed_deadlines_are_counted_and_not_run_after_in_a_hurry():
    bench = Bench(clock=VirtualClock(0, [[1000, 45]]))
    bench.fly(300, 101)
    assert bench.loop.missed == 4
    before_ms = bench.board.clock.elapsed_ms()
    bench.fly(300, 10)
    assert bench.board.clock.elapsed_ms() - before_ms == 100


def test_e6_deadlines_pass_the_wrap():
    bench = Bench(clock=VirtualClock((1 << 30) - 1000))
    bench.fly(300, 300)
    assert bench.loop.missed == 0 and bench.board.clock.elapsed_ms() == 2990
    assert bench.unit.disorders == 0


def test_e1_a_held_bus_is_said_in_time_and_comes_back_by_itself():
    bench = Bench()
    bench.fly(300, 300)
    bench.board.pitot_i2c.lines.hold_for_ever()
    begun_ms = bench.board.clock.elapsed_ms()
    while bench.unit.state == QUIET:
        bench.fly(300, 1)
    assert bench.board.clock.elapsed_ms() - begun_ms <= 500 + 20  # stated: fault_after_ms
    rows = bench.fly(300, 300)
    assert {state for state, _ in rows} == {FAULT} and any(hz for _, hz in rows)
    assert bench.board.pitot_bus.recoveries >= 2 and bench.board.angled_bus.recoveries == 0
    bench.board.pitot_i2c.lines.release()
    bench.fly(300, 100)
    assert bench.unit.state == QUIET


def test_e1_a_device_in_mid_read_is_clocked_free():
    bench = Bench()
    bench.fly(300, 300)
    bench.board.angled_i2c.lines.hold("0" * 6)
    bench.fly(300, 400)
    assert bench.unit.state == QUIET and bench.board.angled_bus.recoveries >= 1


def test_h4_an_exception_leaves_a_steady_note_and_an_unfed_watchdog():
    bench = Bench()
    bench.fly(1000, 300)

    def broken() -> None:
        raise ValueError("a planted bug")

    bench.loop._pitot.read = broken
    feeds = bench.board.watchdog.feeds
    raised = False
    try:
        bench.loop.run()
    except ValueError:
        raised = True
    assert raised
    assert bench.board.pwm.hz == STOPPED_HZ and bench.board.pwm.duty > 0
    assert bench.board.watchdog.feeds == feeds
    bench.board.clock.advance_ms(2001)
    assert bench.board.watchdog.check()  # the board starts anew


def test_a_reviver_asks_once_a_second_and_only_for_silence():
    class Bus:
        def __init__(self):
            self.asked = 0

        def recover(self):
            self.asked += 1

    bus = Bus()
    reviver = BusReviver(bus, 10)
    for _ in range(1000):
        reviver.step(1)
        reviver.step(0)
    assert bus.asked == 0
    for _ in range(1000):
        reviver.step(2)
    assert bus.asked == 10
    for _ in range(50):
        for _ in range(99):
            reviver.step(2)
        reviver.step(3)
    assert bus.asked == 10


def test_an_uncalibrated_board_says_so():
    bench = Bench(calibrated=False)
    rows = bench.fly(300, 600)
    assert rows[-1][0] == UNCALIBRATED and any(hz for _, hz in rows[100:])


def test_start_with_an_empty_vault_says_the_settings_are_missing():
    class Ended(Exception):
        """An error in the loop: it ends `start` by a restart."""

    board = BenchBoard(VirtualClock(), None)
    real_wait = board.clock.wait_until_ms

    def wait(deadline_ms: int) -> int:
        if board.clock.elapsed_ms() > 5000:
            raise Ended()
        return real_wait(deadline_ms)

    board.clock.wait_until_ms = wait
    main.start(board, vault_with()[0])
    assert board.restarts == 1
    assert board.watchdog.feeds > 400
    heard = {hz for _, hz, duty in board.pwm.events() if duty}
    assert {900, 600} <= heard  # the falling figure
