"""Text to and from a computer, if one is there; never waits for it.

On USB a write waits up to half a second when the port is open and nobody reads, so a line is
written only while the stream says that it can take it; else it is dropped and counted. An answer
goes out a byte at a time, each only after the stream has said so: it can't wait at all.
"""

from micropython import const

from drivers.retry import count_up

PIECE = const(32)  # bytes a tick, either way
HELD_MOST = const(8)  # lines that wait for an answer to end
PATIENCE = const(200)  # turns without a byte taken, then the answer is given up
_NEWLINE = const(10)


def _ready(poller) -> bool:
    """Whether the one stream of a poller is. No allocation but at the first call."""
    for _ in poller.ipoll(0):
        return True
    return False


class Console:
    """stream: write(text), for lines. poller: poll(0) is true while it can take text.

    keys, keys_poller: readinto(buffer) of what the computer sends, and whether there is any; raw:
    write(bytes), for answers. Without them nothing is read and nothing answered.
    dropped: lines that nobody could take, counted up to `retry.COUNT_MOST`.
    """

    def __init__(self, stream, poller, keys=None, keys_poller=None, raw=None) -> None:
        self.dropped = 0
        self._stream = stream
        self._poller = poller
        self._keys = keys
        self._keys_poller = keys_poller
        self._raw = raw
        self._one = bytearray(1)
        self._answer = b""
        self._at = 0
        self._turns = 0
        self._torn = False  # an answer was given up half-way: its line is still open
        self._held: list = []

    def say(self, line: str) -> None:
        """Write one line, or drop it; an answer under way comes first. Never raises; allocates as
        its caller's formatting did."""
        if self._answer:
            if len(self._held) < HELD_MOST:
                self._held.append(line)
            else:
                self.dropped = count_up(self.dropped)
            return
        try:
            if self._poller.poll(0):
                self._stream.write(("\n" if self._torn else "") + line + "\n")
                self._torn = False
                return
        except OSError:
            pass
        self.dropped = count_up(self.dropped)

    def read(self, into: bytearray) -> int:
        """Fill a buffer with what has come; how many bytes, 0 where nobody is there. Never waits,
        never raises. No allocation."""
        if self._keys is None:
            return 0
        count = 0
        one = self._one
        try:
            while count < len(into) and _ready(self._keys_poller):
                if self._keys.readinto(one) != 1:
                    break
                into[count] = one[0]
                count += 1
        except OSError:
            pass
        return count

    def answering(self) -> bool:
        """An answer is under way. No allocation."""
        return len(self._answer) > 0

    def answer(self, line: bytes) -> None:
        """Begin to send one line, newline included; `pump` does it. No allocation."""
        if self._raw is not None:
            self._answer = line
            self._at = 0
            self._turns = 0

    def pump(self) -> None:
        """Send a piece of the answer under way; call it once a tick. Allocates only where lines
        have waited for its end."""
        answer = self._answer
        if not answer:
            return
        sent = 0
        if self._torn and self._put(_NEWLINE):
            self._torn = False
        while not self._torn and sent < PIECE and self._at < len(answer):
            if not self._put(answer[self._at]):
                break
            self._at += 1
            sent += 1
        if self._at == len(answer):
            self._end()
        elif sent:
            self._turns = 0
        else:
            self._turns += 1
            if self._turns >= PATIENCE:
                self._torn = self._torn or self._at > 0
                self._end()

    def _put(self, byte: int) -> bool:
        self._one[0] = byte
        try:
            return _ready(self._poller) and self._raw.write(self._one) == 1
        except OSError:
            return False

    def _end(self) -> None:
        self._answer = b""
        if self._held:
            held, self._held = self._held, []
            for line in held:
                self.say(line)
