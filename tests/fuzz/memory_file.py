"""A file in memory, behind the few calls of `Path` that the readers make: no disk is needed."""

import io


class MemoryFile:
    """Bytes under a name."""

    def __init__(self, name: str, data: bytes) -> None:
        self._name = name
        self._data = data

    def __str__(self) -> str:
        return self._name

    def open(self, mode: str = "r", newline: str | None = None,
             encoding: str = "utf-8") -> io.BytesIO | io.TextIOWrapper:
        raw = io.BytesIO(self._data)
        return raw if mode == "rb" else io.TextIOWrapper(raw, encoding=encoding, newline=newline)

    def read_text(self, encoding: str) -> str:
        with self.open(encoding=encoding) as file:
            return file.read()
