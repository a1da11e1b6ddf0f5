"""Pressure sensors of the 14-bit I2C family: TE MS4525DO and Honeywell HSC, SSC, ABP.

All send the same four bytes, most significant first: 2 status bits, 14 pressure bits, 11
temperature bits, 5 bits without a meaning. What a word means in pascals differs (output type and
range) and is no business of this driver.

Status bits: 00 new data, 01 command mode (Honeywell) or reserved (TE), 10 stale, that is already
fetched, 11 diagnostic fault. TE data sheet of the MS4525DO for 00 and 10; Honeywell's for all
four, by way of the Linux driver that cites it. Some libraries list 01 as stale: they are wrong.
"""

from micropython import const

from alula.sample import FRESH, NO_REPLY, SENSOR_FAULT, STALE
from drivers.retry import Retry, count_up

WORD_MOST = const(16383)
TEMPERATURE_WORD_MOST = const(2047)
_BITS_FRESH = const(0)
_BITS_STALE = const(2)
_PATIENCE = const(20)  # failed reads in a row (0.2 s at 100 Hz) before the sensor is asked less
_EVERY = const(10)  # then every tenth read, so a sensor that comes back is heard within 0.1 s


class Pressure14Bit:
    """One sensor; call `read()` once a tick.

    status: FRESH, STALE, NO_REPLY or SENSOR_FAULT of `alula.sample`, about the latest read.
    word: the latest fresh pressure word, raw, 0..16383; rails are passed on, not judged.
    temperature_word: its temperature word, 0..2047; degC = word * 200 / 2047 - 50.
    errors: failed reads and reported faults, counted up to `retry.COUNT_MOST`.
    Only when `status` is FRESH are the words new: anything else leaves them as they were.
    """

    def __init__(self, i2c, address: int) -> None:
        """i2c: anything with `readfrom_into(address, buffer)`; address: 7 bits."""
        self.status = NO_REPLY
        self.word = 0
        self.temperature_word = 0
        self.errors = 0
        self._i2c = i2c
        self._address = address
        self._frame = bytearray(4)
        self._retry = Retry(_PATIENCE, _EVERY)

    def temperature_dc(self) -> int:
        """0.1 degC of the latest fresh frame (data sheet: word * 200 / 2047 - 50). No
        allocation."""
        return self.temperature_word * 2000 // 2047 - 500

    def read(self) -> None:
        """Fetch one frame. Never raises on a bus failure. No allocation."""
        if not self._retry.due():
            return
        try:
            self._i2c.readfrom_into(self._address, self._frame)
        except OSError:
            self.status = NO_REPLY
            self.errors = count_up(self.errors)
            self._retry.failed()
            return
        self._retry.answered()
        self._decode()

    def _decode(self) -> None:
        frame = self._frame
        bits = frame[0] >> 6
        if bits == _BITS_FRESH:
            self.word = (frame[0] & 0x3F) << 8 | frame[1]
            self.temperature_word = frame[2] << 3 | frame[3] >> 5
            self.status = FRESH
        elif bits == _BITS_STALE:
            self.status = STALE
        else:
            self.status = SENSOR_FAULT
            self.errors = count_up(self.errors)
