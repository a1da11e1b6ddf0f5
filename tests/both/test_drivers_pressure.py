"""The 14-bit pressure driver over a register-level fake, and over literal frames."""

from alula.sample import FRESH, NO_REPLY, SENSOR_FAULT, STALE
from drivers.pressure_14bit import Pressure14Bit
from host_sim.bench.fake_i2c import FakeI2C, FakePressure14
from host_sim.bench.locked_heap import run_with_locked_heap

ADDRESS = 0x28
PA_PER_PSI = 6894.757


class LiteralFrames:
    """A bus on which the sensor sends exactly these bytes."""

    def __init__(self, frame: bytes) -> None:
        self.frame = frame

    def readfrom_into(self, address: int, buffer: bytearray) -> None:
        assert address == ADDRESS
        for i in range(len(buffer)):
            buffer[i] = self.frame[i]


def fitted() -> tuple:
    i2c = FakeI2C()
    chip = FakePressure14()
    i2c.attach(ADDRESS, chip)
    return i2c, chip, Pressure14Bit(i2c, ADDRESS)


def read_literal(frame: bytes) -> Pressure14Bit:
    sensor = Pressure14Bit(LiteralFrames(frame), ADDRESS)
    sensor.read()
    return sensor


def test_a_te_frame_gives_the_pressure_and_temperature_of_the_data_sheet():
    # MS4525DO, +-1 psi, output type A: 9000 counts are 850.64 Pa; temperature word 767 is 24.94 C
    # (formulas: data sheet as cited by the drivers of two open autopilots; 9000 = 0x2328)
    sensor = read_literal(b"\x23\x28\x5f\xe0")
    assert sensor.status == FRESH
    psi = (sensor.word - 0.1 * 16383) * 2 / (0.8 * 16383) - 1
    assert abs(psi * PA_PER_PSI - 850.64) < 0.05
    assert abs(sensor.temperature_word * 200 / 2047 - 50 - 24.94) < 0.005


def test_a_honeywell_frame_gives_the_forum_s_pressure():
    # HSC 0..50 psi, output type A: 183 counts are -5.5505 psi (worked example of a user forum,
    # limits 1638 and 14745; 183 = 0x00b7)
    sensor = read_literal(b"\x00\xb7\x00\x00")
    psi = (sensor.word - 1638) * 50 / (14745 - 1638)
    assert abs(psi + 5.5505) < 0.0001


def test_undefined_low_bits_of_the_last_byte_are_not_temperature():
    # MS4525DO data sheet: the five low bits of the 11-bit temperature reading are undefined
    assert read_literal(b"\x23\x28\x5f\xff").temperature_word == 767


def test_status_bits_are_never_pressure():
    # two top bits: 00 new, 01 command mode, 10 stale, 11 diagnostic (Honeywell's data sheet as the
    # Linux driver cites it; TE's has 00 and 10 alike)
    assert read_literal(b"\x3f\xff\xff\xe0").status == FRESH
    assert read_literal(b"\x7f\xff\xff\xe0").status == SENSOR_FAULT
    assert read_literal(b"\xbf\xff\xff\xe0").status == STALE
    assert read_literal(b"\xff\xff\xff\xe0").status == SENSOR_FAULT
    assert read_literal(b"\x3f\xff\xff\xe0").word == 16383
    assert read_literal(b"\x3f\xff\xff\xe0").temperature_word == 2047
    assert read_literal(b"\x00\x00\x00\x00").word == 0


def test_only_a_fresh_frame_moves_the_word():
    for first_byte in (0x40, 0x80, 0xC0):
        bus = LiteralFrames(b"\x23\x28\x5f\xe0")
        sensor = Pressure14Bit(bus, ADDRESS)
        sensor.read()
        bus.frame = bytes((first_byte | 0x11, 0x11, 0x11, 0x11))
        sensor.read()
        assert sensor.status != FRESH
        assert sensor.word == 9000
        assert sensor.temperature_word == 767


def test_stale_between_conversions_is_no_error():
    # twice the sensor's own rate: every second read is stale (field case: a driver that counted
    # these as faults stopped calibrations)
    _, chip, sensor = fitted()
    for i in range(200):
        chip.refresh(8000 + i)
        sensor.read()
        assert sensor.status == FRESH and sensor.word == 8000 + i
        sensor.read()
        assert sensor.status == STALE and sensor.word == 8000 + i
    assert sensor.errors == 0


def test_command_mode_at_power_up_then_good():
    _, chip, sensor = fitted()
    chip.status_override = 1
    for _ in range(100):
        sensor.read()
        assert sensor.status == SENSOR_FAULT
    assert sensor.errors == 100 and sensor.word == 0
    chip.status_override = None
    chip.refresh(8192)
    sensor.read()
    assert sensor.status == FRESH and sensor.word == 8192


def test_before_the_first_read_there_is_no_reply():
    _, _, sensor = fitted()
    assert sensor.status == NO_REPLY


def test_a_failed_read_keeps_the_word_and_does_not_look_fresh():
    i2c, chip, sensor = fitted()
    chip.refresh(5000)
    sensor.read()
    i2c.fail_next(1)
    chip.refresh(6000)
    sensor.read()
    assert sensor.status == NO_REPLY and sensor.word == 5000 and sensor.errors == 1
    sensor.read()
    assert sensor.status == FRESH and sensor.word == 6000


def test_a_missing_sensor_never_raises():
    sensor = Pressure14Bit(FakeI2C(), ADDRESS)
    for _ in range(300):
        sensor.read()
        assert sensor.status == NO_REPLY
    assert sensor.errors > 20


def test_a_dead_bus_is_asked_less_and_heard_again_within_ten_reads():
    i2c, chip, sensor = fitted()
    i2c.lines.hold_for_ever()
    for _ in range(20):
        sensor.read()
    assert i2c.calls == 20
    for _ in range(100):
        sensor.read()
        assert sensor.status == NO_REPLY
    assert i2c.calls == 30
    i2c.lines.release()
    chip.refresh(7000)
    for _ in range(10):
        sensor.read()
    assert sensor.word == 7000
    chip.refresh(7001)
    sensor.read()
    assert sensor.status == FRESH and sensor.word == 7001


def test_short_outages_are_not_followed_by_rest():
    i2c, chip, sensor = fitted()
    for i in range(50):
        i2c.fail_next(19)
        for _ in range(19):
            sensor.read()
        chip.refresh(i)
        sensor.read()
        assert sensor.status == FRESH and sensor.word == i


def test_the_error_count_stops_at_its_end():
    from drivers.retry import COUNT_MOST, count_up

    assert count_up(COUNT_MOST - 1) == COUNT_MOST
    assert count_up(COUNT_MOST) == COUNT_MOST
    assert COUNT_MOST < 1 << 30  # small integer of a 32-bit board


def test_no_allocation_fresh_stale_or_faulty():
    _, chip, sensor = fitted()

    def step() -> None:
        chip.refresh(9000)
        sensor.read()
        sensor.read()
        chip.status_override = 3
        sensor.read()
        chip.status_override = None

    run_with_locked_heap(step)
    assert sensor.word == 9000 and sensor.errors == 1000


def test_no_allocation_when_the_bus_fails():
    i2c, chip, sensor = fitted()

    def step() -> None:
        i2c.fail_next(1)
        sensor.read()
        chip.refresh(4321)
        sensor.read()

    run_with_locked_heap(step)
    assert sensor.errors == 1000 and sensor.status == FRESH and sensor.word == 4321
    i2c.lines.hold_for_ever()
    run_with_locked_heap(sensor.read)
    assert sensor.status == NO_REPLY
