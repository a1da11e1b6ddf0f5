"""The flight log: every tick's raw words and decisions, in memory until they can be written.

Spec: hardware_notes/flight_log.md. `log_keeper` writes the blocks to flash while all is quiet.
"""

from alula import log_layout as layout
from alula.log_digest import LogDigest
from alula.log_ring import LogRing
from alula.log_writer import LogWriter

# 17 blocks of 4096 bytes with the spare one: 68 kB of the Pico's 239. In ordinary flight with the
# accelerometer a block lasts 18 s, so a warning may last five minutes before anything is lost.
RING_BLOCKS = 16


class FlightLog:
    """session, period_ms: see `LogWriter`. ring: the blocks, for whoever writes them."""

    def __init__(self, session: int, period_ms: int, blocks: int = RING_BLOCKS) -> None:
        self.session = session
        self.ring = LogRing(blocks)
        self._writer = LogWriter(self.ring, session, period_ms)
        self._digest = LogDigest()
        self._now_ms = 0

    def step(self, now_ms: int, sample, unit, missed: int) -> None:
        """Log one tick: once after every tick of the unit, before anything else changes the unit.
        No allocation. missed: deadlines missed so far."""
        writer, digest = self._writer, self._digest
        if writer.full():
            self.end_block()
        if not writer.open:
            zero, phase = unit.zero, unit.phase
            flags = layout.ZERO_KNOWN if zero.known else 0
            if phase.flying:
                flags |= layout.FLYING
            if phase.has_flown:
                flags |= layout.HAS_FLOWN
            writer.begin(now_ms, unit.pitot.zero_dpa, unit.angled.zero_dpa, flags)
        writer.tick(now_ms, sample, unit, missed)
        digest.take(unit)
        if digest.count == layout.DIGEST_TICKS:
            writer.digest(digest.value)
            digest.clear()
        self._now_ms = now_ms

    def end_block(self) -> None:
        """Let the block that is being filled wait for the flash as it is. No allocation."""
        writer, digest = self._writer, self._digest
        if not writer.open:
            return
        if digest.count:
            writer.digest(digest.value)
            digest.clear()
        writer.close()

    def change(self, kind: int, version: int, payload: bytes) -> None:
        """Log a record that the unit uses from the next tick on: see `LogWriter.change`."""
        self.end_block()
        self._writer.change(self._now_ms, record(kind, version, payload))

    def open_ticks(self) -> int:
        """Ticks in the block that is being filled. No allocation."""
        return self._writer.count if self._writer.open else 0


def record(kind: int, version: int, payload: bytes) -> bytes:
    """A record as it stands in the payload of a HEAD or CHANGE block."""
    return bytes([kind, version, len(payload) & 0xFF, len(payload) >> 8]) + payload
