"""A progress bar for long work: on standard error, only on a terminal, only when it takes time."""

import sys
import time
from types import TracebackType

QUIET_S = 2.0  # work that is done sooner shows nothing
EVERY_S = 0.2
WIDTH = 30


class Progress:
    """Used with `with`; `to` may be called often. Leaves the line empty at the end."""

    def __init__(self, label: str, total: float) -> None:
        self._label, self._total = label, max(total, 1)
        self._begun = time.monotonic()
        self._next = self._begun + QUIET_S
        self._on = sys.stderr.isatty()
        self._drawn = 0

    def to(self, done: float) -> None:
        """So much of the total is done."""
        now = time.monotonic()
        if not self._on or now < self._next:
            return
        self._next = now + EVERY_S
        share = min(1.0, done / self._total)
        left_s = (now - self._begun) * (1 - share) / max(share, 0.01)
        bar = "#" * int(share * WIDTH)
        self._draw(f"{self._label} [{bar:<{WIDTH}}] {share:4.0%}, {left_s:.0f} s left")

    def _draw(self, text: str) -> None:
        sys.stderr.write("\r" + text.ljust(self._drawn))
        sys.stderr.flush()
        self._drawn = len(text)

    def __enter__(self) -> "Progress":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        if self._drawn:
            self._draw("")
            sys.stderr.write("\r")
