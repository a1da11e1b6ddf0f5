"""Raspberry Pi Pico (RP2040).

Wiring (GP number, then the pin of the board in brackets). Everything here is 3.3 V: a sensor
with 5 V on its bus lines destroys the board.

    pitot sensor and accelerometer   SDA GP4 (6)   SCL GP5 (7)     bus 0
    angled-port sensor               SDA GP6 (9)   SCL GP7 (10)    bus 1
    tone, through filter and isolating transformer  GP15 (20)
    lamp, through its resistor to ground            GP14 (19)
    button, to ground                               GP16 (21)
    flap switches, to ground         GP17 (22), GP18 (24), GP19 (25)
    sensor supply 3V3 (36), ground (3, 8, 13, 18, 23)

Two buses because two pressure sensors of one kind have one and the same address. Each bus needs
pull-ups of 2.2 to 4.7 kOhm to 3V3 if the sensor boards bring none: the board's own are too weak
for 400 kHz.
"""

import time

from machine import I2C, PWM, WDT, WDT_RESET, Pin, Timer, mem32, reset, reset_cause
from micropython import const

from boards.plain import PlainBoard, open_console
from drivers.bus_recovery import free_bus
from drivers.clock import Clock
from drivers.i2c_bus import I2CBus

PITOT_SDA = const(4)
PITOT_SCL = const(5)
ANGLED_SDA = const(6)
ANGLED_SCL = const(7)
TONE = const(15)
LAMP = const(14)
BUTTON = const(16)
FLAPS = (17, 18, 19)

BUS_HZ = const(400000)
BUS_TIMEOUT_US = const(3000)  # a held bus gives up after this; the port's own default is 50 ms
WATCHDOG_MOST_MS = const(8388)  # the RP2040's counter ends here
_SCRATCH0 = const(0x4005800C)
_RESTART_MARK = const(0x2A1C0DE5)
_MAINTENANCE_MARK = const(0x2A1C0DE6)
_FIRST_TONE_HZ = const(1000)  # any pitch: the duty is zero until the first tone


class _Lines:
    """The two pins and the I2C block of one bus."""

    def __init__(self, block: int, sda: int, scl: int) -> None:
        self._block = block
        self._sda = sda
        self._scl = scl

    def make_i2c(self) -> I2C:
        """Hand the pins to the I2C block."""
        return I2C(self._block, scl=Pin(self._scl), sda=Pin(self._sda),
                   freq=BUS_HZ, timeout=BUS_TIMEOUT_US)

    def free(self) -> bool:
        """Take the pins back as open-drain lines and clock a stuck device free."""
        scl = Pin(self._scl, Pin.OPEN_DRAIN, Pin.PULL_UP, value=1)
        sda = Pin(self._sda, Pin.OPEN_DRAIN, Pin.PULL_UP, value=1)
        return free_bus(scl, sda, time.sleep_us)


def _open_bus(block: int, sda: int, scl: int) -> I2CBus:
    lines = _Lines(block, sda, scl)
    lines.free()  # a device may still be in the middle of a read from before the reset
    return I2CBus(lines.make_i2c, lines.free)


def _start_word() -> str:
    """Why the board has started, or "maintenance"; the mark of a restart counts once."""
    mark = mem32[_SCRATCH0]
    mem32[_SCRATCH0] = 0
    if reset_cause() != WDT_RESET:
        return "power"
    return {_RESTART_MARK: "restart", _MAINTENANCE_MARK: "maintenance"}.get(mark, "watchdog")


class Board(PlainBoard):
    """The hardware as the loop and the drivers want it; the tone is silent, the lamp dark.

    name: as in the flight log.
    start_word: "power", "watchdog", or "restart" where the program asked for it. On this chip
    `machine.reset()` goes through the watchdog, too (MicroPython issue 19409), so a mark is left
    in SCRATCH0 of the watchdog: its content "persists through soft reset of the chip" (register
    list of the RP2040, 0x0c from 0x40058000). The boot ROM and the SDK use 4 to 7 of them (from
    memory). A start of the interpreter alone, Ctrl-D, counts as the cause before it.
    """

    name = "rpi_pico"

    def __init__(self) -> None:
        self.pwm = PWM(Pin(TONE), freq=_FIRST_TONE_HZ, duty_u16=0)
        self.clock = Clock(time)
        self.pitot_bus = _open_bus(0, PITOT_SDA, PITOT_SCL)
        self.angled_bus = _open_bus(1, ANGLED_SDA, ANGLED_SCL)
        self.accel_bus = self.pitot_bus
        self.lamp_pin = Pin(LAMP, Pin.OUT, value=0)
        self.button_pin = Pin(BUTTON, Pin.IN, Pin.PULL_UP)
        self.flap_pins = tuple(Pin(pin, Pin.IN, Pin.PULL_UP) for pin in FLAPS)
        self.console = open_console()
        self._note_start(_start_word())

    def start_timer(self, period_ms: int, callback) -> Timer:
        """A running timer whose callback is called from the interrupt itself."""
        return self._keep(
            Timer(-1, mode=Timer.PERIODIC, period=period_ms, callback=callback, hard=True))

    def make_watchdog(self, timeout_ms: int) -> WDT:
        """A running watchdog, at most WATCHDOG_MOST_MS; it can't be stopped again."""
        return WDT(timeout=min(timeout_ms, WATCHDOG_MOST_MS))

    def restart(self) -> None:
        """Start again from the beginning."""
        mem32[_SCRATCH0] = _RESTART_MARK
        reset()

    def maintain(self) -> None:
        """Start again, and then do not start the unit: see `maintenance`."""
        mem32[_SCRATCH0] = _MAINTENANCE_MARK
        reset()
