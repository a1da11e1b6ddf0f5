"""Acceleration along the wing-normal axis, from an LIS3DH or an ADXL345 on the I2C bus."""

from micropython import const

from alula.sample import FRESH, NO_REPLY, STALE
from drivers.accelerometer_chips import ADXL345_CHIP, LIS3DH_CHIP
from drivers.retry import count_up

LIS3DH = 1
ADXL345 = 2
_MISSES_MOST = const(50)  # reads in a row without a new sample before the chip counts as lost
_RETRY_READS = const(100)  # a lost chip is looked for once a second at 100 Hz


class Accelerometer:
    """One chip, one axis of it. `start()` once, then `read()` once a tick.

    status: FRESH, STALE or NO_REPLY of `alula.sample`, about the latest read.
    nz_mg: latest acceleration on the chosen axis, 1/1000 g, +1000 in level flight when `axis` and
    `sign` are right; only new when `status` is FRESH.
    errors: failed bus calls and failed starts, counted up to `retry.COUNT_MOST`.
    A chip that resets in flight falls back to standby and shows no new sample; it is found and
    set up again by itself.
    """

    def __init__(self, i2c, address: int, kind: int, axis: int, sign: int) -> None:
        """kind: LIS3DH or ADXL345; axis: 0 x, 1 y, 2 z; sign: +1 or -1, else ValueError."""
        if kind not in (LIS3DH, ADXL345) or axis not in (0, 1, 2) or sign not in (1, -1):
            raise ValueError("accelerometer: kind 1 or 2, axis 0 to 2, sign 1 or -1")
        self.status = NO_REPLY
        self.nz_mg = 0
        self.errors = 0
        self._i2c = i2c
        self._address = address
        self._sign = sign
        self._chip = LIS3DH_CHIP if kind == LIS3DH else ADXL345_CHIP
        self._burst = bytearray(self._chip.burst_length)
        self._at = self._chip.axes_at + 2 * axis
        self._rounding = (1 << self._chip.denominator_bits) >> 1
        self._byte = bytearray(1)
        self._running = False
        self._misses = 0
        self._waited = 0

    def start(self) -> bool:
        """True when the right chip answered and kept its set-up. Never raises. No allocation."""
        self.status = NO_REPLY
        self._misses = 0
        self._waited = 0
        try:
            self._running = self._set_up()
        except OSError:
            self._running = False
        if not self._running:
            self.errors = count_up(self.errors)
        return self._running

    def read(self) -> None:
        """Fetch one sample. Never raises on a bus failure. No allocation."""
        if not self._running:
            self._wait_and_retry()
            return
        try:
            self._i2c.readfrom_mem_into(self._address, self._chip.burst_register, self._burst)
        except OSError:
            self.errors = count_up(self.errors)
            self._missed(NO_REPLY)
            return
        if self._burst[0] & self._chip.ready_mask:
            self._misses = 0
            self.nz_mg = self._sign * self._axis_mg()
            self.status = FRESH
        else:
            self._missed(STALE)

    def _wait_and_retry(self) -> None:
        self.status = NO_REPLY
        self._waited += 1
        if self._waited >= _RETRY_READS:
            self.start()

    def _missed(self, status: int) -> None:
        self.status = status
        self._misses += 1
        if self._misses >= _MISSES_MOST:
            self._running = False
            self._waited = 0

    def _set_up(self) -> bool:
        """Check who answers, write the set-up, read it back: a chip left at another range would
        give believable but wrong accelerations."""
        chip = self._chip
        if self._register(chip.identity_register) != chip.identity:
            return False
        for i in range(0, len(chip.set_up), 2):
            self._byte[0] = chip.set_up[i + 1]
            self._i2c.writeto_mem(self._address, chip.set_up[i], self._byte)
            if self._register(chip.set_up[i]) != chip.set_up[i + 1]:
                return False
        return True

    def _register(self, register: int) -> int:
        self._i2c.readfrom_mem_into(self._address, register, self._byte)
        return self._byte[0]

    def _axis_mg(self) -> int:
        raw = self._burst[self._at] | self._burst[self._at + 1] << 8
        if raw & 0x8000:
            raw -= 0x10000
        scaled = (raw >> self._chip.unused_bits) * self._chip.numerator  # at most 2**22
        return (scaled + self._rounding) >> self._chip.denominator_bits
