"""The accelerometer driver over register-level fakes of both chips, and over literal bursts."""

from alula.sample import FRESH, NO_REPLY, STALE
from drivers.accelerometer import ADXL345, LIS3DH, Accelerometer
from host_sim.bench.fake_accelerometer import FakeAdxl345, FakeLis3dh
from host_sim.bench.fake_i2c import FakeI2C
from host_sim.bench.locked_heap import run_with_locked_heap

ADDRESS = 0x18
KINDS = ((LIS3DH, FakeLis3dh, 4), (ADXL345, FakeAdxl345, 4))  # kind, fake, mg per step, rounded up


def fitted(kind: int, fake, axis: int = 2, sign: int = 1) -> tuple:
    i2c = FakeI2C()
    chip = fake()
    i2c.attach(ADDRESS, chip)
    return i2c, chip, Accelerometer(i2c, ADDRESS, kind, axis, sign)


def refuses(kind: int, axis: int, sign: int) -> bool:
    try:
        Accelerometer(FakeI2C(), ADDRESS, kind, axis, sign)
    except ValueError:
        return True
    return False


def test_settings_that_make_no_sense_are_refused():
    assert refuses(0, 2, 1) and refuses(3, 2, 1)
    assert refuses(LIS3DH, 3, 1) and refuses(LIS3DH, -1, 1)
    assert refuses(LIS3DH, 2, 0) and refuses(LIS3DH, 2, 2)
    assert not refuses(ADXL345, 0, -1)


def test_every_axis_and_sign_reads_the_acceleration_of_that_axis():
    for kind, fake, step_mg in KINDS:
        for axis in range(3):
            for sign in (1, -1):
                _, chip, accel = fitted(kind, fake, axis, sign)
                assert accel.start()
                for true_mg in ((1000, -2000, 3000), (-1, 0, 1), (-7900, 7900, -1000)):
                    chip.refresh(true_mg[0], true_mg[1], true_mg[2])
                    accel.read()
                    assert accel.status == FRESH
                    assert abs(accel.nz_mg - sign * true_mg[axis]) <= step_mg


def test_the_whole_range_can_be_read():
    # +-8 g and +-16 g, as the docs say of the two chips
    for kind, fake, most_mg in ((LIS3DH, FakeLis3dh, 8000), (ADXL345, FakeAdxl345, 15900)):
        _, chip, accel = fitted(kind, fake)
        accel.start()
        for mg in (most_mg, -most_mg):
            chip.refresh(0, 0, mg)
            accel.read()
            assert abs(accel.nz_mg - mg) <= 4


def test_lis3dh_two_s_complement_left_aligned():
    # maker's application note, as quoted in its forum: -350 digits are 0xEA2 of 12 bits, left
    # aligned 0xEA20; 4 mg a digit at +-8 g in high resolution
    _, chip, accel = fitted(LIS3DH, FakeLis3dh, 1)
    accel.start()
    for low, high, mg in ((0x20, 0xEA, -1400), (0xE0, 0x15, 1400), (0x00, 0x80, -8192),
                          (0xF0, 0x7F, 8188), (0xF0, 0xFF, -4)):
        chip.refresh(0, 0, 0)
        chip.registers[0x2A] = low
        chip.registers[0x2B] = high
        accel.read()
        assert accel.nz_mg == mg


def test_adxl345_full_resolution_is_256_counts_a_g():
    # data sheet table, by way of a distributor: 256 LSB/g typical in full resolution
    _, chip, accel = fitted(ADXL345, FakeAdxl345, 0)
    accel.start()
    for low, high, mg in ((0x00, 0x01, 1000), (0x00, 0xFF, -1000), (0x00, 0x10, 16000),
                          (0x00, 0xF0, -16000), (0x01, 0x00, 4), (0xFF, 0xFF, -4)):
        chip.refresh(0, 0, 0)
        chip.registers[0x32] = low
        chip.registers[0x33] = high
        accel.read()
        assert accel.nz_mg == mg


def test_adxl345_rounding_has_no_bias():
    # the mean over all whole counts from -256 to 256 is zero, as that of the true values is
    _, chip, accel = fitted(ADXL345, FakeAdxl345, 0)
    accel.start()
    total_mg = 0
    for count in range(-256, 257):
        chip.refresh(0, 0, 0)
        chip.registers[0x32] = count & 0xFF
        chip.registers[0x33] = count >> 8 & 0xFF
        accel.read()
        assert abs(accel.nz_mg * 256 - count * 1000) <= 128
        total_mg += accel.nz_mg
    assert abs(total_mg) <= 16


