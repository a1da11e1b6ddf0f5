"""What a board has from the interpreter alone, whatever its pins are."""

import gc
import io
import select
import sys

from drivers.console import Console


def open_console() -> Console:
    """Text to and from whoever is at the standard output and input."""
    poller = select.poll()
    poller.register(sys.stdout, select.POLLOUT)
    keys_poller = select.poll()
    keys_poller.register(sys.stdin, select.POLLIN)
    return Console(sys.stdout, poller, sys.stdin.buffer, keys_poller, sys.stdout.buffer)


class PlainBoard:
    """The part of a board that needs no pin.

    maintenance: `maintain()` asked for this start; the next one is an ordinary one.
    """

    start_word = "power"
    maintenance = False
    _timers: tuple = ()

    def _note_start(self, word: str) -> None:
        """Keep why the board has started: a start word, or "maintenance"."""
        self.maintenance = word == "maintenance"
        self.start_word = "restart" if self.maintenance else word

    def _keep(self, timer):
        """The timer; one that nobody holds could be collected, and stop."""
        self._timers += (timer,)
        return timer

    def describe(self, error: Exception) -> str:
        """The traceback of an exception, as text."""
        text = io.StringIO()
        sys.print_exception(error, text)  # type: ignore[attr-defined]  # MicroPython has it
        return text.getvalue()

    def free_memory(self) -> int:
        """Free heap in bytes."""
        return gc.mem_free()
