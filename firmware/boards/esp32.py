"""A board with an ESP32, the first of its kind (two cores, WROOM module with 4 MB of flash).

Not tried on a real board. Wiring (GPIO number, as printed on most boards). Everything here is
3.3 V: a sensor with 5 V on its bus lines destroys the board.

    pitot sensor and accelerometer   SDA GPIO21   SCL GPIO22
    angled-port sensor               SDA GPIO25   SCL GPIO26
    tone, through filter and isolating transformer  GPIO27
    lamp, through its resistor to ground            GPIO32
    button, to ground                               GPIO33
    flap switches, to ground         GPIO18, GPIO19, GPIO23

Left alone, from the chip's documentation: GPIO0, 2, 5, 12, 15 decide how it starts; 6 to 11 are
its flash; 16 and 17 memory on some modules; 34 to 39 have no pull-up. Each bus needs pull-ups of
2.2 to 4.7 kOhm to 3.3 V if the sensor boards bring none.

What differs from the other board, and why:

- The buses are driven by software (`SoftI2C`). The port's hardware I2C waits up to 0.1 s a byte
  for a bus that is held (ports/esp32/machine_i2c.c), five hundred times a tick's share; software
  gives up after BUS_TIMEOUT_US when a clock line is held. A data line that is held low it would
  read as zeros, so that line is looked at before every call.
- The port has no timer that calls from the interrupt: `hard=True` raises ValueError, and the
  callback is put in a queue that is worked off between two steps of the program
  (ports/esp32/machine_timer.c). So the sound's heartbeat takes over from a program that hangs in
  a loop of its own, but not while it hangs inside one call of the port. What remains then is the
  watchdog: the chip starts again two seconds after the last tick, and the tone stands until then.
- The hardware timers are 0 to 3; -1 means nothing on most versions of the port, so 0 is used.
- The watchdog's time is 1 s at least (MicroPython documentation).
- The tone comes from the LED controller, `machine.PWM` as on the other board.
- Radio is never switched on.
"""

import time
from errno import ETIMEDOUT

from machine import (
    PWM,
    PWRON_RESET,
    RTC,
    WDT,
    WDT_RESET,
    Pin,
    SoftI2C,
    Timer,
    reset,
    reset_cause,
)
from micropython import const

from boards.plain import PlainBoard, open_console
from drivers.bus_recovery import free_bus
from drivers.clock import Clock
from drivers.i2c_bus import I2CBus

PITOT_SDA = const(21)
PITOT_SCL = const(22)
ANGLED_SDA = const(25)
ANGLED_SCL = const(26)
TONE = const(27)
LAMP = const(32)
BUTTON = const(33)
FLAPS = (18, 19, 23)

BUS_HZ = const(400000)  # an upper limit: software reaches less
BUS_TIMEOUT_US = const(3000)
WATCHDOG_LEAST_MS = const(1000)
_TIMER = const(0)
_RESTART_MARK = b"alula restarts"
_MAINTENANCE_MARK = b"alula maintenance"
_FIRST_TONE_HZ = const(1000)  # any pitch: the duty is zero until the first tone


class WatchedI2C:
    """A software I2C that refuses to talk while its data line is held low."""

    def __init__(self, i2c: SoftI2C, sda: Pin) -> None:
        self._i2c = i2c
        self._sda = sda
        self._held = OSError(ETIMEDOUT)  # made once: a held bus must not fill the heap

    def readfrom_into(self, address: int, buffer: bytearray) -> None:
        """As `machine.I2C.readfrom_into`."""
        self._check()
        self._i2c.readfrom_into(address, buffer)

    def readfrom_mem_into(self, address: int, register: int, buffer: bytearray) -> None:
        """As `machine.I2C.readfrom_mem_into`."""
        self._check()
        self._i2c.readfrom_mem_into(address, register, buffer)

    def writeto(self, address: int, buffer: bytearray) -> int:
        """As `machine.I2C.writeto`."""
        self._check()
        return self._i2c.writeto(address, buffer)

    def writeto_mem(self, address: int, register: int, buffer: bytearray) -> None:
        """As `machine.I2C.writeto_mem`."""
        self._check()
        self._i2c.writeto_mem(address, register, buffer)

    def scan(self) -> list[int]:
        """As `machine.I2C.scan`."""
        self._check()
        return self._i2c.scan()

    def _check(self) -> None:
        if not self._sda.value():
            raise self._held


