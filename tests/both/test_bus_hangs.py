"""Cases E1, H4: calls on a bus that never return, a bus that is dead for good, and a sick
accelerometer on the pitot's bus."""

from alula import figures
from alula.health import WORDS
from alula.states import CALM, QUIET
from assembly import WATCHDOG_MS
from drivers.heartbeat import LIMIT_MS, PERIOD_MS
from host_sim.bench.fake_i2c import ETIMEDOUT, FakeDevice, FakeI2C
from host_sim.bench.locked_heap import run_with_locked_heap
from tests.both.bus_rig import BANDS, SIDES, Random, flying, replace
from tests.both.start_rig import Start, gaps, stored

FAULT_HZ = figures.FIGURES[figures.CANNOT_KNOW][0]


def never(unit: Start, most_ms: int = 60000):
    """An answer that takes so long that the board would have been started anew meanwhile."""
    def answer(_: int, buffer: bytearray) -> None:
        unit.board.clock.advance_ms(most_ms)
    return answer


def test_e1_a_call_that_never_returns_is_the_fault_sound_and_then_the_watchdogs():
    """In every sound; on either bus."""
    for side in SIDES:
        for lift_pm, state, _ in BANDS:
            unit = flying(lift_pm)
            assert unit.loop.unit.state == state
            clock, pwm = unit.board.clock, unit.board.pwm
            begun_ms, before = clock.elapsed_ms(), pwm.count
            replace(unit, side, never(unit))
            feeds = unit.board.watchdog.feeds
            try:
                unit.fly(1, lift_pm)
            except IndexError:
                pass
            events = [(at_us // 1000 - begun_ms, hz) for at_us, hz, duty
                      in pwm.events()[-(pwm.count - before):] if duty]
            first_ms = [at_ms for at_ms, hz in events if hz == FAULT_HZ][0]
            assert first_ms <= LIMIT_MS + PERIOD_MS + 10, (side, lift_pm)
            silences = [events[i][0] - events[i - 1][0] for i in range(1, len(events))]
            assert max(silences) <= 2000 + PERIOD_MS  # a figure begins every two seconds
            assert unit.board.watchdog.bites >= 1 and unit.board.watchdog.feeds == feeds + 1
            assert unit.board.watchdog.longest_ms > WATCHDOG_MS


def test_e1_a_call_that_never_returns_at_the_start_is_guarded_as_well():
    """The first read of the accelerometer is made while the unit is being built."""
    vault, _ = stored("lis3dh")
    unit = Start(vault, "watchdog", "lis3dh")
    heard = []

    class Hangs(FakeDevice):
        """The accelerometer: nothing comes back within ten seconds."""

        def read_registers(self, register: int, buffer: bytearray) -> None:
            unit.board.clock.advance_ms(10000)
            heard.append((unit.board.watchdog is not None, unit.board.pwm.count))

        def write_registers(self, register: int, buffer: bytearray) -> None:
            """Never asked: nobody answered as the right chip."""

    silent = unit.board.pwm.count
    unit.board.pitot_i2c.attach(unit.board.accel_address, Hangs())
    unit.prepare()
    guarded, count = heard[0]
    assert guarded, "the watchdog must run before the first call on a bus"
    assert count > silent + 1, "and the sound's heartbeat too"


class SickChip(FakeDevice):
    """An accelerometer that answers every call with what `answer` makes of the truth."""

    def __init__(self, inner, answer) -> None:
        self._inner = inner
        self._answer = answer

    def refresh(self, x_mg: int, y_mg: int, z_mg: int) -> None:
        self._inner.refresh(x_mg, y_mg, z_mg)

    def read_registers(self, register: int, buffer: bytearray) -> None:
        self._inner.read_registers(register, buffer)
        self._answer(buffer)

    def write_registers(self, register: int, buffer: bytearray) -> None:
        self._inner.write_registers(register, buffer)


def sick(unit: Start, answer) -> None:
    unit.board.accel_chip = SickChip(unit.board.accel_chip, answer)
    unit.board.pitot_i2c.devices[unit.board.accel_address] = unit.board.accel_chip


def refuse(_: bytearray) -> None:
    raise OSError(5)


def all_ones(buffer: bytearray) -> None:
    for i in range(len(buffer)):
        buffer[i] = 255


def nothing_ready(buffer: bytearray) -> None:
    buffer[0] = 0


def test_a_sick_accelerometer_does_not_blame_the_pressures():
    """It refuses, sends ones, has never anything new, is slow, is gone; in every sound, a minute.
    The pressures go on, and what is heard of them does not change."""
    numbers = Random(3)

    def now_and_then(buffer: bytearray) -> None:
        if numbers.below(3) == 0:
            raise OSError(5)

    for answer in (refuse, nothing_ready, now_and_then, None):
        for lift_pm, state, silence in BANDS:
            unit = flying(lift_pm, "lis3dh")
            if answer is None:
                unit.board.pitot_i2c.detach(unit.board.accel_address)
            else:
                sick(unit, answer)
            rows = unit.fly(3000, lift_pm)
            assert {found for found, _ in rows} - {CALM} == {state}, (answer, lift_pm)
            assert silence is None or max(gaps(rows)) <= silence
            core = unit.loop.unit
            assert core.pitot.age_ms <= 10 and core.angled.age_ms <= 10
            assert not unit.board.watchdog.check() and unit.loop.missed == 0
            assert unit.board.pitot_bus.recoveries == 0  # nothing to clock free


def test_an_accelerometer_comes_back_by_itself():
    unit = flying(300, "lis3dh")
    chip = unit.board.accel_chip
    unit.board.pitot_i2c.detach(unit.board.accel_address)
    unit.fly(500, 300)
    chip.reset()
    unit.board.pitot_i2c.attach(unit.board.accel_address, chip)
    unit.fly(110, 300)
    assert unit.loop._accelerometer.status == 0 and unit.loop.unit.state == QUIET


class DeadBus(FakeI2C):
    """Held for ever; its error is made once, as a port that does not allocate would have it."""

    ERROR = OSError(ETIMEDOUT)

    def readfrom_into(self, address: int, buffer: bytearray) -> None:
        raise self.ERROR


def test_e1_a_dead_bus_costs_no_heap_of_ours():
    """What the board's I2C puts on the heap for an exception is not ours, and is why a silent
    sensor is asked at every tenth turn only; freeing a bus, once a second, is allowed some."""
    for sides in (SIDES[:1], SIDES[1:], SIDES):
        unit = flying(1000)
        for side in sides:
            reader = unit.loop._pitot if side == "pitot" else unit.loop._angled
            reader._i2c = DeadBus()
        run_with_locked_heap(unit.loop.run_once, 95)  # up to where the bus is freed
        assert WORDS[unit.loop.unit.health].endswith("-no-reply")
