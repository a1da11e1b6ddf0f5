"""The fakes behave as the parts they stand for."""

import pytest

from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.fake_accelerometer import FakeAdxl345, FakeLis3dh
from host_sim.bench.fake_i2c import EIO, ETIMEDOUT, FakeI2C, FakePressure14
from host_sim.bench.fake_pwm import RecordingPwm
from host_sim.bench.virtual_clock import VirtualClock


def read(device, length: int = 4, register: int | None = None) -> bytes:
    buffer = bytearray(length)
    if register is None:
        device.read(buffer)
    else:
        device.read_registers(register, buffer)
    return bytes(buffer)


def write(device, register: int, value: int) -> None:
    device.write_registers(register, bytearray([value]))


def test_pressure_frame_and_stale_mark():
    # frame layout: MS4525DO data sheet; 10 on top for data already fetched
    chip = FakePressure14()
    chip.refresh(9000)
    assert read(chip) == b"\x23\x28\x5f\xe0"
    assert read(chip) == b"\xa3\x28\x5f\xe0"
    chip.refresh(16383)
    assert read(chip, 2) == b"\x3f\xff"
    with pytest.raises(ValueError, match="14 bits"):
        chip.refresh(16384)


def test_a_missing_device_and_a_held_bus_raise_as_on_the_board():
    # MicroPython on the RP2040: 5 for a missing device, 110 for a held line after `timeout`
    clock = VirtualClock()
    bus = FakeI2C(clock, call_us=170)
    bus.attach(0x28, FakePressure14())
    bus.readfrom_into(0x28, bytearray(4))
    assert clock.elapsed_us() == 170
    with pytest.raises(OSError) as missing:
        bus.readfrom_into(0x29, bytearray(4))
    assert missing.value.args[0] == EIO
    bus.lines.hold_for_ever()
    with pytest.raises(OSError) as held:
        bus.scan()
    assert held.value.args[0] == ETIMEDOUT
    assert clock.elapsed_us() == 2 * 170 + 3000
    bus.lines.release()
    bus.detach(0x28)
    assert bus.scan() == []


@pytest.mark.parametrize("chip, data", [(FakeLis3dh(), 0xA8), (FakeAdxl345(), 0x32)])
def test_no_acceleration_before_the_chip_is_set_up(chip, data):
    chip.refresh(1000, 1000, 1000)
    assert read(chip, 6, data) == bytes(6)
    assert not chip.data_ready()


def test_lis3dh_scales_by_its_range_and_mode():
    # 1000 mg: 1000, 500, 250, 83 digits of 1, 2, 4, 12 mg in high resolution (data sheet table)
    chip = FakeLis3dh()
    write(chip, 0x20, 0x57)
    for range_bits, digits in ((0, 1000), (1, 500), (2, 250), (3, 83)):
        write(chip, 0x23, range_bits << 4 | 0x08)
        chip.refresh(1000, 0, -1000)
        x_low, x_high = read(chip, 2, 0xA8)
        assert (x_high << 8 | x_low) == digits << 4
    write(chip, 0x23, 0x20)  # normal mode: 10 bits, 16 mg a digit
    chip.refresh(1600, 0, 0)
    assert read(chip, 2, 0xA8) == bytes([0x00, 100 << 6 >> 8])


def test_lis3dh_steps_its_address_only_with_the_top_bit():
    chip = FakeLis3dh()
    assert read(chip, 2, 0x0F) == b"\x33\x33"
    assert read(chip, 2, 0x8F) == b"\x33\x00"


def test_adxl345_scales_by_resolution_and_range():
    # 256 LSB/g in full resolution at every range; 256, 128, 64, 32 LSB/g in 10 bits (data sheet)
    chip = FakeAdxl345()
    write(chip, 0x2D, 0x08)
    for range_bits, counts in ((0, 256), (1, 128), (2, 64), (3, 32)):
        for full_resolution, expected in ((0x08, 256), (0x00, counts)):
            write(chip, 0x31, full_resolution | range_bits)
            chip.refresh(0, 1000, 0)
            low, high = read(chip, 2, 0x34)
            assert high << 8 | low == expected


@pytest.mark.parametrize("chip", [FakeLis3dh(), FakeAdxl345()])
def test_identity_cannot_be_written(chip):
    before = bytes(chip.registers)
    for register in (0x00, 0x0F):
        write(chip, register, 0x55)
    assert bytes(chip.registers) == before


def test_lost_updates_are_counted():
    chip = FakeAdxl345()
    write(chip, 0x2D, 0x08)
    chip.refresh(0, 0, 0)
    chip.refresh(0, 0, 0)
    assert chip.lost_updates == 1


def test_the_recorder_keeps_the_newest_events_and_counts_all():
    clock = VirtualClock()
    pwm = RecordingPwm(clock, size=3)
    for hz in (100, 200, 300, 400):
        pwm.freq(hz)
        clock.advance_us(1_500_000_000)
    assert pwm.count == 4 and pwm.kept() == 3
    assert pwm.events() == [(1_500_000_000, 200, 0), (3_000_000_000, 300, 0),
                            (4_500_000_000, 400, 0)]
    with pytest.raises(IndexError):
        pwm.time_us(3)


def test_the_recorder_keeps_or_drifts_the_duty_as_told():
    for drifts, expected in ((False, 16384), (True, 65535)):
        pwm = RecordingPwm(VirtualClock(), drifts=drifts)
        pwm.freq(500)
        pwm.duty_u16(16384)
        pwm.freq(2500)
        assert pwm.duty == expected


def test_a_bench_board_without_accelerometer_has_none_on_its_bus():
    assert BenchBoard(accel=None).pitot_i2c.scan() == [0x28]
    moved = BenchBoard(pitot_address=0x36, angled_address=0x46, accel_address=0x19)
    assert moved.pitot_i2c.scan() == [0x19, 0x36] and moved.angled_i2c.scan() == [0x46]
    with pytest.raises(ValueError, match="lis3dh"):
        BenchBoard(accel="other")