def test_a_sample_is_fresh_once():
    for kind, fake, _ in KINDS:
        _, chip, accel = fitted(kind, fake)
        accel.start()
        accel.read()
        assert accel.status == STALE
        chip.refresh(0, 0, 1000)
        accel.read()
        assert accel.status == FRESH
        accel.read()
        assert accel.status == STALE and accel.nz_mg == 1000


def test_the_wrong_chip_is_no_reply():
    for kind, fake in ((LIS3DH, FakeAdxl345), (ADXL345, FakeLis3dh)):
        _, chip, accel = fitted(kind, fake)
        assert not accel.start()
        for _ in range(500):
            chip.refresh(0, 0, 1000)
            accel.read()
            assert accel.status == NO_REPLY and accel.nz_mg == 0


class DeafLis3dh(FakeLis3dh):
    """Answers, but a control register does not take what is written."""

    def writable(self, register: int) -> bool:
        return register != 0x23 and super().writable(register)


def test_a_chip_that_does_not_keep_its_range_is_refused():
    _, chip, accel = fitted(LIS3DH, DeafLis3dh)
    assert not accel.start()
    chip.refresh(0, 0, 1000)
    accel.read()
    assert accel.status == NO_REPLY


def test_an_absent_chip_is_looked_for_once_a_second_and_found():
    i2c = FakeI2C()
    accel = Accelerometer(i2c, ADDRESS, LIS3DH, 2, 1)
    assert not accel.start()
    for _ in range(1000):
        accel.read()
        assert accel.status == NO_REPLY
    assert i2c.calls == 11
    chip = FakeLis3dh()
    i2c.attach(ADDRESS, chip)
    seen = 0
    for _ in range(102):
        chip.refresh(0, 0, 1000)
        accel.read()
        seen += accel.status == FRESH
    assert seen >= 1 and accel.nz_mg == 1000


def test_read_before_start_finds_the_chip_by_itself():
    _, chip, accel = fitted(ADXL345, FakeAdxl345)
    for _ in range(101):
        chip.refresh(0, 0, 1000)
        accel.read()
    assert accel.status in (FRESH, STALE)


def test_a_failed_read_keeps_the_value_and_does_not_look_fresh():
    i2c, chip, accel = fitted(LIS3DH, FakeLis3dh)
    accel.start()
    chip.refresh(0, 0, 1000)
    accel.read()
    i2c.fail_next(1)
    chip.refresh(0, 0, 2000)
    accel.read()
    assert accel.status == NO_REPLY and accel.nz_mg == 1000 and accel.errors == 1
    accel.read()
    assert accel.status == FRESH and accel.nz_mg == 2000


def test_a_brown_out_in_flight_is_noticed_and_mended():
    for kind, fake, _ in KINDS:
        _, chip, accel = fitted(kind, fake)
        accel.start()
        chip.refresh(0, 0, 1000)
        accel.read()
        chip.reset()
        fresh_again = 0
        for i in range(160):  # 50 misses, then one second to the next look
            chip.refresh(0, 0, 2000)
            accel.read()
            if accel.status == FRESH:
                fresh_again = fresh_again or i
                assert accel.nz_mg == 2000
        assert 0 < fresh_again < 155


def test_no_allocation_good_stale_or_dead():
    for kind, fake, _ in KINDS:
        no_allocation_with(kind, fake)


def no_allocation_with(kind: int, fake) -> None:
    i2c, chip, accel = fitted(kind, fake)
    assert accel.start()

    def good() -> None:
        chip.refresh(10, -20, 1500)
        accel.read()
        accel.read()

    run_with_locked_heap(good)
    assert accel.status == STALE and abs(accel.nz_mg - 1500) <= 4
    i2c.fail_next(1000000)
    run_with_locked_heap(accel.read)
    assert accel.status == NO_REPLY
    i2c.fail_next(0)
    accel.nz_mg = 0
    run_with_locked_heap(good, 101)  # looks for the chip and sets it up again
    assert abs(accel.nz_mg - 1500) <= 4
