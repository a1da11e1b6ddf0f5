"""A flash chip in a file of the desk, as a block device for the VM's littlefs.

What was written stays, whatever becomes of the VM. cut_at: number of the program or erase in
which the power goes (half of it done). rot: bytes that read back once, and wrongly ever after:
littlefs itself reads each program back.
"""

BLOCK_BYTES = 4096


class PowerCut(BaseException):
    """The power is gone."""


class FileFlash:
    def __init__(self, path, blocks, cut_at=0, rot=b""):
        self._file = open(path, "r+b")  # noqa: SIM115
        self._blocks = blocks
        self._cut_at = cut_at
        self._rot = rot
        self._read = set()
        self._count = 0

    def readblocks(self, block, buffer, offset=0):
        self._file.seek(block * BLOCK_BYTES + offset)
        self._file.readinto(buffer)
        if self._rot and self._rot in bytes(buffer):
            place = (block, offset)
            if place in self._read:
                buffer[0] ^= 1
            self._read.add(place)

    def writeblocks(self, block, buffer, offset=0):
        self._count += 1
        self._put(block * BLOCK_BYTES + offset, buffer)

    def ioctl(self, request, argument):
        if request == 4:
            return self._blocks
        if request == 5:
            return BLOCK_BYTES
        if request == 6:
            self._count += 1
            self._put(argument * BLOCK_BYTES, b"\xff" * BLOCK_BYTES)
        return 0

    def _put(self, at, data):
        self._file.seek(at)
        if self._count == self._cut_at:
            self._file.write(memoryview(data)[:len(data) // 2])
            self._file.flush()
            raise PowerCut
        self._file.write(data)
        self._file.flush()
