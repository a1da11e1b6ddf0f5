"""From the CSV of a unit's log (`unit_log_csv`) back to the log, byte for byte.

The firmware's own writer makes the blocks, so what comes out is what a unit would have written.
"""

from collections.abc import Iterable, Iterator
from types import SimpleNamespace
from typing import NoReturn

from host_sim.errors import UsageError
from host_sim.reading.unit_log_csv import COLUMNS, KINDS, TITLE, WORDS
from host_sim.reading.unit_log_ticks import Context, read_context
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import log_layout as layout  # noqa: E402
from alula.log_block import fill_header, seal  # noqa: E402
from alula.log_ring import LogRing  # noqa: E402
from alula.log_writer import LogWriter  # noqa: E402
from alula.sample import NO_TEMPERATURE  # noqa: E402

_SMALL = 1 << 29
_LIMITS = {"counter_ms": (0, (1 << 30) - 1), "pitot_word": (-_SMALL, _SMALL),
           "angled_word": (-_SMALL, _SMALL), "nz_mg": (-_SMALL, _SMALL), "flap": (-128, 127),
           "temperature_dc": (-32768, 32767), "missed": (0, 65535), "digest": (0, 65535)}
# session, sequence, first_ms, count
_BLOCK_MOST = (65535, (1 << 32) - 1, (1 << 30) - 1, 65535)


def packed(lines: Iterable[str], name: str) -> Iterator[bytes]:
    """The blocks of a log from the lines of its CSV; UsageError with the line where it is none.
    name: of the file, for messages."""
    pack = _Pack(name)
    for line in lines:
        block = pack.take(line.rstrip("\r\n"))
        if block:
            yield block
    last = pack.close()
    if last:
        yield last


class _Pack:
    """Turns lines into blocks, one at a time."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._line = 0
        self._writer: LogWriter | None = None
        self._count = 0
        self._ring = LogRing(2)

    def take(self, line: str) -> bytes | None:
        """The next line; returns a block that it ends."""
        self._line += 1
        if self._line == 1 and line != TITLE:
            self._refuse("does not begin as `alula unpack` writes it; unpack the log again")
        if self._line == 2 and line != ",".join(COLUMNS):
            self._refuse("has other columns than this version writes; unpack the log again")
        if self._line < 3 or not line:
            return None
        if line.startswith("#block,"):
            done = self.close()
            made = self._begin(line.split(","))
            return (done or b"") + (made or b"") or None
        self._tick(line.split(","))
        return None

    def close(self) -> bytes | None:
        """The data block that is open, whole; None where there is none."""
        if self._writer is None:
            return None
        if self._writer.count != self._count:
            self._refuse(f"the block before it has {self._writer.count} rows, but its #block line "
                         f"says {self._count}; unpack the log again")
        self._writer.close()
        self._writer = None
        block = self._ring.take()
        seal(block)
        return bytes(block)

    def _begin(self, cells: list[str]) -> bytes | None:
        if len(cells) != 7 or cells[1] not in KINDS:
            self._refuse("is no #block line; unpack the log again")
        kind = KINDS.index(cells[1])
        numbers = [self._number(cell, 0, most, "#block") for cell, most in zip(
            cells[2:6], _BLOCK_MOST, strict=True)]
        try:
            data = bytes.fromhex(cells[6])
        except ValueError:
            self._refuse("#block ends in no hexadecimal number; unpack the log again")
        if kind != layout.DATA:
            return self._whole(kind, numbers, data)
        if len(data) != layout.CONTEXT_BYTES:
            self._refuse(f"#block has a context of {len(data)} bytes, not {layout.CONTEXT_BYTES}")
        self._open(numbers, read_context(data))
        return None

    def _whole(self, kind: int, numbers: list[int], data: bytes) -> bytes:
        if len(data) > layout.PAYLOAD_MOST:
            self._refuse("#block is longer than a block")
        block = bytearray(layout.BLOCK_BYTES)
        session, sequence, first_ms, count = numbers
        fill_header(block, kind, session, sequence, first_ms, count, len(data))
        block[layout.HEADER_BYTES:layout.HEADER_BYTES + len(data)] = data
        seal(block)
        return bytes(block)

    def _open(self, numbers: list[int], context: Context) -> None:
        session, sequence, first_ms, self._count = numbers
        writer = self._writer = LogWriter(self._ring, session, context.period_ms)
        writer.sequence = sequence
        for name in ("pitot_status", "angled_status", "nz_status", "button", "flap", "state",
                     "health", "capture", "verdicts", "refusal", "changes", "pitot_word",
                     "angled_word", "nz_mg", "temperature_dc", "missed"):
            setattr(writer, name, getattr(context, name))
        self._ring.dropped = context.dropped
        writer.begin(first_ms, context.pitot_zero_dpa, context.angled_zero_dpa, context.flags)

    def _tick(self, cells: list[str]) -> None:
        if len(cells) != len(COLUMNS):
            self._refuse(f"has {len(cells)} cells, not {len(COLUMNS)}")
        if self._writer is None:
            self._refuse("stands before any #block line")
        row = {name: self._value(name, cell) for name, cell in zip(COLUMNS[2:], cells[2:],
                                                                    strict=True)}
        writer = self._writer
        sample = SimpleNamespace(**{name: row[name] for name in (
            "pitot_status", "pitot_word", "angled_status", "angled_word", "nz_status", "nz_mg",
            "flap", "button", "temperature_dc")})
        capture = SimpleNamespace(state=row["capture"], verdicts=row["verdicts"],
                                  refusal=row["refusal"])
        unit = SimpleNamespace(state=row["state"], health=row["health"], capture=capture)
        try:
            writer.tick(row["counter_ms"], sample, unit, row["missed"])
            if row["digest"] is not None:
                writer.digest(row["digest"])
            fits = writer.at <= layout.CRC_AT
        except IndexError:
            fits = False
        if not fits:
            self._refuse("is one tick more than the block holds; unpack the log again")

    def _value(self, name: str, cell: str):
        words = WORDS.get(name, ())
        if cell in words:
            return words.index(cell)
        if not cell and name in ("temperature_dc", "digest"):
            return None if name == "digest" else NO_TEMPERATURE
        least, most = _LIMITS.get(name, (0, 255))
        if name in ("pitot_status", "angled_status", "nz_status"):
            most = layout.STATUS_COUNT - 1
        return self._number(cell, least, most, name)

    def _number(self, cell: str, least: int, most: int, name: str) -> int:
        digits = cell[1:] if cell[:1] == "-" else cell
        if not (digits.isascii() and digits.isdigit() and least <= int(cell) <= most):
            self._refuse(f"{name} is {cell[:40]!r}; it must be a whole number from {least} to "
                         f"{most}")
        return int(cell)

    def _refuse(self, text: str) -> NoReturn:
        raise UsageError(f"{self._name}:{self._line}: {text}")
