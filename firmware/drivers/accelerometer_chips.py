"""Register tables of the accelerometers that the unit knows.

LIS3DH: register addresses, WHO_AM_I 0x33, 0x57 for 100 Hz and 4 mg/digit at 8 g in high
resolution: read in public register headers and in the maker's forum, which quote the data sheet.
The bits of CTRL_REG4 (BDU, FS, HR) and the auto-increment bit of the sub-address: from memory.
ADXL345: register addresses, DEVID 0xE5, rate code 0x0A, full-resolution bit 0x08 and "DATA_READY
is cleared by reading the data registers" (data sheet rev. D p. 20): read in public sources. 256
LSB/g in full resolution: distributor's table of the data sheet.
"""


class Chip:
    """What the driver must know of one chip; see `LIS3DH_CHIP` for an example.

    set_up: register, value, register, value ... written in this order and read back.
    burst_register, burst_length: one read that holds the ready bit in byte 0 and the three axes
    from byte `axes_at`, 16 bits each, two's complement, low byte first.
    Acceleration in mg = (raw >> unused_bits) * numerator / 2**denominator_bits.
    """

    def __init__(self, identity_register: int, identity: int, set_up: bytes, burst_register: int,
                 burst_length: int, axes_at: int, ready_mask: int, unused_bits: int,
                 numerator: int, denominator_bits: int) -> None:
        self.identity_register = identity_register
        self.identity = identity
        self.set_up = set_up
        self.burst_register = burst_register
        self.burst_length = burst_length
        self.axes_at = axes_at
        self.ready_mask = ready_mask
        self.unused_bits = unused_bits
        self.numerator = numerator
        self.denominator_bits = denominator_bits


LIS3DH_CHIP = Chip(
    identity_register=0x0F,
    identity=0x33,
    set_up=bytes((
        0x21, 0x00,  # CTRL_REG2: no high-pass filter, it would take gravity away
        0x24, 0x00,  # CTRL_REG5: no FIFO
        0x23, 0xA8,  # CTRL_REG4: block data update, +-8 g, high resolution (12 bit)
        0x20, 0x57,  # CTRL_REG1: 100 Hz, all three axes; last, it starts the chip
    )),
    burst_register=0x27 | 0x80,  # STATUS_REG, then the axes; bit 7 steps the address
    burst_length=7,
    axes_at=1,
    ready_mask=0x08,  # ZYXDA
    unused_bits=4,
    numerator=4,
    denominator_bits=0,
)

ADXL345_CHIP = Chip(
    identity_register=0x00,
    identity=0xE5,
    set_up=bytes((
        0x2C, 0x0A,  # BW_RATE: 100 Hz
        0x31, 0x0B,  # DATA_FORMAT: full resolution, +-16 g, right justified
        0x38, 0x00,  # FIFO_CTL: bypass
        0x2D, 0x08,  # POWER_CTL: measure; last, it starts the chip
    )),
    burst_register=0x30,  # INT_SOURCE, DATA_FORMAT, then the axes; the address steps by itself
    burst_length=8,
    axes_at=2,
    ready_mask=0x80,  # DATA_READY
    unused_bits=0,
    numerator=125,  # 1000 mg / 256 LSB
    denominator_bits=5,
)
