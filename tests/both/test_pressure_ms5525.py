"""The 24-bit pressure driver over a register-level fake with conversions that take their time.

What the chip does is the data sheet's, by way of two open autopilots that cite it: an early or a
second fetch gives 0, and the conversion that it disturbed is wrong.
"""

from alula.sample import FRESH, NO_REPLY, SENSOR_FAULT, STALE
from drivers.pressure_ms5525 import WAITS_MS, oversampling_for
from host_sim.bench.fake_ms5525 import CONVERSION_US, crc4
from host_sim.bench.locked_heap import run_with_locked_heap
from tests.both.ms5525_rig import Fitted

READY_WITHIN = 15  # ticks from power to the first pressure: 0.15 s of the 1.5 s there are


def flipped(chip, word: int, bit: int) -> None:
    chip.prom[word] ^= 1 << bit


def other(chip) -> None:
    """Another sensor in its place."""
    chip.prom[1] += 500
    chip.prom[7] &= 0xFF00
    chip.prom[7] |= crc4(chip.prom)
    chip.warm(2000)


def test_pressures_come_within_a_tenth_of_a_second_and_a_half():
    for address in (0x76, 0x77):
        fitted = Fitted(address)
        fitted.chip.refresh(-4321)
        fitted.chip.warm(-1230)
        statuses = fitted.statuses(READY_WITHIN)
        assert statuses[-1] == FRESH and SENSOR_FAULT not in statuses
        assert fitted.driver.word == -4321 and fitted.driver.temperature_dc() == -123
        assert fitted.driver.errors == 0 and fitted.chip.resets == 1


def test_before_the_first_read_and_without_a_sensor_there_is_no_reply():
    fitted = Fitted()
    assert fitted.driver.status == NO_REPLY
    fitted.i2c.detach(0x76)
    assert set(fitted.statuses(300)) == {NO_REPLY}
    fitted.i2c.attach(0x77, fitted.chip)  # the other address is not asked
    assert set(fitted.statuses(50)) == {NO_REPLY} and fitted.chip.commands == 0


