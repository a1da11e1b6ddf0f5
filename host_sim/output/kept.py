"""What is kept of a long run: enough for table, sound and picture, in little memory."""

import numpy as np

from host_sim.output.trace import column
from host_sim.runtimes.paths import use_firmware

use_firmware()

from host_sim.runtimes.session import OUT_COLUMNS  # noqa: E402

_HEARD = [OUT_COLUMNS.index(name) for name in ("state", "voice_hz", "voice_level")]
PICTURE_ROWS = 40_000  # some thirty for each dot of the picture's width


class Kept:
    """The ticks at which state or sound changed, and the last one. `changes`, `seconds_in_states`
    and `write_wav` make of them what they would make of all."""

    def __init__(self) -> None:
        self._blocks: list[np.ndarray] = []
        self._last = np.zeros((0, len(OUT_COLUMNS)), np.int32)
        self.count = 0

    def add(self, out: np.ndarray) -> None:
        """Take the next block in."""
        if not len(out):
            return
        heard = np.concatenate([self._last, out])[:, _HEARD]
        changed = (heard[1:] != heard[:-1]).any(axis=1)
        if not self.count:
            changed = np.r_[True, changed]
        self._blocks.append(out[changed])
        self._last = out[-1:].copy()
        self.count += len(out)

    def rows(self) -> np.ndarray:
        """Output rows, as the firmware's."""
        rows = np.concatenate([self._last[:0], *self._blocks])
        if len(rows) and rows[-1, 0] == self._last[0, 0]:
            return rows
        return np.concatenate([rows, self._last])


class Thinned:
    """Every row of a short run; of a long one, one row of each 2, 4, 8... ticks: the one with the
    most lift in use. Which ones does not depend on how the run was cut into blocks."""

    def __init__(self, most: int = PICTURE_ROWS) -> None:
        self._most = most
        self._kept: list[np.ndarray] = []
        self._count = 0
        self._begun = np.zeros((0, len(OUT_COLUMNS)), np.int64)  # the bucket that is not yet full
        self.stride = 1

    def add(self, out: np.ndarray) -> None:
        """Take the next block in."""
        rows = np.concatenate([self._begun, out])
        whole = len(rows) // self.stride * self.stride
        self._begun = rows[whole:]
        self._keep(_best(rows[:whole], self.stride))
        while self._count > self._most:
            kept = np.concatenate(self._kept)
            even = len(kept) // 2 * 2
            # what is left over begins the next bucket, with itself as its ticks' best row
            filled = np.repeat(kept[even:], self.stride, axis=0)
            self.stride *= 2
            self._kept, self._count = [], 0
            self._keep(_best(kept[:even], 2))
            self._begun = np.concatenate([filled, self._begun])

    def _keep(self, rows: np.ndarray) -> None:
        self._kept.append(rows)
        self._count += len(rows)

    def rows(self) -> np.ndarray:
        """What is to be drawn, with the last bucket though it may not be full."""
        last = _best(self._begun, len(self._begun)) if len(self._begun) else self._begun
        return np.concatenate([*self._kept, last]) if self._kept else last


def _best(rows: np.ndarray, stride: int) -> np.ndarray:
    """Of every `stride` rows the first with the most lift (not known counts as least)."""
    if stride == 1 or not len(rows):
        return rows
    lift = column(rows, "lift_pm").reshape(-1, stride)
    return rows[np.arange(len(lift)) * stride + lift.argmax(axis=1)]
