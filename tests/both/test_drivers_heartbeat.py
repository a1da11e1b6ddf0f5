"""Cases E1, E4, H4: the loop blocks or stops while a tone sounds; the tone must not stay."""

from alula.decision import FIGURE_HZ
from alula.figures import CANNOT_KNOW, FIGURES, UNCALIBRATED
from drivers.heartbeat import LIMIT_MS, PERIOD_MS, Heartbeat
from drivers.tone_pwm import DUTY_U16, TonePwm
from host_sim.bench.fake_pwm import RecordingPwm
from host_sim.bench.fake_timer import FakeTimer
from host_sim.bench.locked_heap import run_with_locked_heap
from host_sim.bench.virtual_clock import VirtualClock


class Sounding:
    """A tone output and its heartbeat on a clock; the loop ticks only when told to."""

    def __init__(self) -> None:
        self.clock = VirtualClock()
        self.pwm = RecordingPwm(self.clock)
        self.tone = TonePwm(self.pwm)
        self.heartbeat = Heartbeat(self.pwm, self.tone)
        self.clock.watch(FakeTimer(self.clock, PERIOD_MS, self.heartbeat.tick))

    def loop(self, ticks: int, hz: int = 1000, level: int = 8) -> None:
        for _ in range(ticks):
            self.clock.advance_ms(10)
            self.tone.apply(hz, level)
            self.heartbeat.beat()


def test_h4_a_loop_that_stops_turns_the_tone_to_the_fault_sound_in_time():
    for level in (8, 0):
        rig = Sounding()
        rig.loop(100, 1000, level)
        stopped_us = rig.clock.elapsed_us()
        before = rig.pwm.count
        rig.clock.advance_ms(5000)
        events = rig.pwm.events()[before:]
        first_ms = (events[0][0] - stopped_us) // 1000
        assert LIMIT_MS - PERIOD_MS <= first_ms <= LIMIT_MS + PERIOD_MS
        heard = [(hz, duty) for _, hz, duty in events if duty]
        assert (900, 32768) in heard and (600, 32768) in heard
        # Falling, then a rest, then again: never one standing tone.
        silences = [event for event in events if event[2] == 0]
        assert len(silences) >= 2 and rig.heartbeat.losses == 1


def test_the_timer_plays_the_figure_of_the_unit():
    notes = FIGURES[CANNOT_KNOW]
    assert (notes[0], notes[-2]) == (900, 600)
    assert FIGURES[UNCALIBRATED][0] == notes[0] == FIGURE_HZ


def test_e4_stalls_as_long_as_an_erase_change_nothing():
    for stall_ms in (5, 50, 400):
        rig = Sounding()
        rig.loop(50)
        before = rig.pwm.count
        rig.clock.advance_ms(stall_ms)
        rig.loop(50)
        assert rig.pwm.count == before and rig.heartbeat.losses == 0


def test_h4_a_loop_that_comes_back_gets_its_own_tone_back_at_once():
    rig = Sounding()
    rig.loop(50, 1400, 8)
    rig.clock.advance_ms(1000)
    assert rig.heartbeat.taken
    rig.loop(1, 1400, 8)  # writes nothing: it believes that 1400 Hz still sounds
    rig.loop(1, 1400, 8)  # the beat in between told it to write anew
    assert not rig.heartbeat.taken
    assert (rig.pwm.hz, rig.pwm.duty) == (1400, DUTY_U16[8])


def test_a_quiet_loop_that_comes_back_is_quiet_again():
    rig = Sounding()
    rig.loop(50, 0, 0)
    rig.clock.advance_ms(900)
    assert rig.heartbeat.taken
    rig.loop(2, 0, 0)
    assert rig.pwm.duty == 0


def test_a_pwm_that_refuses_does_not_raise_into_the_interrupt():
    rig = Sounding()
    rig.pwm.fail_next(1 << 20)
    rig.clock.advance_ms(10000)
    assert rig.heartbeat.taken


def test_the_interrupt_allocates_nothing():
    rig = Sounding()
    run_with_locked_heap(rig.heartbeat.tick, 3000)
    rig.heartbeat.beat()
