"""Collects the bytes of one command line. No allocation until somebody wants its text."""

from micropython import const

LONGEST = const(120)
MORE, WHOLE, TOO_LONG, NOT_TEXT = const(0), const(1), const(2), const(3)
_ENDS = (10, 13)  # newline, carriage return
_SPACE, _TILDE = const(32), const(126)


class CommandLine:
    """Ends at a newline or a carriage return; an empty line is none."""

    def __init__(self) -> None:
        self._bytes = bytearray(LONGEST)
        self._length = 0
        self._found = MORE
        self._ended = False

    def add(self, byte: int) -> int:
        """MORE, or how the line has ended: WHOLE, TOO_LONG, NOT_TEXT. No allocation."""
        if self._ended:
            self._ended = False
            self._length = 0
            self._found = MORE
        if byte in _ENDS:
            if self._length == 0 and self._found == MORE:
                return MORE
            self._ended = True
            return WHOLE if self._found == MORE else self._found
        if not _SPACE <= byte <= _TILDE:
            self._found = NOT_TEXT
        elif self._length == LONGEST:
            if self._found == MORE:
                self._found = TOO_LONG
        else:
            self._bytes[self._length] = byte
            self._length += 1
        return MORE

    def text(self) -> str:
        """The whole line; allocates."""
        return str(bytes(memoryview(self._bytes)[:self._length]), "utf-8")
