"""Bus recovery and the bus that makes its I2C anew."""

from alula.sample import FRESH, NO_REPLY
from drivers.bus_recovery import free_bus
from drivers.i2c_bus import I2CBus
from drivers.pressure_14bit import Pressure14Bit
from host_sim.bench.bench_board import PRESSURE_ADDRESS, BenchBoard
from host_sim.bench.fake_pins import OpenDrainLines
from host_sim.bench.virtual_clock import VirtualClock


def freed(lines: OpenDrainLines) -> bool:
    return free_bus(lines.scl, lines.sda, VirtualClock().sleep_us)


def test_a_free_bus_is_left_alone():
    lines = OpenDrainLines()
    assert freed(lines) and lines.clocks == 0 and lines.free()


def test_a_line_held_for_up_to_nine_clocks_is_freed():
    # NXP UM10204 rev. 6, 3.1.16: nine pulses, the device lets go sometime within them
    for clocks in range(1, 10):
        lines = OpenDrainLines()
        lines.hold("0" * clocks)
        assert freed(lines) and lines.free()
        assert lines.clocks == 10  # nine, and the one the STOP needs
        assert lines.stops == 1


def test_a_read_cut_off_anywhere_in_any_byte_is_freed():
    for byte in range(256):
        bits = ""
        for i in range(7, -1, -1):
            bits += str(byte >> i & 1)
        for at in range(8):
            lines = OpenDrainLines()
            lines.hold(bits[at:] + "a" + bits + "a" + bits + "a")
            assert freed(lines) and lines.free()
            if bits[at] == "0":
                assert lines.stops == 1  # it was told to stop, not only met at a one bit


def test_a_dead_short_is_reported_after_bounded_effort():
    lines = OpenDrainLines()
    lines.hold_for_ever()
    clock = VirtualClock()
    assert not free_bus(lines.scl, lines.sda, clock.sleep_us)
    assert lines.clocks <= 10 and clock.elapsed_us() <= 150
    lines.release()
    assert lines.free()  # both lines were let go


def test_a_clock_line_held_low_is_reported_at_once():
    lines = OpenDrainLines()
    lines.scl_shorted = True
    assert not freed(lines)
    assert lines.clocks == 0


def test_a_stuck_bus_is_no_reply_until_recovered():
    board = BenchBoard()
    sensor = Pressure14Bit(board.pitot_bus, PRESSURE_ADDRESS)
    sensor.read()
    assert sensor.status == FRESH
    board.pitot_i2c.lines.hold("000a")
    before_us = board.clock.elapsed_us()
    sensor.read()
    assert sensor.status == NO_REPLY
    assert board.clock.elapsed_us() - before_us <= 3000  # the time limit of a call
    assert board.pitot_bus.recover() and board.pitot_bus.recoveries == 1
    board.pitot_sensor.refresh(8200)
    sensor.read()
    assert sensor.status == FRESH and sensor.word == 8200


def test_a_shorted_bus_comes_back_when_released_without_power_cycle():
    # field case: data line to ground for 3 s in mid-run
    board = BenchBoard()
    pitot = Pressure14Bit(board.pitot_bus, PRESSURE_ADDRESS)
    angled = Pressure14Bit(board.angled_bus, PRESSURE_ADDRESS)
    board.pitot_i2c.lines.hold_for_ever()
    for i in range(300):
        board.clock.advance_ms(10)
        board.angled_sensor.refresh(i)
        pitot.read()
        angled.read()
        if i % 100 == 99:
            assert not board.pitot_bus.recover()
        assert pitot.status == NO_REPLY
        assert angled.status == FRESH  # the other bus does not notice
    board.pitot_i2c.lines.release()
    assert board.pitot_bus.recover()
    for _ in range(10):
        board.pitot_sensor.refresh(8300)
        pitot.read()
    assert pitot.status == FRESH and pitot.word == 8300


def test_recover_never_raises():
    class Broken:
        def __init__(self) -> None:
            self.made = 0

        def make_i2c(self) -> "Broken":
            self.made += 1
            if self.made > 1:
                raise ValueError("bad pin")
            return self

        def free(self) -> bool:
            return True

    broken = Broken()
    bus = I2CBus(broken.make_i2c, broken.free)
    assert not bus.recover()
    assert bus.recoveries == 1


def test_the_bus_passes_every_call_on():
    board = BenchBoard(accel="adxl345")
    one = bytearray(1)
    board.accel_bus.readfrom_mem_into(board.accel_address, 0x00, one)
    assert one[0] == 0xE5
    one[0] = 0x0B
    board.accel_bus.writeto_mem(board.accel_address, 0x31, one)
    assert board.accel_chip is not None and board.accel_chip.registers[0x31] == 0x0B
    assert board.accel_bus.scan() == [PRESSURE_ADDRESS, 0x53]
