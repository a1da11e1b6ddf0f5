"""A register-level fake of the 24-bit sensor MS5525DSO on the fake I2C bus.

It answers as the data sheet has it (by way of two open autopilots that cite it): reset 0x1E,
PROM words from 0xA0, conversions 0x40 to 0x48 and 0x50 to 0x58, result 0x00. A result that is
fetched too early, or twice, is 0; a conversion that was disturbed by a fetch gives a wrong one.
Its arithmetic is its own: exact fractions of the data sheet's formula, turned round.
"""

from host_sim.bench.fake_i2c import EIO, FakeDevice
from host_sim.bench.virtual_clock import VirtualClock

# Longest conversion by oversampling 256 to 4096, in us (data sheet, from memory).
CONVERSION_US = (600, 1170, 2280, 4540, 9040)
RESET_US = 2800
# Coefficients C1 to C6 of the order of a real sensor's; invented, no sensor's own.
COEFFICIENTS = (36402, 39473, 40393, 29523, 29854, 21917)
PSI_NPA = 6894757293168  # 1 psi in nPa (NIST SP 811)
_DISTURBED = 12345  # added to what a disturbed conversion gives


def crc4(words: list[int]) -> int:
    """CRC-4 of eight PROM words: the rest of their first 124 bits, divided by x^4 + x + 1; the
    low byte of the last word counts as zeros."""
    bits = 0
    for i in range(8):
        bits = bits << 16 | (words[i] if i < 7 else words[i] & 0xFF00)
    bits >>= 4
    for at in range(123, 3, -1):
        if bits >> at & 1:
            bits ^= 0b10011 << (at - 4)
    return bits & 15


class FakeMs5525(FakeDevice):
    """`refresh(dpa)` sets the pressure, 0.1 Pa; `warm(centi)` the temperature, 0.01 degC.

    prom: eight words, the right CRC in the last; a test may spoil them. doublings: 0 for the
    001DS, 1 for the 002DS. slow_us: what a conversion takes longer than it may.
    raw_override: None, or what every result says. status_override: not None for a sensor that is
    broken, and gives all ones (the name is the 14-bit fake's).
    early: results fetched before their conversion had ended. resets: how often it was reset.
    lose_power(): it answers no more; gain_power(): it does, but has forgotten everything, and
    until it is reset its conversions are wrong.
    """

    def __init__(self, clock: VirtualClock, doublings: int = 0) -> None:
        self.doublings = doublings
        self.prom = [4711, COEFFICIENTS[0], COEFFICIENTS[1], COEFFICIENTS[2], COEFFICIENTS[3],
                     COEFFICIENTS[4], COEFFICIENTS[5], 0x4500]
        self.prom[7] |= crc4(self.prom)
        self.dpa = 0
        self.temperature_raw = 0
        self.raw_override: int | None = None
        self.status_override: int | None = None
        self.slow_us = 0
        self.early = 0
        self.resets = 0
        self.commands = 0
        self._clock = clock
        self._base = 0
        self._slope = 0
        self.warm(2000)
        self.gain_power()

    def refresh(self, dpa: int) -> None:
        """The pressure from now on, 0.1 Pa."""
        self.dpa = dpa

    def lose_power(self) -> None:
        """No answer from here on."""
        self._powered = False

    def gain_power(self) -> None:
        """Answers again, without memory."""
        self._powered = True
        self._loaded = False
        self._command = 0
        self._result = 0
        self._ready_us = 0

    def read(self, buffer: bytearray) -> None:
        """A read without a command gets nothing."""
        self._check()
        for i in range(len(buffer)):
            buffer[i] = 0

    def write(self, buffer: bytearray) -> None:
        """A command."""
        self._check()
        self._do(buffer[0])

    def write_registers(self, register: int, buffer: bytearray) -> None:
        """A command, and bytes that it takes no notice of."""
        self._check()
        self._do(register)

    def read_registers(self, register: int, buffer: bytearray) -> None:
        """A command, and what it answers."""
        self._check()
        value = 0
        if register == 0:
            value = self._fetch()
        elif 0xA0 <= register <= 0xAE and self._clock.elapsed_us() >= self._ready_us:
            value = self.prom[(register - 0xA0) >> 1]
        for i in range(len(buffer)):
            buffer[len(buffer) - 1 - i] = value >> (8 * i) & 0xFF

    def _check(self) -> None:
        if not self._powered:
            raise OSError(EIO)

    def _do(self, command: int) -> None:
        self.commands += 1
        if command == 0x1E:
            self.resets += 1
            self._loaded = True
            self._command = 0
            self._result = 0
            self._ready_us = self._clock.elapsed_us() + RESET_US
        elif command & 0xE1 == 0x40 and command & 0x0F <= 8:
            busy = self._clock.elapsed_us() < self._ready_us
            self._command = command
            self._ready_us = (self._clock.elapsed_us() + self.slow_us
                              + CONVERSION_US[(command & 0x0F) >> 1])
            raw = self.pressure_raw() if command < 0x50 else self.temperature_raw
            self._result = raw + (_DISTURBED if busy or not self._loaded else 0)

    def _fetch(self) -> int:
        if self.status_override is not None:
            return 0xFFFFFF
        if self._command and self._clock.elapsed_us() < self._ready_us:
            self.early += 1
            self._result += _DISTURBED
            return 0
        result = self._result
        self._command = 0
        self._result = 0
        if result and self.raw_override is not None:
            return self.raw_override
        return min(max(result, 0), 0xFFFFFF)

    def warm(self, temperature_centi: int) -> None:
        """The temperature from now on, 0.01 degC. May allocate; what follows from it is worked
        out here, so that a conversion does not.

        TEMP = 2000 + dT * C6 / 2^Q6 and P = (D1 * SENS / 2^21 - OFF) / 2^15, turned round.
        """
        prom, more = self.prom, self.doublings
        dt = ((temperature_centi - 2000) << (21 + more)) // prom[6]
        self.temperature_raw = dt + (prom[5] << 7)
        # OFF and SENS times 2^7, so that nothing is lost
        offset = (prom[2] << (24 + more)) + (prom[4] * dt << (2 + more))
        sens = (prom[1] << (22 + more)) + (prom[3] * dt << more)
        # D1 times 2^20: at no pressure, and for each 0.1 Pa (10^12 / PSI_NPA of 0.0001 psi)
        self._base = (offset << 41) // sens
        self._slope = ((10 ** 12 << 63) // PSI_NPA) // sens

    def pressure_raw(self) -> int:
        """D1 for the pressure. No allocation on a 64-bit machine."""
        return (self._base + self._slope * self.dpa + (1 << 19)) >> 20
