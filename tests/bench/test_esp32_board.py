"""The second board's file over a stand-in for `machine`, and the face that all boards share."""

import importlib
import inspect
import re
import sys
import time
import types

import pytest

from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.fake_pins import OpenDrainLines
from tests.bench.test_rpi_pico_board import StandInPin, keyboard, pico, record

__all__ = ["keyboard", "pico"]  # fixtures
POWER, HARD, WATCHDOG, DEEP, SOFT = 1, 2, 3, 4, 5  # MicroPython's numbers of the esp32 port
# GPIOs with a job of their own (data sheet of the ESP32 and MicroPython's quick reference for it)
STRAPPING, FLASH, PSRAM = {0, 2, 5, 12, 15}, {6, 7, 8, 9, 10, 11}, {16, 17}
SERIAL, INPUT_ONLY = {1, 3}, set(range(34, 40))


class StandInTimer:
    """As the port: no timer calls from the interrupt, and -1 is no timer (ports/esp32)."""

    PERIODIC = 1

    def __init__(self, number, hard=False, **kwargs):
        if hard:
            raise ValueError("hard Timers are not implemented")
        if not 0 <= number <= 3:
            raise ValueError("invalid Timer number")
        self.kwargs = kwargs


class StandInI2C:
    """Answers every read with a count of its calls."""

    def __init__(self, **kwargs):
        self.kwargs, self.calls = kwargs, 0

    def readfrom_into(self, address, buffer):
        self.calls += 1

    def writeto(self, address, buffer):
        self.calls += 1
        return len(buffer)

    def readfrom_mem_into(self, address, register, buffer):
        self.calls += 1

    def writeto_mem(self, address, register, buffer):
        self.calls += 1

    def scan(self):
        return [40]


class StandInRtc:
    kept = b""

    def memory(self, data=None):
        if data is None:
            return StandInRtc.kept
        StandInRtc.kept = bytes(data)
        return None


@pytest.fixture
def esp32(monkeypatch, keyboard):
    machine = types.ModuleType("machine")
    machine.__dict__.update(
        PWM=record(), WDT=record(), Timer=StandInTimer, Pin=StandInPin, SoftI2C=StandInI2C,
        RTC=StandInRtc, PWRON_RESET=POWER, WDT_RESET=WATCHDOG, reset_cause=lambda: POWER,
        reset=lambda: None)
    monkeypatch.setitem(sys.modules, "machine", machine)
    monkeypatch.setattr(time, "sleep_us", lambda us: None, raising=False)
    StandInPin.made, StandInRtc.kept = [], b""
    buses = OpenDrainLines(), OpenDrainLines()
    StandInPin.lines = {21: buses[0].sda, 22: buses[0].scl, 25: buses[1].sda, 26: buses[1].scl}
    sys.modules.pop("boards.esp32", None)
    yield importlib.import_module("boards.esp32"), buses
    sys.modules.pop("boards.esp32", None)


def pins(module) -> dict:
    found = {n: getattr(module, n) for n in ("PITOT_SDA", "PITOT_SCL", "ANGLED_SDA", "ANGLED_SCL",
                                            "TONE", "LAMP", "BUTTON")}
    return found | {f"FLAP{i}": pin for i, pin in enumerate(module.FLAPS)}


def test_no_pin_has_a_second_job_and_the_wiring_comment_tells_the_truth(esp32):
    table = pins(esp32[0])
    used = set(table.values())
    assert len(used) == len(table)
    assert not used & (STRAPPING | FLASH | PSRAM | SERIAL | INPUT_ONLY)
    wiring = esp32[0].__doc__.split("Left alone")[0]
    assert {int(pin) for pin in re.findall(r"GPIO(\d+)", wiring)} == used


