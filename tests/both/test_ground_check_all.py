"""All checks in a row, by button and by console; noise, sounds, lamp, timing, flash. Both
interpreters."""

from alula import figures, states
from alula.ground_check import sounds, steps
from alula.ground_check.measures import CONFIRM_MS, FLASH_MS, TIMING_MS
from alula.ground_check.noise import LENGTH_MS, NoiseTest
from alula.record_payloads import CHECKS
from alula.sample import FRESH, NO_REPLY, Sample
from host_sim.bench.locked_heap import run_with_locked_heap
from tests.both.check_rig import Bench, begun
from tests.both.core_rig import settings_with
from tests.both.log_rig import Random

SHORT, LONG = 200, 1700


def by_button(bench: Bench) -> None:
    """A pilot without a computer does all of it; leak checks are passed over."""
    checks = bench.checks
    bench.press(SHORT)
    assert checks.step == steps.ZERO or checks.step == steps.NOISE
    assert bench.run(8000, lambda: checks.step == steps.PUFF)
    assert bench.puff_all()
    for step in (steps.LEAK_PITOT, steps.LEAK_STATIC, steps.LEAK_ANGLED):
        assert bench.run(2000, lambda step=step: checks.step == step)
        bench.press(SHORT)
    assert bench.run(1000, lambda: checks.step == steps.SOUNDS)
    assert bench.run(90000, lambda: bench.news() == steps.CONFIRM)
    bench.press(SHORT)
    assert checks.step == steps.LAMP
    assert bench.run(9000, lambda: bench.news() == steps.CONFIRM)
    bench.press(SHORT)
    assert checks.step == steps.BUTTON
    bench.press(SHORT)
    assert bench.run(TIMING_MS + FLASH_MS + 2000, lambda: checks.step == steps.VERDICT)


def test_a_sound_unit_passes_by_button_alone():
    bench = Bench()
    by_button(bench)
    bench.run(1000)
    results = bench.checks.results
    assert bench.figures[-1] == figures.ACCEPTED and bench.unit.lamp.on
    skipped = [i for i in range(len(steps.ROWS)) if results.verdicts[i] == steps.SKIPPED]
    assert skipped == [4, 5, 6] and results.verdicts[7] == steps.NOT_DONE  # there is no upper port
    assert [i for i in range(len(steps.ROWS)) if results.verdicts[i] == steps.FAILED] == []
    assert bench.run(6000, lambda: bench.checks.step == steps.OFF)
    stored = bench.vault.load(CHECKS)[0]
    assert [one["row"] for one in stored] == [i for i in range(15) if i != 7]
    assert all(one["date"] is None for one in stored)


def test_the_table_is_stored_with_the_date_that_a_computer_tells():
    bench = begun("port-static", "check noise date 2026-11-25")
    bench.run(LENGTH_MS + 500)
    stored = bench.vault.load(CHECKS)[0]
    assert [(one["row"], one["date"]) for one in stored] == [(1, "2026-11-25"), (2, "2026-11-25")]
    bench.run(7000)
    again = Bench(vault=bench.vault)
    table = again.ask("check table")["table"]
    assert [row["check"] for row in table] == [row[0] for row in steps.ROWS]
    assert table[1]["verdict"] == "pass" and table[1]["date"] == "2026-11-25"
    assert table[1]["now"] is False and table[0]["verdict"] == "not done"
    for line in ("check noise date 25.11.2026", "check noise date", "check noise date 2026-13-01"):
        assert again.ask(line)["ok"] is False
    # done first, dated afterwards
    assert again.ask("check flash")["ok"]
    again.run(FLASH_MS + 500)
    assert [one["date"] for one in again.vault.load(CHECKS)[0]] == 2 * ["2026-11-25"] + 2 * [None]
    again.run(7000)
    assert again.ask("check table date 2026-11-26")["ok"]
    assert [one["date"] for one in again.vault.load(CHECKS)[0]] == (
        2 * ["2026-11-25"] + 2 * ["2026-11-26"])


def test_commands_that_are_none_are_refused_with_their_use():
    bench = Bench()
    for line in ("check nonsense", "check leak", "check leak upper", "check leak wing",
                 "check puff now", "check help", "check next", "check end", "check table x"):
        told = bench.ask(line)
        assert told["ok"] is False and told["do"], line
    assert bench.checks.step == steps.OFF


