"""From a data block to its ticks. Spec: hardware_notes/flight_log.md, section "A tick"."""

import struct
from dataclasses import dataclass

import numpy as np

from host_sim.reading.unit_log_blocks import Content, Header
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import log_layout as layout  # noqa: E402
from alula.sample import FRESH  # noqa: E402
from host_sim.runtimes.session import IN_COLUMNS  # noqa: E402

TICK_COLUMNS = (*IN_COLUMNS, "temperature_dc", "state", "health", "capture", "verdicts",
                "refusal", "missed")
COUNTER_TURN = 1 << 30
_CONTEXT = struct.Struct("<BBBBbBBBBBBBBiiihHHii")
_NOW, _PITOT, _ANGLED, _NZ_STATUS, _NZ = 0, 2, 4, 5, 6
# Events that only put numbers into columns: column, bytes, signed.
_FIELDS = {
    layout.FLAP_BUTTON: ((7, 1, True), (8, 1, False)),
    layout.NZ_STATUS: ((_NZ_STATUS, 1, False),),
    layout.NZ: ((_NZ, 4, True),),
    layout.TEMPERATURE: ((9, 2, True),),
    layout.DECISION: ((10, 1, False), (11, 1, False)),
    layout.CAPTURE: ((12, 1, False), (13, 1, False), (14, 1, False)),
    layout.MISSED: ((15, 2, False),),
}


class BadBlock(Exception):
    """A block whose checksum fits and whose content breaks a rule: the message says which."""


@dataclass(frozen=True)
class Context:
    """All that a block says in full at its start: how things stood before its first tick."""

    pitot_status: int
    angled_status: int
    nz_status: int
    button: int
    flap: int
    state: int
    health: int
    capture: int
    verdicts: int
    refusal: int
    changes: int
    period_ms: int
    flags: int
    pitot_word: int
    angled_word: int
    nz_mg: int
    temperature_dc: int
    missed: int
    dropped: int
    pitot_zero_dpa: int
    angled_zero_dpa: int

    def zero(self) -> dict | None:
        """The zero in use, as a record; None where there was none."""
        if not self.flags & layout.ZERO_KNOWN:
            return None
        return {"pitot_dpa": self.pitot_zero_dpa, "angled_dpa": self.angled_zero_dpa}


@dataclass(frozen=True)
class Ticks:
    """One data block. rows: int32, shape (ticks, TICK_COLUMNS), now_ms as the unit's counter.
    digests: (ticks up to which it counts, from the one before on, and its value)."""

    header: Header
    context: Context
    rows: np.ndarray
    digests: list[tuple[int, int]]


def read_context(data: bytes) -> Context:
    """The context from its bytes, CONTEXT_BYTES of them."""
    return Context(*_CONTEXT.unpack(data))


def read_ticks(header: Header, content: Content) -> Ticks:
    """Decode one data block; BadBlock where it breaks a rule."""
    payload = header.payload(content)
    if len(payload) < layout.CONTEXT_BYTES:
        raise BadBlock("is too short for its context")
    context = read_context(payload[:layout.CONTEXT_BYTES])
    walk = _Walk(payload, context, header.first_ms)
    try:
        walk.run()
    except IndexError as error:
        raise BadBlock("ends in the middle of a tick") from error
    if len(walk.rows) != header.count:
        raise BadBlock(f"holds {len(walk.rows)} ticks, not {header.count}")
    rows = np.array(walk.rows, np.int64).reshape(-1, len(TICK_COLUMNS))
    if np.abs(rows).max(initial=0) >= 1 << 31:
        raise BadBlock("holds a number of more than 32 bits")
    return Ticks(header, context, rows.astype(np.int32), walk.digests)


class _Walk:
    """Goes through the bytes of one payload."""

    def __init__(self, payload: bytes, context: Context, first_ms: int) -> None:
        self._data = payload
        self._at = layout.CONTEXT_BYTES
        c = context
        self._period_ms = c.period_ms
        self._interval_ms = 0  # of the first tick: its time stands in the header
        self._row = [first_ms, c.pitot_status, c.pitot_word, c.angled_status, c.angled_word,
                     c.nz_status, c.nz_mg, c.flap, c.button, c.temperature_dc, c.state, c.health,
                     c.capture, c.verdicts, c.refusal, c.missed]
        self.rows: list[list[int]] = []
        self.digests: list[tuple[int, int]] = []

    def run(self) -> None:
        """All ticks and events; IndexError where the bytes end too early."""
        data, row, rows = self._data, self._row, self.rows
        while self._at < len(data):
            token = data[self._at]
            self._at += 1
            if token == layout.EVENT:
                code = self._byte()
                if code != layout.BOTH:
                    self._event(code)
                    continue
                row[_PITOT] += self._far()
                row[_ANGLED] += self._far()
            else:
                pitot, angled = token >> 4, token & 15
                row[_PITOT] += pitot - 7 if pitot < 15 else self._far()
                row[_ANGLED] += angled - 7 if angled < 15 else self._far()
            if row[_NZ_STATUS] == FRESH:
                row[_NZ] += self._far()
            row[_NOW] = (row[_NOW] + self._interval_ms) % COUNTER_TURN
            rows.append(row.copy())
            self._interval_ms = self._period_ms

    def _byte(self) -> int:
        self._at += 1
        return self._data[self._at - 1]

    def _number(self, width: int, signed: bool = True) -> int:
        self._at += width
        part = self._data[self._at - width:self._at]
        if len(part) < width:
            raise IndexError
        return int.from_bytes(part, "little", signed=signed)

    def _far(self) -> int:
        value = self._byte()
        if value == layout.FAR_BYTE:
            return self._number(4)
        return value - 256 if value > layout.FAR_BYTE else value

    def _event(self, code: int) -> None:
        row = self._row
        if code >= layout.FAR_BYTE:
            self._interval_ms = self._period_ms + code - layout.NEAR_INTERVAL
        elif code >= layout.STATUSES:
            statuses = code - layout.STATUSES
            if statuses >= layout.STATUS_COUNT ** 2:
                raise BadBlock(f"holds an event 0x{code:02X} that this version does not know")
            row[1], row[3] = divmod(statuses, layout.STATUS_COUNT)
        elif code == layout.INTERVAL:
            self._interval_ms = self._number(4)
        elif code == layout.DIGEST:
            self.digests.append((len(self.rows), self._number(2, signed=False)))
        elif code in _FIELDS:
            for column, width, signed in _FIELDS[code]:
                row[column] = self._number(width, signed)
        else:
            raise BadBlock(f"holds an event 0x{code:02X} that this version does not know")
