"""24-bit pressure sensors TE MS5525DSO over I2C.

Facts of the data sheet, by way of two open autopilots that cite it: commands reset 0x1E, PROM
words from 0xA0, conversion of the pressure 0x40 to 0x48 and of the temperature 0x50 to 0x58 by
oversampling (OSR 256 to 4096), result 0x00; address 0x76 or 0x77. A result that is fetched before
its conversion has ended reads as 0, and so does the same result fetched twice; what the
conversion gives then is wrong. A reset loads the PROM, 2.8 ms. Longest conversions 0.60, 1.17,
2.28, 4.54 and 9.04 ms: from memory of the data sheet; other drivers wait 1, 2, 3, 5 and 10 ms.

The word handed over is the compensated pressure in 0.1 Pa: the raw word says nothing without the
coefficients that only this driver has read. It is about as fine as the sensor's own noise.
"""

from micropython import const

from alula.sample import FRESH, NO_REPLY, SENSOR_FAULT, STALE
from drivers.ms5525_compensation import Compensation
from drivers.retry import Retry, count_up

_RESET, _PROM, _CONVERT, _FETCH = const(0), const(1), const(2), const(3)
_RESET_COMMAND = const(0x1E)
_PROM_COMMAND = const(0xA0)
_PRESSURE_COMMAND = const(0x40)
_TEMPERATURE_COMMAND = const(0x50)
_RESULT_COMMAND = const(0x00)
# ms from the command to the fetch, by OSR: the longest conversion, rounded up, and one more,
# because a counter of whole ms may have been about to step.
WAITS_MS = (2, 3, 4, 6, 11)
_RESET_WAIT_MS = const(4)
_SLACK_MS = const(2)  # of a period: a tick that is late makes the one after it come sooner
_ALL_ONES = const(0xFFFFFF)
_PATIENCE = const(20)  # failed calls in a row before the sensor is asked less, and read in anew
_EVERY = const(10)
_ZEROS = const(3)  # empty results in a row before the PROM is read again
_REST_READS = const(100)  # a PROM that is wrong is read again once a second at 100 Hz


def oversampling_for(period_ms: int) -> int:
    """Index into WAITS_MS of the finest conversion that fits one tick."""
    found = 0
    for i in range(len(WAITS_MS)):
        if WAITS_MS[i] <= period_ms - _SLACK_MS:
            found = i
    return found