def test_a_long_press_ends_and_says_so():
    bench = begun("port-static", "check all")
    bench.run(1000)
    bench.press(LONG)
    assert bench.checks.step == steps.OFF and bench.figures[-1] == figures.CANCELLED
    assert bench.unit.capture.refused == 0  # the press was not taken for a capture's
    assert bench.ask("check all")["ok"] and bench.ask("check end")["now"] == "off"


def test_a_long_press_without_checks_is_what_it_was():
    bench = Bench()
    bench.press(LONG)
    assert bench.checks.step == steps.OFF and bench.unit.capture.refused == 1


def test_every_sound_is_played_at_flight_level_and_told():
    bench = begun("port-static", "check sounds")
    bench.heard = []
    levels = set()

    def look() -> bool:
        levels.add((bench.checks.telling.heard, bench.unit.voice.level))
        return bench.news() == steps.CONFIRM

    assert bench.run(90000, look)
    told = [line for line in bench.said if line.startswith("check sound:")]
    assert told == ["check sound: " + text for text in sounds.TEXTS]
    assert len(sounds.TEXTS) == sounds.COUNT
    full = {state for state, level in levels if level == 8}
    assert {states.PRESSING, states.STALLING, states.FAULT, states.UNCALIBRATED} <= full
    assert max([level for state, level in levels if state == states.CALM]) == 4  # as in flight
    pitches = {hz for hz in bench.heard if hz}
    settings = settings_with()
    for hz in (500, settings.pitch_low_hz, settings.pitch_high_hz, settings.warble_low_hz,
               settings.warble_high_hz, 900):
        assert hz in pitches
    assert bench.unit.state == states.QUIET  # the unit itself says nothing
    assert not bench.run(CONFIRM_MS - 100, lambda: bench.checks.step == steps.VERDICT)
    bench.run(300)
    assert bench.checks.results.verdicts[steps.ROW_SOUNDS] == steps.FAILED  # nobody confirmed


def test_pulse_rates_of_the_tour_are_those_of_the_settings():
    bench = begun("port-static", "check sounds", pulse_low_millihz=2000, pulse_high_millihz=8000)
    rates = []

    def look() -> bool:
        told = bench.checks.telling
        if told.heard == states.PRESSING and told.pulse_millihz not in rates:
            rates.append(told.pulse_millihz)
        return len(rates) == 3

    assert bench.run(20000, look)
    assert rates == [2000, 4000, 8000]  # the middle one is the geometric mean


def test_flight_ends_a_sound_at_once_and_a_warning_is_heard_as_ever():
    bench = begun("port-static", "check sounds")
    bench.run(5000)
    bench.moves = None
    bench.pressures["pitot"], bench.pressures["angled"] = 3000, 1000
    assert bench.run(900, lambda: bench.unit.phase.flying)
    assert bench.checks.step == steps.OFF and bench.unit.voice.level == 0 or bench.run(
        30, lambda: bench.unit.voice.level == 0)


def test_the_lamp_flashes_five_times():
    bench = begun("port-static", "check lamp")
    changes = bench.board.lamp_pin.changes
    assert bench.run(9000, lambda: bench.news() == steps.CONFIRM)
    assert bench.board.lamp_pin.changes - changes in (9, 10)
    assert bench.ask("check next")["was"] == "lamp"
    assert bench.checks.results.verdicts[steps.ROW_LAMP] == steps.PASSED


def test_a_button_that_bounces_for_long_is_told():
    for closed, passes in ((((105, 405),), True),
                           (((105, 115), (125, 135), (145, 405)), False)):
        bench = begun("port-static", "check button")
        now_ms = bench.board.clock.elapsed_ms()
        bench.board.button_pin.presses = [[now_ms + a, now_ms + b] for a, b in closed]
        checks = bench.checks
        bench.run(CONFIRM_MS + 1500, lambda checks=checks: checks.step != steps.BUTTON)
        verdict = bench.checks.results.verdicts[steps.ROW_BUTTON]
        number = bench.checks.results.numbers[steps.ROW_BUTTON]
        assert (verdict == steps.PASSED) == passes and (number == 2) == passes, number


