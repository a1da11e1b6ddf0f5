"""A flash of files that fails on request: behind the few calls `FlashFiles` makes.

As littlefs promises: what is written counts when the file is closed, and a rename is one step.
The real littlefs is tested in the VM and with littlefs-python; this one reaches every call.
"""

EIO = 5
ENOSPC = 28


class PowerCut(BaseException):
    """The power is gone: every call from here on raises it, too, and no program catches it."""


class FakeFlash:
    """Files by path, in memory.

    calls: calls so far, reads included. fail_at: the number of the call that raises
    OSError(fail_with), 1 for the next one; 0 never. fail_for: how many calls in a row fail.
    cut_at: the call at which the power goes; cut_after: whether its effect is still stored.
    short_by: bytes that every write leaves out, and says so. bad_write: the written bytes lose
    their last one, and nothing says so. capacity_bytes: room for all files together.
    """

    def __init__(self, capacity_bytes: int = 1 << 20) -> None:
        self.files: dict = {}
        self.capacity_bytes = capacity_bytes
        self.calls = 0
        self.fail_at = 0
        self.fail_for = 1
        self.fail_with = EIO
        self.cut_at = 0
        self.cut_after = False
        self.short_by = 0
        self.bad_write = False
        self._dead = False

    def healthy(self) -> None:
        """No more failures, and the power is back; files stay."""
        self.calls = self.fail_at = self.cut_at = self.short_by = 0
        self.fail_for = 1
        self.bad_write = self._dead = False

    def free(self) -> int:
        """Room left, in bytes."""
        return self.capacity_bytes - sum([len(data) for data in self.files.values()])

    def open(self, path: str, mode: str):
        """As the built-in, for "rb", "wb" and "ab"."""
        self.turn(None)
        if mode != "rb":
            return _Writer(self, path, mode == "ab")
        if path not in self.files:
            raise OSError(2)
        return _Reader(self, self.files[path])

    def rename(self, old: str, new: str) -> None:
        """As `os.rename`: over what is there, in one step."""
        self.turn(lambda: self._move(old, new))

    def remove(self, path: str) -> None:
        """As `os.remove`."""
        self.turn(lambda: self._drop(path))

    def listdir(self, path: str) -> list:
        """As `os.listdir`."""
        self.turn(None)
        return [name[len(path):] for name in sorted(self.files) if name.startswith(path)]

    def statvfs(self, path: str) -> tuple:
        """As `os.statvfs`, in units of one byte."""
        self.turn(None)
        return (1, 1, self.capacity_bytes, self.free(), self.free(), 0, 0, 0, 0, 255)

    def turn(self, effect) -> None:
        """Count a call, let it fail or cut the power if it is its turn, else do its effect."""
        self.calls += 1
        if self._dead:
            raise PowerCut
        if self.fail_at and self.fail_at <= self.calls < self.fail_at + self.fail_for:
            raise OSError(self.fail_with)
        cut = self.calls == self.cut_at
        if effect is not None and (not cut or self.cut_after):
            effect()
        if cut:
            self._dead = True
            raise PowerCut

    def _move(self, old: str, new: str) -> None:
        if old not in self.files:
            raise OSError(2)
        self.files[new] = self.files.pop(old)

    def _drop(self, path: str) -> None:
        if path not in self.files:
            raise OSError(2)
        del self.files[path]


class _Open:
    """An open file as a context; leaving it closes it, whatever happened inside."""

    def __init__(self, flash: FakeFlash) -> None:
        self._flash = flash

    def __enter__(self):
        return self

    def __exit__(self, kind, error, trace) -> None:
        self.close()

    def close(self) -> None:
        """Nothing to store."""
        self._flash.turn(None)


class _Reader(_Open):
    """Reads in parts, as a real file may."""

    def __init__(self, flash: FakeFlash, data: bytes) -> None:
        _Open.__init__(self, flash)
        self._data = data
        self._at = 0

    def read(self, most: int) -> bytes:
        """The next part, at most 64 bytes."""
        self._flash.turn(None)
        part = self._data[self._at:self._at + min(most, 64)]
        self._at += len(part)
        return part


class _Writer(_Open):
    """Stores when it is closed, as littlefs does; at the end of what is there, if it appends."""

    def __init__(self, flash: FakeFlash, path: str, append: bool) -> None:
        _Open.__init__(self, flash)
        self._path = path
        self._append = append
        self._data = b""

    def write(self, data: bytes) -> int:
        """Take bytes; returns how many."""
        self._flash.turn(None)
        if len(self._data) + len(data) > self._flash.free():
            raise OSError(ENOSPC)
        taken = data[:len(data) - self._flash.short_by]
        self._data += taken[:-1] if self._flash.bad_write else taken
        return len(taken)

    def flush(self) -> None:
        """littlefs would commit the half that is written: nobody may call this."""
        raise AssertionError("flush of an unfinished record")

    def close(self) -> None:
        """Now it counts."""
        self._flash.turn(self._store)

    def _store(self) -> None:
        old = self._flash.files.get(self._path, b"") if self._append else b""
        self._flash.files[self._path] = old + self._data
