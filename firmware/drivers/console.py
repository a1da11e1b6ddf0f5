"""Lines of text to a computer, if one is listening; never waits for it.

On USB a write waits up to half a second when the port is open and nobody reads, so a line is
written only while the stream says that it can take it; else it is dropped and counted.
"""

from drivers.retry import count_up


class Console:
    """stream: write(text). poller: poll(0) is true while the stream can take text.

    dropped: lines that nobody could take, counted up to `retry.COUNT_MOST`.
    """

    def __init__(self, stream, poller) -> None:
        self.dropped = 0
        self._stream = stream
        self._poller = poller

    def say(self, line: str) -> None:
        """Write one line, or drop it. Never raises; allocates as its caller's formatting did."""
        try:
            if self._poller.poll(0):
                self._stream.write(line + "\n")
                return
        except OSError:
            pass
        self.dropped = count_up(self.dropped)
