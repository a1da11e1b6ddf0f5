"""Register-level fakes of two accelerometers, LIS3DH and ADXL345.

They scale by the range their control registers say, so a driver that sets them up wrongly reads
wrong accelerations. Register numbers and scales as in the data sheets; what of that was read and
where, and what is from memory, stands with each class.
"""

from host_sim.bench.fake_i2c import FakeDevice


class FakeAccelerometer(FakeDevice):
    """What both chips share: 128 registers, and data only after the chip was set up.

    refresh(x, y, z): the end of a conversion, accelerations in mg.
    reset(): back to the power-up values, as after a brown-out.
    lost_updates: conversions that ended before the last one was fetched.
    """

    AXES = 0  # register of the low byte of x; y and z follow
    READY_REGISTER = 0
    READY_BITS = 0  # what that register shows when new data wait
    IDLE_BITS = 0  # and when they have been fetched
    READY_MASK = 0  # the bit of it that means all axes

    def __init__(self) -> None:
        self.registers = bytearray(128)
        self.lost_updates = 0
        self.reset()

    def reset(self) -> None:
        """Power-up values; the chip is in standby."""
        for i in range(len(self.registers)):
            self.registers[i] = 0

    def refresh(self, x_mg: int, y_mg: int, z_mg: int) -> None:
        """New accelerations, unless the chip is in standby."""
        if not self.measuring():
            return
        if self.data_ready():
            self.lost_updates += 1
        self._store(0, self.raw(x_mg))
        self._store(1, self.raw(y_mg))
        self._store(2, self.raw(z_mg))
        self.registers[self.READY_REGISTER] = self.READY_BITS

    def data_ready(self) -> bool:
        """Whether data wait that nobody has fetched."""
        return self.registers[self.READY_REGISTER] & self.READY_MASK != 0

    def measuring(self) -> bool:
        """Whether the control registers have the chip measure."""
        raise NotImplementedError

    def raw(self, mg: int) -> int:
        """Register pair for an acceleration at the range that is set, two's complement."""
        raise NotImplementedError

    def address(self, register: int, i: int) -> int:
        """Register of the i-th byte of a burst."""
        raise NotImplementedError

    def writable(self, register: int) -> bool:
        """Whether a write changes it."""
        raise NotImplementedError

    def _store(self, axis: int, raw: int) -> None:
        at = self.AXES + 2 * axis
        self.registers[at] = raw & 0xFF
        self.registers[at + 1] = raw >> 8 & 0xFF

    def read(self, buffer: bytearray) -> None:
        """A read without a register address; the firmware has no use for it."""
        self.read_registers(0, buffer)

    def read_registers(self, register: int, buffer: bytearray) -> None:
        """A burst from `register` on; fetching the axes clears data-ready."""
        fetched = False
        for i in range(len(buffer)):
            at = self.address(register, i)
            buffer[i] = self.registers[at]
            fetched = fetched or self.AXES <= at < self.AXES + 6
        if fetched:
            self.registers[self.READY_REGISTER] = self.IDLE_BITS

    def write_registers(self, register: int, buffer: bytearray) -> None:
        """Write on from `register`; read-only registers stay as they are."""
        for i in range(len(buffer)):
            at = self.address(register, i)
            if self.writable(at):
                self.registers[at] = buffer[i]


def _clipped(value: int, bits: int) -> int:
    most = (1 << (bits - 1)) - 1
    return min(max(value, -most - 1), most)


def _rounded(numerator: int, denominator: int) -> int:
    return (2 * numerator + denominator) // (2 * denominator)


class FakeLis3dh(FakeAccelerometer):
    """LIS3DH, address 0x18 or 0x19.

    Registers, identity and the table of mg/digit: read in public headers and the maker's forum.
    CTRL_REG1 value at power-up, FS and HR bits, left alignment by mode, and that a burst needs
    bit 7 of the sub-address: from memory of the data sheet.
    """

    AXES = 0x28  # OUT_X_L
    READY_REGISTER = 0x27  # STATUS_REG
    READY_BITS = 0x0F  # ZYXDA and the three axes' own
    READY_MASK = 0x08
    MG_PER_DIGIT = (1, 2, 4, 12)  # high resolution, 12 bit, at 2, 4, 8, 16 g
    COARSE_MG_PER_DIGIT = (4, 8, 16, 48)  # normal mode, 10 bit

    def reset(self) -> None:
        """Power-up values."""
        super().reset()
        self.registers[0x0F] = 0x33
        self.registers[0x20] = 0x07

    def measuring(self) -> bool:
        """A data rate is chosen and all three axes are on; low-power mode is not modelled."""
        return self.registers[0x20] & 0xF0 != 0 and self.registers[0x20] & 0x0F == 0x07

    def raw(self, mg: int) -> int:
        """Register pair for an acceleration: left aligned, 12 or 10 bits by mode."""
        range_bits = self.registers[0x23] >> 4 & 3
        if self.registers[0x23] & 0x08:
            return _clipped(_rounded(mg, self.MG_PER_DIGIT[range_bits]), 12) << 4
        return _clipped(_rounded(mg, self.COARSE_MG_PER_DIGIT[range_bits]), 10) << 6

    def address(self, register: int, i: int) -> int:
        """The address steps only when bit 7 of the sub-address is set."""
        return (register & 0x7F) + i if register & 0x80 else register

    def writable(self, register: int) -> bool:
        """CTRL_REG1 to CTRL_REG6."""
        return 0x20 <= register <= 0x25


class FakeAdxl345(FakeAccelerometer):
    """ADXL345, address 0x53 or 0x1D.

    Data-ready clears with a read of the data registers: data sheet rev. D p. 20, read. Identity,
    registers, 256 LSB/g in full resolution and 256, 128, 64, 32 LSB/g in 10 bits: read in public
    sources that quote the data sheet. Left justification is not modelled.
    """

    AXES = 0x32  # DATAX0
    READY_REGISTER = 0x30  # INT_SOURCE
    READY_BITS = 0x82  # DATA_READY; the watermark bit beside it stands always (from memory)
    IDLE_BITS = 0x02
    READY_MASK = 0x80

    def reset(self) -> None:
        """Power-up values: standby, 100 Hz, 10 bit, 2 g."""
        super().reset()
        self.registers[0x00] = 0xE5
        self.registers[0x2C] = 0x0A

    def measuring(self) -> bool:
        """Measure bit of POWER_CTL."""
        return self.registers[0x2D] & 0x08 != 0

    def raw(self, mg: int) -> int:
        """Register pair for an acceleration: right justified, 10 bits or full resolution."""
        range_bits = self.registers[0x31] & 3
        if self.registers[0x31] & 0x08:
            return _clipped(_rounded(mg * 256, 1000), 10 + range_bits)
        return _clipped(_rounded(mg * (256 >> range_bits), 1000), 10)

    def address(self, register: int, i: int) -> int:
        """The address always steps."""
        return register + i

    def writable(self, register: int) -> bool:
        """All but identity, interrupt source, data and FIFO status."""
        return 0x1D <= register <= 0x38 and register != 0x30 and not 0x32 <= register <= 0x37
