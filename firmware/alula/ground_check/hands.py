"""What hand and eye check: the contact of the button, the flashes of the lamp."""

from micropython import const

_HALF_MS = const(500)


class Hands:
    """edges: changes of the button's raw contact: 2 in a clean press. flashes: shown so far."""

    FLASHES = 5

    def __init__(self) -> None:
        self.begin()

    def begin(self) -> None:
        """Start anew. No allocation."""
        self.edges = 0
        self.flashes = 0
        self._level = 0
        self._spent_ms = 0

    def feel(self, level: int) -> None:
        """The raw contact of this tick. No allocation."""
        if level != self._level:
            self._level = level
            self.edges += 1

    def flash(self, dt_ms: int) -> bool:
        """Whether the lamp is lit now. No allocation."""
        self._spent_ms += dt_ms
        if self._spent_ms >= 2 * _HALF_MS:
            self._spent_ms -= 2 * _HALF_MS
            self.flashes += 1
        return self._spent_ms < _HALF_MS and self.flashes < self.FLASHES
