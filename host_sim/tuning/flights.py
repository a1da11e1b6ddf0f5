"""A recorded flight as the tuning takes it: small enough to send, and known by its content."""

import hashlib
import json
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import Stream

use_firmware()

from alula.calibration import curves_of  # noqa: E402
from host_sim.runtimes.session import IN_WIDTH  # noqa: E402

_LEVEL = 1  # packing must not cost more than reading
STRETCH_ROWS = 1 << 17  # at a time: 20 minutes at 100 Hz, some 25 MB where they are worked on


@dataclass(frozen=True)
class TuneFlight:
    """One flight. packed: int32 input rows (`session.IN_COLUMNS`, times from 0 and rising),
    STRETCH_ROWS at a time, packed; some 4 bytes a tick instead of 36. settings, calibration, zero:
    records as in `run.Stream`. stalls_ms: when the wing broke, in the rows' time, rising."""

    name: str
    packed: tuple[bytes, ...]
    settings: dict
    calibration: dict
    zero: dict | None
    stalls_ms: tuple[int, ...] = ()
    stalls_from: str = field(default="", compare=False)

    def blocks(self) -> Iterator[np.ndarray]:
        """The input rows, STRETCH_ROWS at a time, unpacked anew: hold none longer than needed."""
        for part in self.packed:
            columns = np.frombuffer(zlib.decompress(part), np.int32).reshape(IN_WIDTH, -1)
            yield np.ascontiguousarray(np.cumsum(columns, axis=1, dtype=np.int32).T)

    @property
    def rows(self) -> np.ndarray:
        """All of them at once: for short flights."""
        return np.concatenate(list(self.blocks()))

    @property
    def ticks(self) -> int:
        """How many rows."""
        return self.rows.shape[0]

    @cached_property
    def curves(self) -> list:
        """(flap, points), as the firmware takes them."""
        return curves_of(self.calibration)

    @cached_property
    def content_hash(self) -> str:
        """SHA-256 of all that decides what is measured on it; the name is not in it."""
        text = json.dumps([self.settings, self.calibration, self.zero, list(self.stalls_ms)],
                          sort_keys=True)
        found = hashlib.sha256(text.encode())
        for part in self.packed:
            found.update(hashlib.sha256(part).digest())
        return found.hexdigest()

    @cached_property
    def zero_dpa(self) -> tuple[int, int] | None:
        """The stored zero, as the firmware takes it."""
        return None if self.zero is None else (self.zero["pitot_dpa"], self.zero["angled_dpa"])

    def stream(self, settings: dict) -> Stream:
        """What goes into the firmware beside the rows, with these settings in place of its own."""
        return Stream(np.zeros((0, IN_WIDTH), np.int32), settings, self.calibration, self.zero)


def pack(rows: np.ndarray | Iterable[np.ndarray]) -> tuple[bytes, ...]:
    """Input rows, or blocks of them, as `TuneFlight.packed`: column by column, differences, zlib.
    Blocks are taken one by one, and no more than STRETCH_ROWS of rows are held."""
    return tuple(_packed(part) for part in _parts([rows] if isinstance(rows, np.ndarray)
                                                  else rows))


def _parts(blocks: Iterable[np.ndarray]) -> Iterator[np.ndarray]:
    """The rows in blocks of STRETCH_ROWS; the last one as long as it comes."""
    held: list[np.ndarray] = []
    count = 0
    for rows in blocks:
        while count + len(rows) >= STRETCH_ROWS:
            left = STRETCH_ROWS - count
            yield np.concatenate([*held, rows[:left]])
            held, count, rows = [], 0, rows[left:]
        if len(rows):
            held.append(rows)
            count += len(rows)
    if held:
        yield np.concatenate(held)


def _packed(rows: np.ndarray) -> bytes:
    columns = np.ascontiguousarray(rows.T, dtype=np.int32)
    return zlib.compress(np.diff(columns, axis=1, prepend=np.int32(0)).astype(np.int32).tobytes(),
                         _LEVEL)