def test_buses_give_up_soon(esp32):
    board = esp32[0].Board()
    for bus, sda, scl in ((board.pitot_bus, 21, 22), (board.angled_bus, 25, 26)):
        made = bus._i2c._i2c.kwargs
        assert (made["freq"], made["timeout"]) == (400_000, 3000)
        assert (made["sda"].number, made["scl"].number) == (sda, scl)
    assert board.accel_bus is board.pitot_bus


def test_a_data_line_held_low_is_an_error_and_never_zeros(esp32):
    module, buses = esp32
    board = module.Board()
    bus, four = board.pitot_bus, bytearray(4)
    bus.readfrom_into(40, four)
    buses[0].hold("000a")
    for call in (lambda: bus.readfrom_into(40, four), lambda: bus.writeto(118, four),
                 lambda: bus.readfrom_mem_into(24, 0, four),
                 lambda: bus.writeto_mem(24, 0, four), bus.scan):
        with pytest.raises(OSError):
            call()
    assert bus._i2c._i2c.calls == 1
    assert bus.recover() and bus.scan() == [40]


def test_it_starts_silent_dark_and_with_pull_ups(esp32):
    board = esp32[0].Board()
    assert board.pwm.kwargs["duty_u16"] == 0 and StandInPin.made[0].number == esp32[0].TONE
    assert board.lamp_pin.mode == "out" and board.lamp_pin.start == 0
    for pin in (board.button_pin, *board.flap_pins):
        assert (pin.mode, pin.pull) == ("in", "pull-up")


def test_the_timer_is_one_that_the_port_has(esp32):
    timer = esp32[0].Board().start_timer(50, print)
    assert timer.kwargs == {"mode": 1, "period": 50, "callback": print}


def test_the_watchdog_is_never_asked_for_less_than_it_can(esp32):
    # "On the esp32 the minimum timeout is 1 second" (MicroPython documentation of WDT)
    board = esp32[0].Board()
    assert board.make_watchdog(2000).kwargs == {"timeout": 2000}
    assert board.make_watchdog(200).kwargs == {"timeout": 1000}


def test_the_start_word_tells_power_watchdog_and_our_own_restart_apart(esp32, monkeypatch):
    """Whatever number the port gives to `machine.reset()`: it differs between versions."""
    module, _ = esp32

    def started(cause: int) -> str:
        monkeypatch.setattr(module, "reset_cause", lambda: cause)
        return module.Board().start_word

    assert started(POWER) == "power" and started(WATCHDOG) == "watchdog"
    for cause in (HARD, SOFT, WATCHDOG):
        module.Board().restart()
        assert started(cause) == "restart"
        assert started(WATCHDOG) == "watchdog"  # the mark counts once
    module.Board().restart()
    assert started(POWER) == "power"


def test_maintenance_is_asked_for_once_and_a_loss_of_power_ends_it(esp32, monkeypatch):
    module, _ = esp32
    monkeypatch.setattr(module, "reset_cause", lambda: HARD)
    module.Board().maintain()
    asked, after = module.Board(), module.Board()
    assert (asked.maintenance, asked.start_word) == (True, "restart")
    assert not after.maintenance
    module.Board().maintain()
    monkeypatch.setattr(module, "reset_cause", lambda: POWER)
    assert not module.Board().maintenance


def face(board) -> dict:
    """Names of a board's attributes; of its methods, the parameters' names."""
    return {name: list(inspect.signature(getattr(board, name)).parameters)
            if inspect.ismethod(getattr(board, name)) else None
            for name in dir(board) if not name.startswith("_")}


def test_all_boards_have_one_face(esp32, pico):
    """The same attributes, the same methods with the same parameters; the bench has more."""
    StandInPin.lines = {pin: OpenDrainLines().sda for pin in range(40)}
    first, second = face(pico[0].Board()), face(esp32[0].Board())
    bench = face(BenchBoard())
    assert first == second
    assert {name: bench.get(name) for name in first} == first
    names = {board.name for board in (pico[0].Board, esp32[0].Board, BenchBoard)}
    assert names == {"rpi_pico", "esp32", "bench"}
