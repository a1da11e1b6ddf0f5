"""The flight log's blocks in memory: one is filled, the others wait to be written to flash.

When all wait, the oldest is given up: what led out of a long warning is kept, and the gap shows in
the sequence numbers.
"""

from alula.log_layout import BLOCK_BYTES


class LogRing:
    """block: the one to fill. size: blocks. waiting: full ones. dropped: given up so far.

    No method allocates.
    """

    def __init__(self, size: int) -> None:
        """size: blocks, 2 or more; one more is kept for the block that is being written."""
        self._blocks = [bytearray(BLOCK_BYTES) for _ in range(size)]
        self.size = size
        self._first = 0
        self.spare = bytearray(BLOCK_BYTES)
        self.block = self._blocks[0]
        self.waiting = 0
        self.dropped = 0

    def advance(self) -> None:
        """The block that was filled waits now; the next one is to be filled."""
        self.waiting += 1
        if self.waiting == self.size:
            self._first = (self._first + 1) % self.size
            self.waiting -= 1
            self.dropped += 1
        self.block = self._blocks[(self._first + self.waiting) % self.size]

    def take(self) -> bytearray:
        """The oldest block that waits; it is the caller's until the next `take`."""
        first = self._first
        block = self._blocks[first]
        self._blocks[first] = self.spare
        self.spare = block
        self._first = (first + 1) % self.size
        self.waiting -= 1
        return block
