"""A board made of fakes, with the attributes of the firmware's `boards.rpi_pico.Board`."""

from alula.transfer import COMPENSATED
from drivers.bus_recovery import free_bus
from drivers.console import Console
from drivers.i2c_bus import I2CBus
from host_sim.bench.fake_accelerometer import FakeAdxl345, FakeLis3dh
from host_sim.bench.fake_console import FakeKeys, FakePoller, FakeStream
from host_sim.bench.fake_i2c import FakeI2C, FakePressure14
from host_sim.bench.fake_ms5525 import FakeMs5525
from host_sim.bench.fake_pins import FakePin, ScriptedContact
from host_sim.bench.fake_pwm import RecordingPwm
from host_sim.bench.fake_timer import FakeTimer
from host_sim.bench.fake_watchdog import FakeWatchdog
from host_sim.bench.virtual_clock import VirtualClock

PRESSURE_ADDRESS = 0x28
LIS3DH_ADDRESS = 0x18
ADXL345_ADDRESS = 0x53


class _Lines:
    """A fake bus as the bus recovery sees it."""

    def __init__(self, i2c: FakeI2C, clock: VirtualClock) -> None:
        self.i2c = i2c
        self._clock = clock

    def make_i2c(self) -> FakeI2C:
        """The same fake every time: the wires and devices stay where they are."""
        return self.i2c

    def free(self) -> bool:
        """Clock a stuck device free, by the firmware's own means."""
        return free_bus(self.i2c.lines.scl, self.i2c.lines.sda, self._clock.sleep_us)


def _pressure_sensor(output: str, clock: VirtualClock):
    """The fake of the family that an output type belongs to."""
    if output in COMPENSATED:
        return FakeMs5525(clock, COMPENSATED.index(output))
    return FakePressure14()


class BenchBoard:
    """Two pressure sensors on two buses, an accelerometer on the first, and the rest.

    Like the board: name, clock, pitot_bus, angled_bus, accel_bus, pwm, lamp_pin, button_pin,
    flap_pins, console, start_word, make_watchdog(timeout_ms),
    start_timer(period_ms, callback), describe(error), restart(), maintenance, maintain(),
    free_memory().
    For the test: pitot_i2c and angled_i2c (bus faults), pitot_sensor, angled_sensor, accel_chip
    (None, or the fake chip; address in accel_address), watchdog (once made); terminal and keys:
    what the computer on the console sees and sends.
    """

    name = "bench"

    def __init__(self, clock: VirtualClock | None = None, accel: str | None = "lis3dh",
                 pwm_events: int = 4096, pitot_address: int = PRESSURE_ADDRESS,
                 angled_address: int = PRESSURE_ADDRESS, accel_address: int = 0,
                 pitot_output: str = "hsc-a", angled_output: str = "hsc-a") -> None:
        """accel: None, "lis3dh" or "adxl345", else ValueError; accel_address: 0 is its usual.
        The outputs, as in the settings, say which family of sensor is fitted."""
        self.clock = clock if clock is not None else VirtualClock()
        self.pitot_i2c = FakeI2C(self.clock)
        self.angled_i2c = FakeI2C(self.clock)
        self.pitot_sensor = _pressure_sensor(pitot_output, self.clock)
        self.angled_sensor = _pressure_sensor(angled_output, self.clock)
        self.pitot_i2c.attach(pitot_address, self.pitot_sensor)
        self.angled_i2c.attach(angled_address, self.angled_sensor)
        self._fit_accelerometer(accel, accel_address)
        self.pitot_bus = self._open_bus(self.pitot_i2c)
        self.angled_bus = self._open_bus(self.angled_i2c)
        self.accel_bus = self.pitot_bus
        self.pwm = RecordingPwm(self.clock, pwm_events)
        self.lamp_pin = FakePin(0)
        self.button_pin = ScriptedContact(self.clock)
        self.flap_pins = (FakePin(1), FakePin(1), FakePin(1))
        self.terminal = FakeStream()
        self.keys = FakeKeys()
        self.console = Console(self.terminal, FakePoller(), self.keys, self.keys,
                               self.terminal.buffer)
        self.start_word = "power"
        self.maintenance = False
        self.restarts = 0
        self.maintains = 0
        self.watchdog: FakeWatchdog | None = None

    def _fit_accelerometer(self, accel: str | None, address: int) -> None:
        usual = LIS3DH_ADDRESS if accel == "lis3dh" else ADXL345_ADDRESS
        self.accel_address = address or usual
        if accel is None:
            self.accel_chip = None
            return
        if accel not in ("lis3dh", "adxl345"):
            raise ValueError("accelerometer: None, lis3dh or adxl345")
        self.accel_chip = FakeLis3dh() if accel == "lis3dh" else FakeAdxl345()
        self.pitot_i2c.attach(self.accel_address, self.accel_chip)

    def _open_bus(self, i2c: FakeI2C) -> I2CBus:
        lines = _Lines(i2c, self.clock)
        return I2CBus(lines.make_i2c, lines.free)

    def start_timer(self, period_ms: int, callback) -> FakeTimer:
        """A running timer on the board's clock."""
        timer = FakeTimer(self.clock, period_ms, callback)
        self.clock.watch(timer)
        return timer

    def make_watchdog(self, timeout_ms: int) -> FakeWatchdog:
        """A running watchdog on the board's clock."""
        self.watchdog = FakeWatchdog(self.clock, timeout_ms)
        return self.watchdog

    def describe(self, error: Exception) -> str:
        """What the board would print of an exception, in short."""
        return "%s: %s" % (type(error).__name__, error)

    def restart(self) -> None:
        """Counted; the test then makes a new board."""
        self.restarts += 1

    def maintain(self) -> None:
        """Counted; the test then makes a new board with `maintenance` set."""
        self.maintains += 1

    def free_memory(self) -> int:
        """Free heap after start of the real board, in bytes; a fixed number here."""
        return 239000
