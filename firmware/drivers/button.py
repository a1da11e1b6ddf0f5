"""A contact to ground on a pin with a pull-up: the button, and the flap switch."""


class Button:
    """Raw level only; bounce and press lengths are judged where time is known."""

    def __init__(self, pin) -> None:
        """pin: an input with `value()`, low while the contact is closed."""
        self._pin = pin

    def pressed(self) -> int:
        """1 while the contact is closed, else 0. No allocation."""
        return 0 if self._pin.value() else 1
