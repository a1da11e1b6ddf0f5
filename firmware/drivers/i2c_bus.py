"""An I2C bus that can be brought back after a device has blocked it."""

from drivers.retry import count_up


class I2CBus:
    """Passes reads and writes on to the board's I2C, and makes that anew in `recover()`.

    Calls raise OSError like the I2C itself; the drivers above turn that into a status. Each call
    must come back within a few ms by itself: the board file sets that limit when it makes the I2C.
    recoveries: how often `recover()` was called, counted up to `retry.COUNT_MOST`.
    """

    def __init__(self, make_i2c, free) -> None:
        """make_i2c: gives the I2C, called here and after each recovery.

        free: frees the lines as plain pins, true when the bus is free.
        """
        self.recoveries = 0
        self._make_i2c = make_i2c
        self._free = free
        self._i2c = make_i2c()

    def readfrom_into(self, address: int, buffer: bytearray) -> None:
        """Fill the buffer from the device. No allocation of its own."""
        self._i2c.readfrom_into(address, buffer)

    def readfrom_mem_into(self, address: int, register: int, buffer: bytearray) -> None:
        """Fill the buffer from the device's register on. No allocation of its own."""
        self._i2c.readfrom_mem_into(address, register, buffer)

    def writeto(self, address: int, buffer: bytearray) -> None:
        """Write the buffer to the device, without a register. No allocation of its own."""
        self._i2c.writeto(address, buffer)

    def writeto_mem(self, address: int, register: int, buffer: bytearray) -> None:
        """Write the buffer to the device's register on. No allocation of its own."""
        self._i2c.writeto_mem(address, register, buffer)

    def scan(self) -> list[int]:
        """Addresses that answer. Allocates: for ground checks only."""
        return self._i2c.scan()

    def recover(self) -> bool:
        """Clock a stuck device free and make the I2C anew; True when the bus is free.

        Never raises; about 0.1 ms. May allocate a little: call it when a bus has been dead for
        long, not at every tick.
        """
        self.recoveries = count_up(self.recoveries)
        try:
            freed = self._free()
            self._i2c = self._make_i2c()
        except Exception:
            return False
        return bool(freed)