class PressureMs5525:
    """One sensor; call `read()` once a tick. In each it fetches a result and orders the next.

    status, errors: as `Pressure14Bit`. word: latest fresh pressure, 0.1 Pa, -100000..100000.
    STALE, the sensor answers but has no new pressure: while it is read in (ten ticks), while a
    conversion lasts, once a second for the temperature, and after an empty result.
    SENSOR_FAULT: a PROM that is not a sensor's, a temperature no sensor has, all ones.

    An empty result means that the sensor has forgotten what it was asked: it may have been
    without power, so it is reset, and the first result after that is dropped. After a command
    that failed it is reset as well. When it has been gone for long, or goes on being empty, all
    is read in anew: it may be another one.
    """

    def __init__(self, i2c, address: int, doublings: int, clock, period_ms: int) -> None:
        """i2c: `readfrom_mem_into` and `writeto`; address: 0x76 or 0x77; doublings: of the range,
        see `Compensation`; clock: now_ms(), since_ms(a, b); period_ms: of the tick."""
        self.status = NO_REPLY
        self.word = 0
        self.errors = 0
        self._i2c = i2c
        self._address = address
        self._clock = clock
        self._compensation = Compensation(doublings)
        oversampling = oversampling_for(period_ms)
        self._osr_bits = 2 * oversampling
        self._conversion_ms = WAITS_MS[oversampling]
        self._command = bytearray(1)  # written alone: with a register, the port would allocate
        self._two = bytearray(2)
        self._three = bytearray(3)
        self._retry = Retry(_PATIENCE, _EVERY)
        self._temperature_every = 1000 // period_ms
        self._since_ms = 0
        self._wait_ms = 0
        self._silent = 0
        self._zeros = 0
        self._rest = 0
        self._drop = False
        self._wants_temperature = True
        self._begin(True)

    def temperature_dc(self) -> int:
        """0.1 degC, at most a second old. No allocation."""
        return self._compensation.temperature_dc

    def read(self) -> None:
        """One step on. Never raises on a bus failure. No allocation."""
        if not self._retry.due():
            return
        if self._rest:
            self._rest -= 1
            return
        clock = self._clock
        if self._wait_ms and (
                clock.since_ms(clock.now_ms(), self._since_ms) < self._wait_ms):
            self.status = STALE
            return
        try:
            self._work()
        except OSError:
            self.status = NO_REPLY
            self._failed()
            return
        self._retry.answered()
        self._silent = 0

    def _begin(self, whole: bool) -> None:
        """Reset at the next turn; whole: with everything that is read from the PROM."""
        self._step = _RESET
        self._wait_ms = 0
        self._whole = whole
        self._wants_temperature = whole or self._wants_temperature
        self._until_temperature = self._temperature_every
        self._at = 0

    def _failed(self) -> None:
        """A call has failed. A result may be fetched again: if the sensor was without power
        meanwhile, it is empty. After any other call nothing would show that."""
        self.errors = count_up(self.errors)
        self._retry.failed()
        self._silent += 1
        if self._silent >= _PATIENCE:
            self._silent = _PATIENCE
            self._begin(True)
        elif self._step != _FETCH:
            self._begin(self._whole)
            self._drop = True

    def _work(self) -> None:
        step = self._step
        if step == _FETCH:
            self._fetch()
            return
        self.status = STALE
        if step == _CONVERT:
            self._convert()
        elif step == _PROM:
            self._read_in()
        else:
            self._send(_RESET_COMMAND, _RESET_WAIT_MS)
            self._step = _PROM if self._whole else _CONVERT

    def _send(self, command: int, wait_ms: int) -> None:
        self._command[0] = command
        self._i2c.writeto(self._address, self._command)
        self._since_ms = self._clock.now_ms()
        self._wait_ms = wait_ms

    def _convert(self) -> None:
        command = _TEMPERATURE_COMMAND if self._wants_temperature else _PRESSURE_COMMAND
        self._step = _CONVERT
        self._send(command | self._osr_bits, self._conversion_ms)
        self._step = _FETCH

    def _read_in(self) -> None:
        """One word of the PROM a turn."""
        self._wait_ms = 0
        self._i2c.readfrom_mem_into(self._address, _PROM_COMMAND + 2 * self._at, self._two)
        self._compensation.take(self._at, self._two[0] << 8 | self._two[1])
        self._at += 1
        if self._at < 8:
            return
        if self._compensation.believable():
            self._step = _CONVERT
            self._whole = False
            return
        self._refuse()
        self._rest = _REST_READS
        self._begin(True)

    def _fetch(self) -> None:
        """Take in a result, and order the next conversion in the same turn."""
        self._i2c.readfrom_mem_into(self._address, _RESULT_COMMAND, self._three)
        three = self._three
        raw = three[0] << 16 | three[1] << 8 | three[2]
        if not raw:
            self._found_empty()
            return
        self._zeros = 0
        self._judge(raw)
        try:
            self._convert()
        except OSError:
            self._failed()

    def _found_empty(self) -> None:
        self.status = STALE
        self.errors = count_up(self.errors)
        if self._zeros < _ZEROS:
            self._zeros += 1
        self._begin(self._zeros >= _ZEROS)
        self._drop = True

    def _judge(self, raw: int) -> None:
        """What a result that is not empty says; it is a temperature where one was ordered."""
        self.status = STALE
        if self._drop:
            self._drop = False
        elif raw == _ALL_ONES:
            self._refuse()
        elif not self._wants_temperature:
            self.word = self._compensation.pressure_dpa(raw)
            self.status = FRESH
            self._until_temperature -= 1
            self._wants_temperature = self._until_temperature <= 0
        elif self._compensation.warm_to(raw):
            self._wants_temperature = False
            self._until_temperature = self._temperature_every
        else:
            self._refuse()

    def _refuse(self) -> None:
        self.status = SENSOR_FAULT
        self.errors = count_up(self.errors)
