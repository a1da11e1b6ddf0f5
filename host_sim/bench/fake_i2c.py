"""Register-level fakes of an I2C bus and of a 14-bit pressure sensor on it."""

from host_sim.bench.fake_pins import OpenDrainLines
from host_sim.bench.virtual_clock import VirtualClock

EIO = 5  # what MicroPython's rp2 port raises when nobody acknowledges
ETIMEDOUT = 110  # and when a line is held beyond the time limit


class FakeDevice:
    """What a device on the fake bus answers to; buffers are filled in place."""

    def read(self, buffer: bytearray) -> None:
        """A read without a register address."""
        raise NotImplementedError

    def write(self, buffer: bytearray) -> None:
        """A write without a register address: the first byte is the register, or a command."""
        raise NotImplementedError

    def read_registers(self, register: int, buffer: bytearray) -> None:
        """A read from `register` on."""
        raise NotImplementedError

    def write_registers(self, register: int, buffer: bytearray) -> None:
        """A write from `register` on."""
        raise NotImplementedError


class FakeI2C:
    """Devices by address, behind the calls of `machine.I2C` that the firmware uses.

    clock, call_us: each call takes so long; a bus that is not free takes `timeout_us` and raises
    ETIMEDOUT. fail_next(n): the next n calls raise EIO, as after a disturbed clock.
    lines: the two wires, for holding them down and clocking them free.
    """

    def __init__(self, clock: VirtualClock | None = None, call_us: int = 0,
                 timeout_us: int = 3000) -> None:
        self.lines = OpenDrainLines()
        self.devices: dict[int, FakeDevice] = {}
        self.calls = 0
        self.call_us = call_us
        self.timeout_us = timeout_us
        self._clock = clock
        self._failures = 0

    def attach(self, address: int, device: FakeDevice) -> None:
        """Put a device on the bus."""
        self.devices[address] = device

    def detach(self, address: int) -> None:
        """Pull its plug."""
        del self.devices[address]

    def fail_next(self, calls: int) -> None:
        """The next `calls` calls raise EIO."""
        self._failures = calls

    def readfrom_into(self, address: int, buffer: bytearray) -> None:
        """As `machine.I2C.readfrom_into`."""
        self._call(address).read(buffer)

    def readfrom_mem_into(self, address: int, register: int, buffer: bytearray) -> None:
        """As `machine.I2C.readfrom_mem_into`."""
        self._call(address).read_registers(register, buffer)

    def writeto(self, address: int, buffer: bytearray) -> int:
        """As `machine.I2C.writeto`; returns the number of bytes that were acknowledged."""
        self._call(address).write(buffer)
        return len(buffer)

    def writeto_mem(self, address: int, register: int, buffer: bytearray) -> None:
        """As `machine.I2C.writeto_mem`."""
        self._call(address).write_registers(register, buffer)

    def scan(self) -> list[int]:
        """Addresses in rising order."""
        self._spend_and_check()
        return sorted(self.devices)

    def _call(self, address: int) -> FakeDevice:
        self._spend_and_check()
        if address not in self.devices:
            raise OSError(EIO)
        return self.devices[address]

    def _spend_and_check(self) -> None:
        self.calls += 1
        if not self.lines.free():
            self._spend(self.timeout_us)
            raise OSError(ETIMEDOUT)
        self._spend(self.call_us)
        if self._failures > 0:
            self._failures -= 1
            raise OSError(EIO)

    def _spend(self, duration_us: int) -> None:
        if self._clock is not None:
            self._clock.advance_us(duration_us)


class FakePressure14(FakeDevice):
    """A sensor of the 14-bit family: two status bits, 14 bits of pressure, 11 of temperature.

    `refresh(code)` is the end of a conversion: the next read is fresh (00), later ones are stale
    (10) with the same data until the next refresh, as the MS4525DO data sheet has it.
    status_override: None, or the two bits to send whatever happened.
    junk: the five low bits, which the data sheet leaves undefined.
    """

    def __init__(self, code: int = 8192, temperature_code: int = 767) -> None:
        self.code = code
        self.temperature_code = temperature_code
        self.status_override: int | None = None
        self.junk = 0
        self._fetched = False

    def refresh(self, code: int) -> None:
        """A conversion has ended with this code, 0..16383; ValueError outside."""
        if not 0 <= code <= 16383:
            raise ValueError("a pressure code has 14 bits")
        self.code = code
        self._fetched = False

    def read(self, buffer: bytearray) -> None:
        """Fill the master's buffer: the frame's first bytes, up to four."""
        bits = 2 if self._fetched else 0
        if self.status_override is not None:
            bits = self.status_override
        for i in range(len(buffer)):
            buffer[i] = self._byte(i, bits)
        self._fetched = True

    def _byte(self, i: int, bits: int) -> int:
        if i == 0:
            return bits << 6 | self.code >> 8
        if i == 1:
            return self.code & 0xFF
        if i == 2:
            return self.temperature_code >> 3
        if i == 3:
            return (self.temperature_code & 7) << 5 | self.junk
        return 0xFF  # past the frame nobody pulls the line

    def read_registers(self, register: int, buffer: bytearray) -> None:
        """These sensors have no registers; the read part of the call gets the frame."""
        self.read(buffer)

    def write_registers(self, register: int, buffer: bytearray) -> None:
        """Writes wake a conversion in other variants of the family; here nothing happens."""
