"""What a whole block of the flight log needs between two ticks: header, padding, checksum."""

import binascii

import micropython

from alula import log_layout as layout
from alula.log_layout import put16, put32


def fill_header(block, kind: int, session: int, sequence: int, first_ms: int, count: int,
                length: int) -> None:
    """The twenty bytes at a block's start. No allocation."""
    for i in range(4):
        block[i] = layout.MAGIC[i]
    block[4], block[5] = layout.VERSION, kind
    put16(block, 6, session)
    put32(block, 8, sequence)
    put32(block, 12, first_ms)
    put16(block, 16, count)
    put16(block, 18, length)


def seal(block) -> None:
    """Pad a block and put the CRC-32 (as in zlib) at its end. Allocates: not in a tick."""
    end = layout.HEADER_BYTES + (block[18] | block[19] << 8)
    _pad(block, end, layout.CRC_AT)
    crc = binascii.crc32(memoryview(block)[:layout.CRC_AT]) & 0xFFFFFFFF
    for i in range(4):
        block[layout.CRC_AT + i] = crc >> (8 * i) & 0xFF


@micropython.native
def _pad(block, at: int, end: int) -> None:
    while at < end:
        block[at] = 0xFF
        at += 1
