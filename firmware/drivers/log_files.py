"""The flight log's files on the board's flash: one is written at its end, a piece at a time.

A file grows when it is closed, not before: littlefs commits then (so no flush here either). A cut
of the power between two pieces leaves it as it was. Every OSError becomes words. May allocate.
"""

from drivers.flash_files import FlashFiles, meaning

ENDING = ".log"
NAME_MOST = 13  # "00012-003.log"


def file_name(session: int, part: int) -> str:
    """The name of a part of a session; names sort as time does."""
    return "%05d-%03d%s" % (session, part, ENDING)


def session_of(name: str) -> int:
    """The session that a name tells, or -1 where it is no log's name."""
    digits = name[:5] + name[6:9]
    plain = len(name) == NAME_MOST and name[5] == "-" and name.endswith(ENDING)
    return int(name[:5]) if plain and all("0" <= c <= "9" for c in digits) else -1


class LogFiles(FlashFiles):
    """As `FlashFiles`, in the same folder."""

    def __init__(self, os_module, open_function, root: str) -> None:
        FlashFiles.__init__(self, os_module, open_function, root)
        self._file = None

    def logs(self) -> list:
        """The names of all logs, the oldest first."""
        return sorted([name for name in self.names() if session_of(name) >= 0])

    def remove(self, name: str) -> str:
        """Remove a file; empty text if done."""
        try:
            self._os.remove(self._root + name)
        except OSError as error:
            return "%s: cannot be removed: %s" % (name, meaning(error))
        return ""

    def writing(self) -> bool:
        """A file is open: what was written to it does not count yet."""
        return self._file is not None

    def begin(self, name: str) -> str:
        """Open a file to write at its end; empty text if done. `end` or `abandon` it."""
        try:
            self._file = self._open(self._root + name, "ab")
        except OSError as error:
            return "%s: %s" % (name, meaning(error))
        return ""

    def write(self, piece) -> str:
        """Write a piece; empty text if all of it was taken."""
        if self._file is None:
            return "no file is open"
        try:
            count = self._file.write(piece)
        except OSError as error:
            return meaning(error)
        return "" if count == len(piece) else "only %s of %d bytes were taken" % (
            count, len(piece))

    def end(self) -> str:
        """Close the file: only now what was written counts. Empty text if done."""
        file, self._file = self._file, None
        try:
            if file is not None:
                file.close()
        except OSError as error:
            return meaning(error)
        return ""

    def abandon(self) -> None:
        """Let go of a file after a failure; what was written may be lost, or a torn block."""
        self.end()