def test_every_tick_has_a_pressure_but_one_a_second_which_is_a_temperature():
    for period_ms in (5, 8, 10, 20):
        fitted = Fitted(period_ms=period_ms).settle()
        statuses = fitted.statuses(3 * (1000 // period_ms))
        assert statuses.count(STALE) == 3 and statuses.count(FRESH) == len(statuses) - 3
        assert fitted.chip.early == 0 and fitted.driver.errors == 0


def test_the_wait_is_longer_than_the_longest_conversion():
    # `now_ms` may step right after it was read: a difference of n ms is more than n - 1 ms
    for i in range(5):
        assert (WAITS_MS[i] - 1) * 1000 >= CONVERSION_US[i]
    for period_ms, oversampling in ((5, 1), (8, 3), (10, 3), (20, 4)):
        assert oversampling_for(period_ms) == oversampling


def test_the_pressure_of_a_word_is_the_one_that_was_felt_when_it_was_ordered():
    fitted = Fitted().settle()
    for i in range(90):
        fitted.chip.refresh(100 * i)
        fitted.run(1)
    fresh = [word for status, word in fitted.rows[-60:] if status == FRESH]
    assert fresh == sorted(fresh) and fresh[-1] == 8800


def test_late_ticks_and_the_short_ones_after_them_never_fetch_early():
    fitted = Fitted().settle()
    for i in range(400):
        fitted.tick(i % 10)
        assert fitted.driver.status in (FRESH, STALE) and fitted.driver.word == 1234
    assert fitted.chip.early == 0 and fitted.driver.errors == 0


def test_the_prom_is_not_read_before_the_reset_has_ended():
    """A late tick, and the short one after it."""
    fitted = Fitted()
    fitted.chip.refresh(1234)
    fitted.tick(9)
    statuses = fitted.statuses(READY_WITHIN)
    assert SENSOR_FAULT not in statuses and statuses[-1] == FRESH


def test_a_fetch_too_early_gives_nothing_and_the_next_result_is_dropped():
    """A chip that takes longer than its data sheet allows, once or always: the fake says 0, and
    what it converts then is wrong, as with the chip."""
    fitted = Fitted().settle()
    fitted.chip.slow_us = 7000
    fitted.run(1)
    fitted.chip.slow_us = 0
    rows = fitted.run(10)
    assert fitted.chip.early == 1 and rows[-1] == (FRESH, 1234)
    assert {word for _, word in rows} == {1234}
    fitted.chip.slow_us = 7000
    fitted.run(1)  # ordered before
    rows = fitted.run(200)
    assert FRESH not in [status for status, _ in rows] and fitted.chip.early > 5
    assert {word for _, word in rows} == {1234}


def test_an_empty_result_is_stale_and_the_next_result_is_dropped():
    fitted = Fitted().settle()
    fitted.chip.raw_override = 0
    assert fitted.tick() == STALE
    fitted.chip.raw_override = 0x123456  # a believable number
    resets = fitted.chip.resets
    rows = fitted.run(3)
    assert [status for status, _ in rows] == [STALE] * 3
    assert {word for _, word in rows} == {1234}
    assert fitted.chip.resets == resets + 1
    fitted.chip.raw_override = None
    assert FRESH in fitted.statuses(2)  # back within the gap of 100 ms that a window bears
    assert fitted.driver.errors == 1


def test_results_that_stay_empty_are_never_a_pressure_and_end_in_a_new_start():
    fitted = Fitted().settle()
    fitted.chip.raw_override = 0
    assert FRESH not in fitted.statuses(200)
    other(fitted.chip)
    fitted.chip.raw_override = None
    fitted.chip.refresh(777)
    rows = fitted.run(150)  # half of the old PROM may have been read: that is refused first
    assert rows[-1] == (FRESH, 777)  # by the coefficients that it has now
    assert {word for status, word in rows if status == FRESH} == {777}


def test_a_wrong_crc_is_a_sensor_fault_and_never_a_number():
    """Any single bit of the seven words under the CRC, and of the CRC itself; not of the rest of
    its byte, which counts as zero (TE application note AN520)."""
    for word in range(8):
        for bit in range(16):
            fitted = Fitted()
            flipped(fitted.chip, word, bit)
            statuses = fitted.statuses(40)
            if word == 7 and 4 <= bit < 8:
                assert statuses[-1] == FRESH
                continue
            assert statuses[-1] == SENSOR_FAULT and FRESH not in statuses, (word, bit)
            assert fitted.driver.word == 0


def test_a_prom_that_is_mended_is_found_within_two_seconds():
    fitted = Fitted()
    flipped(fitted.chip, 2, 9)
    assert fitted.statuses(100)[-1] == SENSOR_FAULT
    flipped(fitted.chip, 2, 9)
    assert fitted.statuses(200)[-1] == FRESH
    assert fitted.driver.errors == 1


def test_a_line_held_low_or_high_is_no_prom_although_zeros_have_the_right_crc():
    for value in (0, 0xFFFF):
        fitted = Fitted()
        fitted.chip.prom = [value] * 8
        assert crc4([0] * 8) == 0
        assert fitted.statuses(60)[-1] == SENSOR_FAULT


def test_a_coefficient_of_nothing_is_no_sensor():
    for word in range(1, 7):
        fitted = Fitted()
        fitted.chip.prom[word] = 0
        fitted.chip.prom[7] = fitted.chip.prom[7] & 0xFF00
        fitted.chip.prom[7] |= crc4(fitted.chip.prom)
        assert fitted.statuses(60)[-1] == SENSOR_FAULT, word


def test_all_ones_are_a_sensor_fault():
    fitted = Fitted().settle()
    fitted.chip.status_override = 3
    fitted.run(1)
    assert set(fitted.statuses(150)) == {SENSOR_FAULT}
    fitted.chip.status_override = None
    assert fitted.run(3)[-1] == (FRESH, 1234)


def test_a_temperature_that_no_sensor_has_stops_the_pressures():
    for centi in (-6000, 15000):
        fitted = Fitted()
        fitted.chip.warm(centi)
        statuses = fitted.statuses(60)
        assert statuses[-1] == SENSOR_FAULT and FRESH not in statuses
        fitted.chip.warm(2000)
        assert fitted.statuses(5)[-1] == FRESH
        fitted.chip.warm(centi)
        statuses = fitted.statuses(120)
        assert set(statuses[-10:]) == {SENSOR_FAULT}


def test_a_call_that_fails_costs_a_few_ticks_and_no_wrong_number():
    """Each of a tick's two calls, fetch and command."""
    for good_calls in (0, 1):
        for failures in (1, 2, 5):
            fitted = Fitted().settle()
            calls = fitted.i2c._spend_and_check
            left = [good_calls]

            def spend(fitted=fitted, calls=calls, left=left, failures=failures) -> None:
                if left[0] == 0:
                    fitted.i2c.fail_next(failures)
                left[0] -= 1
                calls()

            fitted.i2c._spend_and_check = spend
            rows = fitted.run(failures + 6)
            assert {word for _, word in rows} == {1234}
            assert rows[-1][0] == FRESH
            assert [status for status, _ in rows].count(FRESH) >= (6 if good_calls == 0 else 2)
            assert fitted.driver.errors == failures


def test_power_lost_for_a_moment_is_seen_and_the_sensor_reset():
    """It forgets the conversion; without a reset its next ones are wrong. Lost and back between
    any two ticks, or for some."""
    for gone in range(0, 12):
        for resting_us in (0, 3000, 8000):
            fitted = Fitted().settle()
            fitted.clock.advance_us(resting_us)
            fitted.chip.lose_power()
            assert set(fitted.statuses(gone)) <= {NO_REPLY}
            fitted.chip.gain_power()
            resets = fitted.chip.resets
            rows = fitted.run(12)
            assert {word for _, word in rows} == {1234}, (gone, resting_us)
            assert rows[-1][0] == FRESH and fitted.chip.resets == resets + 1


def test_power_lost_at_any_moment_of_the_start():
    for ticks in range(0, 14):
        fitted = Fitted()
        fitted.chip.refresh(1234)
        fitted.run(ticks)
        fitted.chip.lose_power()
        fitted.run(2)
        fitted.chip.gain_power()
        rows = fitted.run(READY_WITHIN + 8)
        assert rows[-1] == (FRESH, 1234), ticks
        assert {word for status, word in rows if status == FRESH} == {1234}, ticks


def test_a_sensor_that_was_gone_for_long_is_read_in_anew():
    """Another one may have been fitted: its coefficients count."""
    fitted = Fitted().settle()
    fitted.chip.lose_power()
    assert set(fitted.statuses(100)) == {NO_REPLY}
    other(fitted.chip)
    fitted.chip.gain_power()
    rows = fitted.run(40)
    assert rows[-1] == (FRESH, 1234)
    assert {word for status, word in rows if status == FRESH} == {1234}


def test_a_dead_bus_is_asked_less_and_heard_again():
    fitted = Fitted().settle()
    fitted.i2c.lines.hold_for_ever()
    fitted.run(20)
    calls = fitted.i2c.calls
    assert set(fitted.statuses(100)) == {NO_REPLY}
    assert fitted.i2c.calls == calls + 10
    fitted.i2c.lines.release()
    assert fitted.statuses(40)[-1] == FRESH


def test_the_wider_sensor_reads_past_one_psi_and_stops_at_the_unit_s_limit():
    fitted = Fitted(doublings=1)
    for dpa, seen in ((90000, 90000), (-90000, -90000), (130000, 100000), (-130000, -100000)):
        fitted.chip.refresh(dpa)
        rows = fitted.run(30)
        assert rows[-1][0] == FRESH and abs(rows[-1][1] - seen) <= 1


def test_no_allocation_in_any_state():
    """Every line of the driver and its arithmetic: tests/vm/test_ms5525_lines.py counts them."""
    fitted = Fitted()
    chip, driver, clock, i2c = fitted.chip, fitted.driver, fitted.clock, fitted.i2c

    def turn() -> None:
        clock.advance_ms(10)
        driver.read()
        driver.temperature_dc()

    def early() -> None:
        turn()
        driver.read()

    run_with_locked_heap(early, 40)
    run_with_locked_heap(turn, 200)  # the start, pressures, a temperature
    assert driver.status == FRESH
    chip.raw_override = 0
    run_with_locked_heap(turn, 100)
    chip.raw_override = None
    run_with_locked_heap(turn, 40)
    assert driver.status == FRESH
    chip.status_override = 3
    run_with_locked_heap(turn, 150)
    chip.status_override = None
    run_with_locked_heap(turn, 40)
    i2c.lines.hold_for_ever()
    run_with_locked_heap(turn, 60)
    i2c.lines.release()
    flipped(chip, 3, 3)
    run_with_locked_heap(turn, 250)
    assert driver.status == SENSOR_FAULT
    flipped(chip, 3, 3)
    run_with_locked_heap(turn, 250)
    for dpa in (110000, -110000):
        chip.refresh(dpa)
        run_with_locked_heap(turn, 5)
        assert abs(driver.word) == 100000
    for raw in (1, 0xFFFFF0):  # temperatures far outside any range
        chip.temperature_raw = raw
        run_with_locked_heap(turn, 150)
        assert driver.status == SENSOR_FAULT
    chip.warm(14000)  # just outside
    run_with_locked_heap(turn, 10)
    assert driver.status == SENSOR_FAULT
    chip.warm(2000)
    run_with_locked_heap(turn, 10)
    failing = [0]
    check = i2c._spend_and_check

    def every_second() -> None:
        failing[0] += 1
        if failing[0] % 5 == 2:
            i2c.fail_next(1)
        check()

    i2c._spend_and_check = every_second
    run_with_locked_heap(turn, 100)
    i2c._spend_and_check = check
    chip.prom = [0] * 8
    chip.lose_power()
    run_with_locked_heap(turn, 30)
    chip.gain_power()
    run_with_locked_heap(turn, 60)
    assert driver.status == SENSOR_FAULT
    # a gain of nothing: cold, and the sensitivity's own temperature share larger than itself
    chip.prom = [1, 1, 1, 65535, 1, 60000, 60000, 0]
    chip.prom[7] = crc4(chip.prom)
    chip.temperature_raw = (60000 << 7) - 40000
    run_with_locked_heap(turn, 300)
    assert driver.status == SENSOR_FAULT and driver._compensation.believable()