def test_nobody_at_the_button_is_a_failure():
    bench = begun("port-static", "check button")
    bench.run(CONFIRM_MS + 500)
    assert bench.checks.results.verdicts[steps.ROW_BUTTON] == steps.FAILED


def test_loop_timing_passes_when_in_time_and_fails_when_held_up():
    bench = begun("port-static", "check timing")
    bench.run(TIMING_MS + 200)
    results = bench.checks.results
    assert list(results.verdicts)[steps.ROW_MISSED:steps.ROW_LONGEST + 1] == 2 * [steps.PASSED]
    assert results.numbers[steps.ROW_LONGEST] == 10
    bench = begun("port-static", "check timing")
    bench.run(1000)
    before = bench.loop.missed
    bench.board.clock.advance_ms(45)  # as an erase does
    bench.run(TIMING_MS)
    results = bench.checks.results
    assert list(results.verdicts)[steps.ROW_MISSED:steps.ROW_LONGEST + 1] == 2 * [steps.FAILED]
    assert results.numbers[steps.ROW_MISSED] == bench.loop.missed - before == 3
    assert 45 <= results.numbers[steps.ROW_LONGEST] <= 55


def test_flash_is_written_read_back_and_left_as_it_was():
    bench = Bench()
    flash = bench.vault._store._os
    names = sorted(flash.files)
    assert bench.ask("check flash")["ok"]
    bench.run(300)
    results = bench.checks.results
    assert results.verdicts[steps.ROW_FLASH] == steps.PASSED
    assert results.numbers[steps.ROW_FLASH] == 4096
    assert results.numbers[steps.ROW_SPACE] == bench.vault.free_bytes() // 1024
    bench.run(300)
    assert sorted(flash.files) == names
    flash.bad_write = True
    assert bench.ask("check flash")["ok"]
    bench.run(300)
    flash.healthy()
    assert results.verdicts[steps.ROW_FLASH] == steps.FAILED
    assert any("did not keep" in line for line in bench.said)


def test_a_nearly_full_flash_is_told():
    bench = Bench()
    flash = bench.vault._store._os
    flash.files["/00001-000.log"] = bytes(flash.free() - 20000)
    assert bench.ask("check flash")["ok"]
    bench.run(500)
    assert bench.checks.results.verdicts[steps.ROW_SPACE] == steps.FAILED  # 32 kB are kept free


def noise_of(words, status: int = FRESH) -> tuple:
    """(fits, deviation) of one sensor of +-1 psi, type A, for five seconds of words."""
    settings = settings_with(pitot_output="ms4525-a", angled_output="ms4525-a",
                             pitot_low_dpa=-68948, pitot_high_dpa=68948, angled_low_dpa=-68948,
                             angled_high_dpa=68948)
    test, sample = NoiseTest(settings, 11, 11), Sample()
    sample.angled_status = FRESH
    i = 0
    while True:
        sample.pitot_status, sample.pitot_word = status, words(i)
        sample.angled_word = 8192 + i % 2
        i += 1
        if test.step(10, sample):
            return test.fits(test.pitot), test.pitot.deviation_dpa()


def test_noise_is_measured_and_judged_both_ways():
    # 1.0521 Pa a count (data sheet arithmetic: 2 psi over 80 % of 16383). Square wave of +-a
    # counts: standard deviation a; of a triangle 0,1,2: sqrt(2/3).
    for half, fits in ((1, True), (3, True), (6, True), (7, False), (30, False)):
        ok, deviation = noise_of(lambda i, half=half: 8192 + (half if i % 2 else -half))
        assert ok == fits, half
        assert abs(deviation - half * 10.5) <= half * 0.6 + 1, half
    ok, deviation = noise_of(lambda i: 8192 + i % 3)
    assert ok and abs(deviation - 8.6) <= 1.5
    assert noise_of(lambda i: 8192) == (False, 0)  # too still
    assert noise_of(lambda i: 16383 * (i % 2))[0] is False
    assert noise_of(lambda i: 8192 + i % 2, NO_REPLY)[0] is False
    random = Random(5)
    ok, deviation = noise_of(lambda i: 8192 + sum([random.below(3) for _ in range(6)]))
    assert ok and abs(deviation - 21) <= 3  # six dice of variance 2/3: 2 counts


