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

NO_ROWS = np.zeros((0, IN_WIDTH), np.int32)
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
        """The input rows, STRETCH_ROWS at a time, unpacked anew."""
        return unpack(self.packed)

    @property
    def rows(self) -> np.ndarray:
        """All of them at once: for short flights."""
        return np.concatenate(list(self.blocks()))

    @property
    def ticks(self) -> int:
        """How many rows."""
        return sum(map(len, self.blocks()))

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
        return Stream(NO_ROWS, settings, self.calibration, self.zero)


class Packer:
    """Takes rows block by block and packs them STRETCH_ROWS at a time. A row whose time does not
    rise is left out: the unit passes over it, too."""

    def __init__(self) -> None:
        """rows: how many are packed, or held for it. last_ms: time of the latest; -1: none."""
        self._held: list[np.ndarray] = []
        self._packed: list[bytes] = []
        self.last_ms = -1
        self.rows = 0

    def add(self, rows: np.ndarray) -> None:
        """Input rows, times from 0 on."""
        before = np.maximum.accumulate(np.r_[np.int32(self.last_ms), rows[:, 0]])
        rows, self.last_ms = rows[rows[:, 0] > before[:-1]], int(before[-1])
        while len(rows):
            part = rows[:STRETCH_ROWS - self.rows % STRETCH_ROWS]
            rows = rows[len(part):]
            self._held.append(part)
            self.rows += len(part)
            if self.rows % STRETCH_ROWS == 0:
                self._close()

    def done(self) -> tuple[bytes, ...]:
        """Everything, as `TuneFlight.packed`."""
        if self._held:
            self._close()
        return tuple(self._packed)

    def _close(self) -> None:
        """Column by column, differences, zlib."""
        columns = np.ascontiguousarray(np.concatenate(self._held).T, dtype=np.int32)
        self._held.clear()
        differs = np.diff(columns, axis=1, prepend=np.int32(0)).astype(np.int32)
        self._packed.append(zlib.compress(differs.tobytes(), _LEVEL))


def pack(rows: np.ndarray) -> tuple[bytes, ...]:
    """All rows of a flight, as `TuneFlight.packed`."""
    packer = Packer()
    packer.add(rows)
    return packer.done()


def unpack(packed: Iterable[bytes]) -> Iterator[np.ndarray]:
    """The input rows, STRETCH_ROWS at a time: hold none longer than needed."""
    for part in packed:
        columns = np.frombuffer(zlib.decompress(part), np.int32).reshape(IN_WIDTH, -1)
        yield np.ascontiguousarray(np.cumsum(columns, axis=1, dtype=np.int32).T)
