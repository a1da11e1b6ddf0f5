"""One button: short and long presses, with bounce taken off."""

from micropython import const

NONE = const(0)
SHORT = const(1)
LONG = const(2)
_BOUNCE_MS = const(30)
_SHORT_MOST_MS = const(800)
_LONG_MS = const(1500)


class Press:
    """Turns the raw level of the button into events.

    A press counts as SHORT when it ends within 0.8 s, as LONG while it is still held after 1.5 s
    (so that the pilot hears it and lets go); in between it is neither, for a hand that hesitated.
    """

    def __init__(self) -> None:
        self._steady = 0
        self._changing_ms = 0
        self._held_ms = 0
        self._told = True  # a button that is stuck from the start says nothing

    def ignore(self) -> None:
        """The button is held already: this press is none. No allocation."""
        self._steady = 1

    def step(self, dt_ms: int, level: int) -> int:
        """NONE, SHORT or LONG for this tick. level: 1 while closed. No allocation."""
        event = NONE
        if self._steady:
            self._held_ms += dt_ms
            if self._held_ms >= _LONG_MS and not self._told:
                self._told = True
                event = LONG
        if level == self._steady:
            self._changing_ms = 0
            return event
        self._changing_ms += dt_ms
        if self._changing_ms < _BOUNCE_MS:
            return event
        self._changing_ms = 0
        self._steady = level
        if level:
            self._held_ms = 0
            self._told = False
        elif not self._told and self._held_ms <= _SHORT_MOST_MS:
            return SHORT
        return event
