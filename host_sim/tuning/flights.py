"""A recorded flight as the tuning takes it: small enough to send, and known by its content."""

import hashlib
import json
import zlib
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import Stream

use_firmware()

from alula.calibration import curves_of  # noqa: E402
from host_sim.runtimes.session import IN_WIDTH  # noqa: E402

_LEVEL = 1  # packing must not cost more than reading


@dataclass(frozen=True)
class TuneFlight:
    """One flight. packed: int32 input rows (`session.IN_COLUMNS`, times from 0), packed; some 4
    bytes a tick instead of 36. settings, calibration, zero: records as in `run.Stream`.
    stalls_ms: when the wing broke, in the rows' time, rising."""

    name: str
    packed: bytes
    settings: dict
    calibration: dict
    zero: dict | None
    stalls_ms: tuple[int, ...] = ()
    stalls_from: str = field(default="", compare=False)

    @property
    def rows(self) -> np.ndarray:
        """The input rows, unpacked anew: hold them no longer than needed."""
        columns = np.frombuffer(zlib.decompress(self.packed), np.int32).reshape(IN_WIDTH, -1)
        return np.ascontiguousarray(np.cumsum(columns, axis=1, dtype=np.int32).T)

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
        return hashlib.sha256(text.encode() + b"\0" + self.packed).hexdigest()

    def stream(self, settings: dict) -> Stream:
        """What goes into the firmware, with these settings in place of its own."""
        return Stream(self.rows, settings, self.calibration, self.zero)


def pack(rows: np.ndarray) -> bytes:
    """Input rows as `TuneFlight.packed`: column by column, differences, zlib."""
    columns = np.ascontiguousarray(rows.T, dtype=np.int32)
    return zlib.compress(np.diff(columns, axis=1, prepend=np.int32(0)).astype(np.int32).tobytes(),
                         _LEVEL)