def test_a_stuck_sensor_fails_the_noise_check():
    bench = begun("port-static", "check noise")
    bench.noise = False
    bench.run(1000)
    assert bench.ask("check noise")["ok"]
    bench.run(LENGTH_MS + 300)
    assert bench.checks.results.verdicts[steps.ROW_NOISE_PITOT] == steps.FAILED
    assert bench.figures[-1] == figures.REFUSED


def test_zero_is_told_and_a_refused_one_fails():
    bench = begun("port-static", "check zero")
    bench.run(500)
    assert bench.checks.results.verdicts[steps.ROW_ZERO] == steps.PASSED
    bench = Bench(ticks=1)
    bench.pressures["pitot"] = 400  # 40 Pa of wind at power-up
    bench.run(3300)
    assert bench.ask("check zero")["ok"]
    bench.run(500)
    results = bench.checks.results
    assert results.verdicts[steps.ROW_ZERO] == steps.FAILED
    assert abs(results.numbers[steps.ROW_ZERO] - 400) < 20


def test_nothing_is_allocated_in_any_step():
    """Every step under a locked heap, the console's and flash's side left out: that is between
    ticks."""
    bench = Bench(listen=False)
    unit, sample = bench.unit, bench.loop.sample
    clock = {"ms": bench.loop.now_ms}
    script = Script(unit, sample, clock)
    for code in range(steps.ZERO, steps.LAST + 1):
        unit.check(code)
        assert unit.checks.step != steps.OFF, code
        script.begin(code)
        long = code in (steps.SOUNDS, steps.LEAK_PITOT, steps.LEAK_STATIC)
        run_with_locked_heap(script.step, 9500 if long else 2500)
        unit.checks.end()
        script.still()
        run_with_locked_heap(script.step, 300)
    assert script.excused > 100


HELD = (steps.LEAK_PITOT, steps.LEAK_STATIC)  # to the end of the minute


class Script:
    """Pressures and presses for each step, without allocating."""

    def __init__(self, unit, sample, clock) -> None:
        self.unit, self.sample = unit, sample
        self.now_ms = clock["ms"]
        self.at = 0
        self.code = 0
        self.excused = 0
        self.zero = sample.pitot_word

    def begin(self, code: int) -> None:
        self.code, self.at = code, 0

    def still(self) -> None:
        self.code = 0

    def step(self) -> None:
        self.at += 1
        self.now_ms = (self.now_ms + 10) & 0x3FFFFFFF
        sample, at = self.sample, self.at
        sample.pitot_word = self.zero + at % 3
        sample.angled_word = self.zero + 1 + at % 2
        held = self.code in HELD
        sample.button = 1 if (2200 < at < 2220 or 2300 < at < 2320) and not held else 0
        if self.code == steps.PUFF:
            push = 110 if at % 200 < 40 else 0
            if at // 200 % 3 == 1:
                sample.pitot_word += push
            elif at // 200 % 3 == 2:
                sample.pitot_word -= push
                sample.angled_word -= push
            else:
                sample.angled_word += push
        elif steps.LEAK_PITOT <= self.code <= steps.LEAK_UPPER and 150 < at < (
                7300 if held else 1300):
            if self.code <= steps.LEAK_STATIC:
                sample.pitot_word += 1600
            if self.code >= steps.LEAK_STATIC:
                sample.angled_word += 1600 if at < 300 or self.code != steps.LEAK_ANGLED else 6000
            if self.code == steps.LEAK_ANGLED and 800 < at < 1200:  # after too much, two at once
                sample.pitot_word += 200
                sample.angled_word -= 4400
            elif self.code == steps.LEAK_ANGLED and 400 < at < 800:
                sample.angled_word -= 6000
        elif self.code == steps.BUTTON or self.code == steps.LAMP:
            sample.button = 1 if 700 < at < 720 else 0
        elif self.code == steps.NOISE:
            sample.button = 1 if 600 < at < 800 else 0
        self.unit.tick(self.now_ms, sample)
        if self.unit.checks.leak.excused:
            self.excused += 1
