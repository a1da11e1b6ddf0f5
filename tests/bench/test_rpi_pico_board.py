"""The board file over a stand-in for `machine`: pins, limits, and the same face as the bench."""

import importlib
import os
import re
import sys
import time
import types

import pytest

from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.fake_pins import OpenDrainLines

# Raspberry Pi Pico pinout, GP number -> pin of the board (from memory of the pinout drawing)
PIN_OF_GP = {4: 6, 5: 7, 6: 9, 7: 10, 14: 19, 15: 20, 16: 21, 17: 22, 18: 24, 19: 25}


class StandInPin:
    OUT, IN, OPEN_DRAIN, PULL_UP = "out", "in", "open drain", "pull-up"
    lines: dict = {}
    made: list = []

    def __init__(self, number, mode=None, pull=None, value=None):
        self.number, self.mode, self.pull, self.start = number, mode, pull, value
        StandInPin.made.append(self)

    def value(self, level=None):
        return StandInPin.lines[self.number].value(level)


def record(**extra):
    """A stand-in class that keeps the arguments it was made with."""
    def keep(self, *args, **kwargs):
        self.args, self.kwargs = args, kwargs
    return type("StandIn", (), {"__init__": keep, **extra})


@pytest.fixture
def keyboard(monkeypatch):
    """A standard input that can be polled: pytest's own has no number."""
    with open(os.devnull) as nothing:
        monkeypatch.setattr(sys, "stdin", nothing)
        yield nothing


@pytest.fixture
def pico(monkeypatch, keyboard):
    machine = types.ModuleType("machine")
    machine.__dict__.update(mem32={0x4005800C: 0}, I2C=record(), PWM=record(), WDT=record(),
                            Timer=record(PERIODIC=1), Pin=StandInPin,
                            WDT_RESET=3, reset_cause=lambda: 1, reset=lambda: None)
    monkeypatch.setitem(sys.modules, "machine", machine)
    monkeypatch.setattr(time, "sleep_us", lambda us: None, raising=False)
    StandInPin.made = []
    buses = OpenDrainLines(), OpenDrainLines()
    StandInPin.lines = {4: buses[0].sda, 5: buses[0].scl, 6: buses[1].sda, 7: buses[1].scl}
    sys.modules.pop("boards.rpi_pico", None)
    module = importlib.import_module("boards.rpi_pico")
    yield module, buses
    sys.modules.pop("boards.rpi_pico", None)


def test_each_i2c_block_can_reach_its_pins(pico):
    # RP2040 data sheet, GPIO functions: GP 4k+0, +1 are SDA, SCL of I2C0, +2, +3 of I2C1 (memory)
    module, _ = pico
    assert [p % 4 for p in (module.PITOT_SDA, module.PITOT_SCL)] == [0, 1]
    assert [p % 4 for p in (module.ANGLED_SDA, module.ANGLED_SCL)] == [2, 3]


def test_no_pin_is_used_twice_and_the_wiring_comment_tells_the_truth(pico):
    module, _ = pico
    table = {n: getattr(module, n) for n in ("PITOT_SDA", "PITOT_SCL", "ANGLED_SDA", "ANGLED_SCL",
                                            "TONE", "LAMP", "BUTTON")}
    table |= {f"FLAP{i}": pin for i, pin in enumerate(module.FLAPS)}
    assert len(set(table.values())) == len(table)
    told = {int(gp): int(pin) for gp, pin in re.findall(r"GP(\d+) \((\d+)\)", module.__doc__)}
    assert told == PIN_OF_GP and set(told) == set(table.values())


def test_buses_have_speed_and_time_limit(pico):
    module, _ = pico
    board = module.Board()
    for block, bus, sda in ((0, board.pitot_bus, 4), (1, board.angled_bus, 6)):
        i2c = bus._i2c
        assert i2c.args == (block,)
        assert (i2c.kwargs["freq"], i2c.kwargs["timeout"]) == (400_000, 3000)
        assert (i2c.kwargs["sda"].number, i2c.kwargs["scl"].number) == (sda, sda + 1)
    assert board.accel_bus is board.pitot_bus


def test_it_starts_silent_dark_and_with_pull_ups(pico):
    module, _ = pico
    board = module.Board()
    assert board.pwm.kwargs["duty_u16"] == 0
    assert board.lamp_pin.mode == "out" and board.lamp_pin.start == 0
    for pin in (board.button_pin, *board.flap_pins):
        assert (pin.mode, pin.pull) == ("in", "pull-up")
    assert board.start_word == "power"


def test_the_start_word_tells_power_watchdog_and_our_own_restart_apart(pico, monkeypatch):
    """Scratch registers keep their content through a reset by the watchdog (register description
    of the chip); `machine.reset()` is one (from memory)."""
    module, _ = pico
    monkeypatch.setattr(module, "reset_cause", lambda: 3)
    assert module.Board().start_word == "watchdog"
    module.Board().restart()
    assert module.Board().start_word == "restart"
    assert module.Board().start_word == "watchdog"  # the mark counts once
    module.Board().restart()
    monkeypatch.setattr(module, "reset_cause", lambda: 1)
    assert module.Board().start_word == "power"  # whatever the register holds by chance


def test_maintenance_is_asked_for_once_and_told_from_a_restart(pico, monkeypatch):
    module, _ = pico
    monkeypatch.setattr(module, "reset_cause", lambda: 3)
    assert not module.Board().maintenance
    module.Board().maintain()
    board = module.Board()
    assert board.maintenance and board.start_word == "restart"
    assert not module.Board().maintenance  # the mark counts once
    module.Board().maintain()
    monkeypatch.setattr(module, "reset_cause", lambda: 1)
    board = module.Board()
    assert not board.maintenance and board.start_word == "power"


def test_a_timer_is_held_as_long_as_the_board(pico):
    # an object that nobody holds may be collected, and the heartbeat with it
    module, _ = pico
    board = module.Board()
    assert board.start_timer(50, None) in board._timers


def test_the_tone_is_made_before_anything_that_could_fail(pico):
    module, _ = pico
    module.Board()
    assert StandInPin.made[0].number == module.TONE


def test_a_device_stuck_since_before_the_reset_is_freed_at_boot(pico):
    module, buses = pico
    buses[1].hold("0010a")
    module.Board()
    assert buses[1].free() and buses[1].stops == 1
    assert buses[0].clocks == 0


def test_recovery_drives_the_lines_open_drain_and_makes_the_i2c_anew(pico):
    module, buses = pico
    board = module.Board()
    before = board.pitot_bus._i2c
    buses[0].hold("000a")
    StandInPin.made = []
    assert board.pitot_bus.recover() and buses[0].free()
    assert [p.mode for p in StandInPin.made[:2]] == ["open drain"] * 2
    assert board.pitot_bus._i2c is not before


def test_the_watchdog_time_is_within_the_chip_s(pico):
    # RP2040: 8388 ms at most (MicroPython documentation)
    module, _ = pico
    board = module.Board()
    assert board.make_watchdog(2000).kwargs == {"timeout": 2000}
    assert board.make_watchdog(60_000).kwargs == {"timeout": 8388}


def test_the_bench_has_the_board_s_face(pico):
    module, _ = pico
    face = {n for n in dir(module.Board()) if not n.startswith("_")}
    assert face <= set(dir(BenchBoard()))
