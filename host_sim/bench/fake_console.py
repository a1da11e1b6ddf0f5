"""A computer on the other end of the USB console, or none."""


class FakeStream:
    """Keeps what is written. fail: the next writes raise OSError. buffer: takes bytes, as
    `sys.stdout.buffer`; `lines()` has both."""

    def __init__(self) -> None:
        self.text = ""
        self.fail = False
        self.buffer = FakeBytes(self)

    def write(self, text: str) -> int:
        """As a stream's `write`."""
        if self.fail:
            raise OSError(5)
        self.buffer.empty()
        self.text += text
        return len(text)


    def lines(self) -> list:
        """The whole lines so far, of narration and answers, in their order."""
        self.buffer.empty()
        return self.text.split("\n")[:-1]


class FakeBytes:
    """The raw side of a `FakeStream`; takes bytes without allocating, ROOM at a time."""

    ROOM = 4096

    def __init__(self, stream: FakeStream) -> None:
        self._stream = stream
        self._kept = bytearray(self.ROOM)
        self._count = 0

    def write(self, data) -> int:
        """As a binary stream's `write`."""
        if self._stream.fail:
            raise OSError(5)
        for i in range(len(data)):
            if self._count == self.ROOM:
                self.empty()
            self._kept[self._count] = data[i]
            self._count += 1
        return len(data)

    def empty(self) -> None:
        """Hand over what was written."""
        if self._count:
            self._stream.text += str(bytes(memoryview(self._kept)[:self._count]), "utf-8")
            self._count = 0


class FakeKeys:
    """What a computer sends: `type(text)`; read by `readinto`, polled by `ipoll`."""

    def __init__(self) -> None:
        self._bytes = b""
        self._at = 0
        self._one = [1]
        self._none: list = []
        self.fail = False

    def type(self, text) -> None:
        """Send text, or bytes."""
        self._bytes = self._bytes[self._at:] + (text.encode() if isinstance(text, str) else text)
        self._at = 0

    def waiting(self) -> bool:
        """Something was sent that nobody has read."""
        return self._at < len(self._bytes)

    def readinto(self, buffer) -> int:
        """As a binary stream's; fills as much as there is."""
        if self.fail:
            raise OSError(5)
        count = 0
        while count < len(buffer) and self._at < len(self._bytes):
            buffer[count] = self._bytes[self._at]
            self._at += 1
            count += 1
        return count

    def ipoll(self, timeout_ms: int) -> list:
        """As `select.poll().ipoll`."""
        return self._one if self._at < len(self._bytes) else self._none

    def poll(self, timeout_ms: int) -> list:
        """As `select.poll().poll`."""
        return self.ipoll(timeout_ms)


class FakePoller:
    """listening: whether the other end takes text now."""

    def __init__(self) -> None:
        self.listening = True
        self._one = [1]
        self._none: list = []

    def poll(self, timeout_ms: int) -> list:
        """As `select.poll().poll`: a list of what is ready."""
        return self._one if self.listening else self._none

    def ipoll(self, timeout_ms: int) -> list:
        """As `select.poll().ipoll`."""
        return self.poll(timeout_ms)
