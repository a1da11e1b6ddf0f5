"""Lines of a CSV file, in flat memory, with what is torn or padded left out and reported."""

from collections.abc import Callable, Iterator
from typing import BinaryIO

from host_sim.errors import UsageError
from host_sim.reading.csv_report import Report

LINE_MOST = 65536  # bytes; no row of numbers is longer. What is, was padded or torn
_UTF8_MARK = b"\xef\xbb\xbf"
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
_TELL_EVERY = 4096  # lines between two calls of `progress`


class Lines:
    """Iterates over (number, text) of the lines after the header; blank ones are passed over.

    where: the file's name, for errors. size: bytes of the file that belong to this reading; a log
    that grows meanwhile is read to where it ended at the start. header: text of the first line.
    """

    def __init__(self, where: str, file: BinaryIO, size: int, report: Report,
                 progress: Callable[[int], None] | None = None) -> None:
        self._where, self._file, self._size = where, file, size
        self._report = report
        self._progress = progress
        self._at = 0  # byte at which the next line begins
        self.number = 0
        self.offset = 0  # byte at which the present line begins
        self.header = self._read_header()

    def __iter__(self) -> Iterator[tuple[int, str]]:
        while raw := self._next():
            text = self._decoded(raw)
            if text is not None and text.strip():
                yield self.number, text
            if self._progress and self.number % _TELL_EVERY == 0:
                self._progress(self._at)

    def _next(self) -> bytes:
        """The next line's bytes with their line end; b"" at the end of the file. Of a line longer
        than LINE_MOST the start only."""
        self.number += 1
        self.offset = self._at
        raw = self._piece()
        last = raw
        while last and not last.endswith(b"\n") and len(last) == LINE_MOST:
            last = self._piece()
        return raw

    def _piece(self) -> bytes:
        raw = self._file.readline(min(LINE_MOST, self._size - self._at))
        self._at += len(raw)
        return raw

    def _decoded(self, raw: bytes) -> str | None:
        """The line's text; None, and reported, where it is no text or has no end."""
        if b"\0" in raw or b"\xff" in raw or len(raw) == LINE_MOST:
            self._report.add("damaged", self.number, self.offset)
            return None
        if not raw.endswith(b"\n"):
            if raw.strip():
                self._report.add("no-line-end", self.number, self.offset)
            return None
        return text_of(raw)

    def _read_header(self) -> str:
        raw = self._next()
        if raw.startswith(_UTF16_MARKS):
            raise UsageError(f"{self._where}: is UTF-16 text; export it as UTF-8")
        raw = raw.removeprefix(_UTF8_MARK)
        while raw and not raw.strip():
            raw = self._next()
        if not raw:
            raise UsageError(f"{self._where}:1: is empty; record or export the flight again")
        if b"\0" in raw or b"\xff" in raw or len(raw) >= LINE_MOST:
            raise UsageError(f"{self._where}: is not text; name a CSV file")
        if not raw.endswith(b"\n") or b"\r" in raw.removesuffix(b"\n").removesuffix(b"\r"):
            raise UsageError(f"{self._where}:{self.number}: the header has no line end (LF or "
                             "CRLF): the file is torn there, or from an old system; "
                             "export the flight again")
        return text_of(raw)


def text_of(raw: bytes) -> str:
    """UTF-8, or else Latin-1: a column that is not used may hold a degree sign."""
    try:
        return raw.decode("utf-8").rstrip("\r\n")
    except UnicodeDecodeError:
        return raw.decode("latin-1").rstrip("\r\n")