class _Lines:
    """The two pins of one bus."""

    def __init__(self, sda: int, scl: int) -> None:
        self._sda = sda
        self._scl = scl

    def make_i2c(self) -> WatchedI2C:
        """Hand the pins to the software I2C."""
        sda = Pin(self._sda)
        return WatchedI2C(
            SoftI2C(scl=Pin(self._scl), sda=sda, freq=BUS_HZ, timeout=BUS_TIMEOUT_US), sda)

    def free(self) -> bool:
        """Take the pins back as open-drain lines and clock a stuck device free."""
        scl = Pin(self._scl, Pin.OPEN_DRAIN, Pin.PULL_UP, value=1)
        sda = Pin(self._sda, Pin.OPEN_DRAIN, Pin.PULL_UP, value=1)
        return free_bus(scl, sda, time.sleep_us)


def _open_bus(sda: int, scl: int) -> I2CBus:
    lines = _Lines(sda, scl)
    lines.free()  # a device may still be in the middle of a read from before the reset
    return I2CBus(lines.make_i2c, lines.free)


def _start_word() -> str:
    """Why the board has started, or "maintenance"; a mark counts once."""
    memory = RTC()
    mark = memory.memory()
    memory.memory(b"")
    cause = reset_cause()
    if cause != PWRON_RESET and mark in (_RESTART_MARK, _MAINTENANCE_MARK):
        return "restart" if mark == _RESTART_MARK else "maintenance"
    return "watchdog" if cause == WDT_RESET else "power"


class Board(PlainBoard):
    """The hardware as the loop and the drivers want it; the tone is silent, the lamp dark.

    name: as in the flight log.
    start_word: "power", "watchdog", or "restart" where the program asked for it. What
    `machine.reset()` counts as differs between versions of the port (MicroPython issue 5134, pull
    request 6003), so a mark is left in the memory of the clock, which lives through every restart
    but a loss of power (MicroPython documentation of `RTC.memory`). The reset button of most
    boards, a brown-out and a fault inside the port itself count as "power".
    """

    name = "esp32"

    def __init__(self) -> None:
        self.pwm = PWM(Pin(TONE), freq=_FIRST_TONE_HZ, duty_u16=0)
        self.clock = Clock(time)
        self.pitot_bus = _open_bus(PITOT_SDA, PITOT_SCL)
        self.angled_bus = _open_bus(ANGLED_SDA, ANGLED_SCL)
        self.accel_bus = self.pitot_bus
        self.lamp_pin = Pin(LAMP, Pin.OUT, value=0)
        self.button_pin = Pin(BUTTON, Pin.IN, Pin.PULL_UP)
        self.flap_pins = tuple(Pin(pin, Pin.IN, Pin.PULL_UP) for pin in FLAPS)
        self.console = open_console()
        self._note_start(_start_word())

    def start_timer(self, period_ms: int, callback) -> Timer:
        """A running timer whose callback is called between two steps of the program."""
        return self._keep(
            Timer(_TIMER, mode=Timer.PERIODIC, period=period_ms, callback=callback))

    def make_watchdog(self, timeout_ms: int) -> WDT:
        """A running watchdog, at least WATCHDOG_LEAST_MS; it can't be stopped again."""
        return WDT(timeout=max(timeout_ms, WATCHDOG_LEAST_MS))

    def restart(self) -> None:
        """Start again from the beginning."""
        RTC().memory(_RESTART_MARK)
        reset()

    def maintain(self) -> None:
        """Start again, and then do not start the unit: see `maintenance`."""
        RTC().memory(_MAINTENANCE_MARK)
        reset()
