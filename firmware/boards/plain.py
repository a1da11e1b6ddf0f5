"""What a board has from the interpreter alone, whatever its pins are."""

import gc
import io
import select
import sys

from drivers.console import Console


def open_console() -> Console:
    """Lines to whoever listens on the standard output."""
    poller = select.poll()
    poller.register(sys.stdout, select.POLLOUT)
    return Console(sys.stdout, poller)


class PlainBoard:
    """The part of a board that needs no pin."""

    def describe(self, error: Exception) -> str:
        """The traceback of an exception, as text."""
        text = io.StringIO()
        sys.print_exception(error, text)  # type: ignore[attr-defined]  # MicroPython has it
        return text.getvalue()

    def free_memory(self) -> int:
        """Free heap in bytes."""
        return gc.mem_free()
