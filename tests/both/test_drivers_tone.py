"""The tone output over a recording PWM: what it sets, in which order, and how often."""

import math

from drivers.tone_pwm import DUTY_U16, TonePwm
from host_sim.bench.fake_pwm import RecordingPwm
from host_sim.bench.locked_heap import run_with_locked_heap
from host_sim.bench.virtual_clock import VirtualClock


def fitted(drifts: bool = False) -> tuple:
    clock = VirtualClock()
    pwm = RecordingPwm(clock, drifts=drifts)
    return clock, pwm, TonePwm(pwm)


def test_the_fundamental_is_in_eighths():
    # Fourier series of a pulse wave: fundamental = 2/pi sin(pi duty), 2/pi at duty 1/2
    for level in range(9):
        amplitude = math.sin(math.pi * DUTY_U16[level] / 65536)
        assert abs(amplitude - level / 8) < 1 / 20000


def test_no_sound_at_construction_even_if_the_hardware_was_sounding():
    pwm = RecordingPwm(VirtualClock())
    pwm.freq(900)
    pwm.duty_u16(32768)
    TonePwm(pwm)
    assert pwm.duty == 0


def test_duty_is_held_over_a_sweep_of_the_pitch():
    # field case: on earlier firmware the duty drifted to all the time (silence) when only the
    # frequency was set; `drifts` behaves like that
    for drifts in (False, True):
        _, pwm, tone = fitted(drifts)
        for level in range(1, 9):
            for hz in list(range(120, 3001, 50)) + list(range(3000, 119, -50)):
                tone.apply(hz, level)
                assert pwm.hz == hz and pwm.duty == DUTY_U16[level]


def test_fifty_changes_a_second_for_ten_minutes():
    clock, pwm, tone = fitted(drifts=True)
    before = pwm.count
    for i in range(30000):
        tone.apply(700 if i & 1 else 1000, 8)
        assert pwm.duty == 32768
        clock.advance_ms(20)
    assert pwm.count - before == 2 * 30000
    assert tone.errors == 0
    for i in range(pwm.kept() - 2):  # each pitch is followed by its duty at the same instant
        if pwm.hz_at(i) != pwm.hz_at(i + 1):
            assert pwm.time_us(i + 1) == pwm.time_us(i + 2)


def test_nothing_is_touched_when_nothing_changes():
    _, pwm, tone = fitted()
    tone.apply(800, 4)
    before = pwm.count
    for _ in range(100):
        tone.apply(800, 4)
    assert pwm.count == before
    tone.apply(800, 5)
    assert pwm.count == before + 1
    tone.apply(800, 0)
    before = pwm.count
    for hz in range(300, 3000, 100):
        tone.apply(hz, 0)
    tone.apply(0, 8)
    tone.silence()
    assert pwm.count == before and pwm.duty == 0


def test_the_pitch_changes_at_zero_duty_when_a_sound_begins():
    _, pwm, tone = fitted()
    for hz in (600, 1100, 600):
        tone.apply(hz, 8)
        tone.apply(0, 0)
    events = pwm.events()
    for i in range(1, len(events)):
        if events[i][1] != events[i - 1][1]:
            assert events[i - 1][2] == 0 and events[i][2] == 0


def test_edges_are_steps_of_level_at_one_pitch():
    _, pwm, tone = fitted()
    for level in (2, 5, 8, 5, 2, 0):
        tone.apply(700, level)
    assert [e[2] for e in pwm.events() if e[1] == 700] == [0] + [
        DUTY_U16[level] for level in (2, 5, 8, 5, 2, 0)]


def test_requests_out_of_range_are_clamped():
    _, pwm, tone = fitted()
    tone.apply(1, 99)
    assert pwm.hz == 20 and pwm.duty == 32768
    tone.apply(10 ** 6, 1)
    assert pwm.hz == 20000
    tone.apply(-5, 8)
    assert pwm.duty == 0
    tone.apply(500, -1)
    assert pwm.duty == 0 and tone.errors == 0


def test_a_refused_call_is_counted_and_made_good_at_the_next_tick():
    for failures in (1, 2, 3):
        _, pwm, tone = fitted()
        pwm.fail_next(failures)
        for _ in range(failures + 1):
            tone.apply(900, 6)
        assert pwm.hz == 900 and pwm.duty == DUTY_U16[6] and tone.errors == failures


def test_a_sound_that_could_not_be_stopped_is_stopped_at_the_next_tick():
    _, pwm, tone = fitted()
    tone.apply(900, 6)
    pwm.fail_next(2)
    tone.apply(0, 0)
    tone.silence()
    assert pwm.duty == DUTY_U16[6] and tone.errors == 2
    tone.apply(0, 0)
    assert pwm.duty == 0


def test_a_pitch_that_failed_between_its_two_settings_is_written_in_full():
    class FailsOnDuty(RecordingPwm):
        broken = False

        def duty_u16(self, duty: int) -> None:
            if self.broken:
                raise OSError(5)
            super().duty_u16(duty)

    pwm = FailsOnDuty(VirtualClock(), drifts=True)
    tone = TonePwm(pwm)
    tone.apply(600, 8)
    pwm.broken = True
    tone.apply(1200, 8)
    pwm.broken = False
    tone.apply(1200, 8)
    assert pwm.hz == 1200 and pwm.duty == 32768


class RefusesTooLate(RecordingPwm):
    """Does what it is told, and then raises if `broken`."""

    broken = False

    def freq(self, hz: int) -> None:
        super().freq(hz)
        if self.broken:
            raise OSError(5)

    def duty_u16(self, duty: int) -> None:
        super().duty_u16(duty)
        if self.broken:
            raise OSError(5)


def test_after_a_refusal_nothing_is_taken_as_known():
    pwm = RefusesTooLate(VirtualClock())
    tone = TonePwm(pwm)
    tone.apply(600, 8)
    pwm.broken = True
    tone.apply(1200, 8)  # the pitch did change
    pwm.broken = False
    tone.apply(600, 8)
    assert pwm.hz == 600
    tone.silence()
    pwm.broken = True
    tone.apply(600, 8)
    pwm.broken = False
    pwm.duty = DUTY_U16[8]  # a start that raised may be sounding all the same
    tone.silence()
    assert pwm.duty == 0


def test_no_allocation_sounding_silent_or_refused():
    clock, pwm, tone = fitted()

    def step() -> None:
        tone.apply(600, 3)
        tone.apply(1100, 8)
        tone.apply(0, 0)
        pwm.fail_next(1)
        tone.apply(700, 2)
        tone.apply(700, 2)
        clock.advance_ms(10)

    run_with_locked_heap(step)
    assert tone.errors == 1000 and pwm.duty == DUTY_U16[2]
