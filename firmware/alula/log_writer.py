"""Ticks to bytes: the flight log's encoding. Spec: hardware_notes/flight_log.md.

Everything here is a change against the tick before; a block begins with all of it in full.
"""

import micropython
from micropython import const

from alula import log_layout as layout
from alula.elapsed import since_ms
from alula.log_block import fill_header
from alula.log_layout import DATA, put16, put32
from alula.sample import FLAP_NOT_WIRED, FRESH, NO_TEMPERATURE, NOT_FITTED

TICK_MOST = 64  # bytes: more than a tick with every event and a digest takes
_CLOSE_AT = const(4092 - 64)
_EVENT = const(0xFF)
_FRESH = const(0)


class LogWriter:
    """Writes into the blocks of a ring.

    session: 0 to 65535. period_ms: the usual time between two ticks, 1 to 255.
    at: where in the block the next byte goes.
    sequence: number of the next block. count: ticks in the open one; open: whether there is one.
    The rest is the tick before, in the numbers of `Sample` and `Unit`.
    """

    def __init__(self, ring, session: int, period_ms: int) -> None:
        self._ring = ring
        self._block = ring.block
        self._session = session
        self._period_ms = period_ms
        self.at = 0
        self._now_ms = 0
        self.open = False
        self.count = 0
        self.sequence = 0
        self.changes = 0
        self.pitot_status = self.angled_status = FRESH
        self.pitot_word = self.angled_word = 0
        self.nz_status, self.nz_mg = NOT_FITTED, 0
        self.flap, self.button = FLAP_NOT_WIRED, 0
        self.temperature_dc = NO_TEMPERATURE
        self.state = self.health = 0
        self.capture = self.verdicts = self.refusal = 0
        self.missed = 0

    def full(self) -> bool:
        """Whether the next tick might not fit the open block. No allocation."""
        return self.at > _CLOSE_AT

    def begin(self, now_ms: int, pitot_zero_dpa: int, angled_zero_dpa: int, flags: int) -> None:
        """Open a data block whose first tick comes at now_ms. No allocation."""
        self._start(DATA, now_ms)
        block = self._block
        i = layout.HEADER_BYTES
        block[i], block[i + 1] = self.pitot_status, self.angled_status
        block[i + 2], block[i + 3] = self.nz_status, self.button
        block[i + 4] = self.flap & 0xFF
        block[i + 5], block[i + 6] = self.state, self.health
        block[i + 7], block[i + 8] = self.capture, self.verdicts
        block[i + 9], block[i + 10] = self.refusal, self.changes & 0xFF
        block[i + 11], block[i + 12] = self._period_ms, flags
        put32(block, i + 13, self.pitot_word)
        put32(block, i + 17, self.angled_word)
        put32(block, i + 21, self.nz_mg)
        put16(block, i + 25, self.temperature_dc)
        put16(block, i + 27, self.missed)
        put16(block, i + 29, self._ring.dropped)
        put32(block, i + 31, pitot_zero_dpa)
        put32(block, i + 35, angled_zero_dpa)
        self.at = i + layout.CONTEXT_BYTES

    def _start(self, kind: int, now_ms: int) -> None:
        """The header, but for what is known only at the end."""
        self._block = self._ring.block
        fill_header(self._block, kind, self._session, self.sequence, now_ms, 0, 0)
        self.sequence += 1
        self._now_ms = now_ms
        self.count = 0
        self.open = True

    def close(self) -> None:
        """End the open block and hand it to the ring. No allocation."""
        put16(self._block, 16, self.count)
        put16(self._block, 18, self.at - layout.HEADER_BYTES)
        self.open = False
        self.at = 0
        self._ring.advance()

    def change(self, now_ms: int, payload: bytes) -> None:
        """A block of its own for a record that the unit uses from the next tick on. Between two
        ticks, while all is quiet; no data block may be open."""
        self.changes += 1
        self._start(layout.CHANGE, now_ms)
        for i in range(len(payload)):
            self._block[layout.HEADER_BYTES + i] = payload[i]
        self.at = layout.HEADER_BYTES + len(payload)
        self.close()

    def digest(self, value: int) -> None:
        """The digest of all ticks since the last one. No allocation."""
        at = self._event(layout.DIGEST)
        put16(self._block, at, value)
        self.at = at + 2

    @micropython.native
    def tick(self, now_ms: int, sample, unit, missed: int) -> None:
        """One tick, after the unit has judged it; a block is open and not full. No allocation.

        missed: deadlines missed so far. Words within +-2^29, so that a difference stays small.
        """
        if self.count:
            interval_ms = since_ms(now_ms, self._now_ms)
            if interval_ms != self._period_ms:
                self._interval(interval_ms)
        self._now_ms = now_ms
        self.count += 1
        self._senses(sample)
        self._decisions(unit, missed & 0xFFFF)
        self._words(sample)

    def _event(self, code: int) -> int:
        """Write the code of an event; returns where its value goes."""
        block, at = self._block, self.at
        block[at] = _EVENT
        block[at + 1] = code
        return at + 2

    def _interval(self, interval_ms: int) -> None:
        near = interval_ms - self._period_ms
        if -64 <= near <= 63:
            self.at = self._event(layout.NEAR_INTERVAL + near)
        else:
            at = self._event(layout.INTERVAL)
            put32(self._block, at, interval_ms)
            self.at = at + 4

    @micropython.native
    def _senses(self, sample) -> None:
        pitot, angled = sample.pitot_status, sample.angled_status
        if pitot != self.pitot_status or angled != self.angled_status:
            self.pitot_status, self.angled_status = pitot, angled
            self.at = self._event(layout.STATUSES + layout.STATUS_COUNT * pitot + angled)
        if sample.flap != self.flap or sample.button != self.button:
            at = self._event(layout.FLAP_BUTTON)
            self._block[at] = sample.flap & 0xFF
            self._block[at + 1] = sample.button
            self.at = at + 2
            self.flap, self.button = sample.flap, sample.button
        if sample.nz_status != self.nz_status:
            at = self._event(layout.NZ_STATUS)
            self._block[at] = self.nz_status = sample.nz_status
            self.at = at + 1
        if sample.nz_status != _FRESH and sample.nz_mg != self.nz_mg:
            at = self._event(layout.NZ)
            put32(self._block, at, sample.nz_mg)
            self.nz_mg = sample.nz_mg
            self.at = at + 4
        if sample.temperature_dc != self.temperature_dc:
            at = self._event(layout.TEMPERATURE)
            put16(self._block, at, sample.temperature_dc)
            self.temperature_dc = sample.temperature_dc
            self.at = at + 2

    @micropython.native
    def _decisions(self, unit, missed: int) -> None:
        if unit.state != self.state or unit.health != self.health:
            at = self._event(layout.DECISION)
            self._block[at] = self.state = unit.state
            self._block[at + 1] = self.health = unit.health
            self.at = at + 2
        capture = unit.capture
        verdicts = capture.verdicts & 0xFF
        if (capture.state != self.capture or verdicts != self.verdicts
                or capture.refusal != self.refusal):
            at = self._event(layout.CAPTURE)
            self._block[at] = self.capture = capture.state
            self._block[at + 1] = self.verdicts = verdicts
            self._block[at + 2] = self.refusal = capture.refusal
            self.at = at + 3
        if missed != self.missed:
            at = self._event(layout.MISSED)
            put16(self._block, at, missed)
            self.missed = missed
            self.at = at + 2

    @micropython.native
    def _words(self, sample) -> None:
        """The token that ends the tick, and after it the accelerometer's."""
        pitot = sample.pitot_word - self.pitot_word
        angled = sample.angled_word - self.angled_word
        self.pitot_word, self.angled_word = sample.pitot_word, sample.angled_word
        near = -7 <= pitot <= 7
        if near and -7 <= angled <= 7:
            self._block[self.at] = (pitot + 7) << 4 | (angled + 7)
            self.at += 1
        elif near:
            self._block[self.at] = (pitot + 7) << 4 | 15
            self.at += 1
            self._far(angled)
        elif -7 <= angled <= 7:
            self._block[self.at] = 15 << 4 | (angled + 7)
            self.at += 1
            self._far(pitot)
        else:
            self.at = self._event(layout.BOTH)
            self._far(pitot)
            self._far(angled)
        if sample.nz_status == _FRESH:
            self._far(sample.nz_mg - self.nz_mg)
            self.nz_mg = sample.nz_mg

    @micropython.native
    def _far(self, difference: int) -> None:
        """A signed byte, or a mark and 32 bits."""
        block, at = self._block, self.at
        if -127 <= difference <= 127:
            block[at] = difference & 0xFF
            self.at = at + 1
        else:
            block[at] = layout.FAR_BYTE
            put32(block, at + 1, difference)
            self.at = at + 5
