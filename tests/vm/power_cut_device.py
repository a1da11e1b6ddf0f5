"""A flash chip in memory whose power can be cut inside any program or erase.

Runs in both interpreters. Blocks of 4096 bytes, programmed in pages of 256, as the RP2040's flash
is used by MicroPython. In the VM it is a block device; the desk wraps it for littlefs-python.
"""

BLOCK_BYTES = 4096
PROGRAM_BYTES = 256
# What a cut leaves of the operation: nothing of it, its first half, its second half, a part of
# the bits of every byte, or all of it.
NONE, HEAD, TAIL, WEAK, WHOLE = range(5)
MODES = (NONE, HEAD, TAIL, WEAK, WHOLE)
WEAK_BITS = 0x55


class PowerCut(Exception):
    """The power is gone; every use of the device from here on raises it, too."""


class CutFlash:
    """cut_at: number of the operation, 1 for the first, in which the power goes; 0 never.

    operations: programs and erases so far. overwritten: programs of bytes that were not erased;
    the chip would only clear bits there, so littlefs must never do it.
    dead: after the cut.
    """

    def __init__(self, data: bytearray, cut_at: int = 0, mode: int = NONE) -> None:
        self.data = data
        self.operations = 0
        self.overwritten = 0
        self.dead = False
        self._cut_at = cut_at
        self._mode = mode

    def readblocks(self, block: int, buffer, offset: int = 0) -> None:
        """As a MicroPython block device."""
        self._live()
        at = block * BLOCK_BYTES + offset
        buffer[:] = self.data[at:at + len(buffer)]

    def writeblocks(self, block: int, buffer, offset: int = 0) -> None:
        """As a MicroPython block device, extended interface: program without erasing.

        The chip programs one page after the other, so each page is an operation of its own.
        """
        for start in range(0, len(buffer), PROGRAM_BYTES):
            self._program(block * BLOCK_BYTES + offset + start,
                          bytes(buffer[start:start + PROGRAM_BYTES]))

    def _program(self, at: int, buffer: bytes) -> None:
        old, new = self.data[at:at + len(buffer)], buffer
        if old != b"\xff" * len(new):
            self.overwritten += 1
            new = bytes([old[i] & new[i] for i in range(len(new))])
        self._change(at, old, new, lambda a, b: a & (b | WEAK_BITS))

    def ioctl(self, request: int, argument: int) -> int:
        """As a MicroPython block device."""
        self._live()
        if request == 4:
            return len(self.data) // BLOCK_BYTES
        if request == 5:
            return BLOCK_BYTES
        if request == 6:
            at = argument * BLOCK_BYTES
            old = self.data[at:at + BLOCK_BYTES]
            self._change(at, old, b"\xff" * BLOCK_BYTES, lambda a, b: a | WEAK_BITS)
        return 0

    def _change(self, at: int, old, new: bytes, weak) -> None:
        self._live()
        self.operations += 1
        if self.operations != self._cut_at:
            self.data[at:at + len(new)] = new
            return
        half = len(new) // 2
        if self._mode == HEAD:
            new = new[:half] + bytes(old[half:])
        elif self._mode == TAIL:
            new = bytes(old[:half]) + new[half:]
        elif self._mode == WEAK:
            new = bytes([weak(old[i], new[i]) for i in range(len(new))])
        if self._mode != NONE:
            self.data[at:at + len(new)] = new
        self.dead = True
        raise PowerCut

    def _live(self) -> None:
        if self.dead:
            raise PowerCut
