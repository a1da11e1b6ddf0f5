"""A computer on the other end of the USB console, or none."""


class FakeStream:
    """Keeps what is written. fail: the next writes raise OSError."""

    def __init__(self) -> None:
        self.text = ""
        self.fail = False

    def write(self, text: str) -> int:
        """As a stream's `write`."""
        if self.fail:
            raise OSError(5)
        self.text += text
        return len(text)


class FakePoller:
    """listening: whether the other end takes text now."""

    def __init__(self) -> None:
        self.listening = True

    def poll(self, timeout_ms: int) -> list:
        """As `select.poll().poll`: a list of what is ready."""
        return [1] if self.listening else []
