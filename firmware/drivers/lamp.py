"""The lamp: one output pin, lit when high."""


class Lamp:
    """Dark from the start."""

    def __init__(self, pin) -> None:
        """pin: an output with `value(level)`."""
        self._pin = pin
        self._on = 0
        pin.value(0)

    def show(self, on: int) -> None:
        """Light it (true) or not; touches the pin only at a change. No allocation."""
        level = 1 if on else 0
        if level != self._on:
            self._on = level
            self._pin.value(level)
