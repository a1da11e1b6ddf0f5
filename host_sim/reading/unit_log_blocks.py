"""The blocks of a unit's log: which are whole, and where something else lies between them.

A block counts only with its checksum, wherever in the file it begins: nothing is guessed. Spec:
hardware_notes/flight_log.md.
"""

import mmap
import struct
import zlib
from dataclasses import dataclass

from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import log_layout as layout  # noqa: E402

_HEADER = struct.Struct("<4sBBHIIHH")
Content = bytes | mmap.mmap


@dataclass(frozen=True)
class Header:
    """One whole block. first_ms: counter of the unit, 0 to 2^30 - 1. count: ticks in it, or of a
    HEAD how many there are. offset: where in the file it begins; crc: its checksum."""

    version: int
    kind: int
    session: int
    sequence: int
    first_ms: int
    count: int
    length: int
    offset: int
    crc: int

    def payload(self, content: Content) -> bytes:
        """What it carries."""
        start = self.offset + layout.HEADER_BYTES
        return bytes(content[start:start + self.length])


@dataclass(frozen=True)
class Damage:
    """Bytes that are no whole block. offset, length: bytes of the file."""

    offset: int
    length: int
    why: str

    def text(self) -> str:
        """One line for people, with the place."""
        return (f"byte {self.offset} (block {self.offset // layout.BLOCK_BYTES}): "
                f"{self.length} bytes {self.why}; not used")


def whole_block(content: Content, offset: int) -> Header | None:
    """The block that begins at a byte, if a whole one does."""
    data = content[offset:offset + layout.BLOCK_BYTES]
    if len(data) < layout.BLOCK_BYTES or data[:4] != layout.MAGIC:
        return None
    crc = int.from_bytes(data[layout.CRC_AT:], "little")
    _, version, kind, session, sequence, first_ms, count, length = _HEADER.unpack(
        data[:layout.HEADER_BYTES])
    if length > layout.PAYLOAD_MOST or zlib.crc32(data[:layout.CRC_AT]) != crc:
        return None
    return Header(version, kind, session, sequence, first_ms, count, length, offset, crc)


def scan(content: Content) -> tuple[list[Header], list[Damage]]:
    """Every whole block of a file, in its order, and all that lies between."""
    found: list[Header] = []
    damaged: list[Damage] = []
    at, end = 0, len(content)
    while at < end:
        header = whole_block(content, at)
        if header is not None:
            found.append(header)
            at += layout.BLOCK_BYTES
            continue
        after = _next_block(content, at + 1)
        damaged.append(Damage(at, after - at, _why(content, at, after)))
        at = after
    return found, damaged


def _next_block(content: Content, at: int) -> int:
    """Where the next whole block begins, or the end of the file."""
    while True:
        at = content.find(layout.MAGIC, at)
        if at < 0:
            return len(content)
        if whole_block(content, at) is not None:
            return at
        at += 1


def _why(content: Content, at: int, after: int) -> str:
    data = content[at:after]
    if data.count(data[:1]) == len(data):
        return f"that are all 0x{data[0]:02X}"
    if data[:4] != layout.MAGIC:
        return "that begin like no block"
    if after == len(content) and len(data) < layout.BLOCK_BYTES:
        return "of a block that was cut off"
    return "whose checksum is wrong"
