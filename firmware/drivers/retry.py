"""How often a device that has stopped answering is still asked."""

from micropython import const

COUNT_MOST = const(0x3FFFFFF)  # error counters stop here instead of wrapping to a small number


def count_up(count: int) -> int:
    """One more, up to COUNT_MOST. No allocation."""
    return count + 1 if count < COUNT_MOST else count


class Retry:
    """Asks at every turn until `patience` failures in a row, then at every `every`-th turn.

    Why: a dead bus costs its whole time limit at every call, and the board's I2C puts a fresh
    exception on the heap for every failure. Both would in the end stall the loop that must sound
    the fault. No allocation.
    """

    def __init__(self, patience: int, every: int) -> None:
        """patience: failures in a row, >= 1; every: turns between two later tries, >= 1."""
        self._patience = patience
        self._every = every
        self._failures = 0
        self._turns = 0

    def due(self) -> bool:
        """Whether to ask the device at this turn; call it once a turn."""
        if self._failures < self._patience:
            return True
        self._turns += 1
        if self._turns < self._every:
            return False
        self._turns = 0
        return True

    def failed(self) -> None:
        """The device did not answer."""
        if self._failures < self._patience:
            self._failures += 1
            self._turns = 0

    def answered(self) -> None:
        """The device answered: ask at every turn again."""
        self._failures = 0
