"""Whole files on the board's flash: written under another name, then renamed. May allocate.

Every OSError becomes words; nothing here raises for what the flash does.
"""

TEMPORARY = "unfinished.tmp"
READ_MOST = 16384  # far more than any record; a larger file would only fill the memory
_PART = 1024  # `read(n)` reserves n bytes at once, whatever the size of the file
_NO_ENTRY = 2
_MEANINGS = {5: "the flash reports an error", 28: "the flash is full; remove logs",
             84: "the file system is damaged"}


def meaning(error) -> str:
    """An OSError in words, with its number."""
    number = error.args[0] if error.args else 0
    return "%s (error %s)" % (_MEANINGS.get(number, "the flash refuses"), number)


class FlashFiles:
    """The files in one folder of the flash.

    os_module: rename, remove, listdir, statvfs. open_function: as the built-in `open`.
    root: the folder, without a slash at its end; "" is the root of the board.
    """

    def __init__(self, os_module, open_function, root: str) -> None:
        self._os = os_module
        self._open = open_function
        self._root = root + "/"

    def read(self, name: str) -> tuple:
        """(content, ""), (None, "") where there is no such file, or (None, why it failed)."""
        try:
            with self._open(self._root + name, "rb") as file:
                found = b""
                while len(found) <= READ_MOST:
                    part = file.read(_PART)
                    if not part:
                        return found, ""
                    found += part
        except OSError as error:
            if error.args and error.args[0] == _NO_ENTRY:
                return None, ""
            return None, "cannot be read: " + meaning(error)
        return None, "cannot be read: it is larger than %d bytes" % READ_MOST

    def write_whole(self, name: str, data: bytes) -> str:
        """Make a file hold exactly `data`; afterwards the file is the old one or the new one.

        Empty text if done; else what went wrong, and `name` is as it was, unless the rename
        itself failed half-way: then read it to know.
        """
        problem = self._write(data)
        if not problem:
            found, problem = self.read(TEMPORARY)
            if found != data:
                problem = problem or "the flash did not keep what was written"
        if not problem:
            try:
                self._os.rename(self._root + TEMPORARY, self._root + name)
                return ""
            except OSError as error:
                problem = meaning(error)
        self._tidy()
        return "%s: %s" % (name, problem)

    def try_out(self, count: int) -> tuple:
        """(bytes that came back, ""), or why not: write so many, read them, remove them."""
        data = bytes([i * 7 + (i >> 8) & 255 for i in range(count)])
        problem = self._write(data)
        found = None
        if not problem:
            found, problem = self.read(TEMPORARY)
            if found != data:
                problem = problem or "the flash did not keep what was written"
        self._tidy()
        return len(found) if found and not problem else 0, problem

    def names(self) -> list:
        """The files there are; none where the folder cannot be read."""
        try:
            return list(self._os.listdir(self._root))
        except OSError:
            return []

    def free_bytes(self):
        """Free space in bytes, or None where it cannot be told."""
        try:
            told = self._os.statvfs(self._root)
        except OSError:
            return None
        return told[1] * told[3]  # f_frsize * f_bfree

    def _write(self, data: bytes) -> str:
        """The temporary file, whole and closed. No flush: it would commit a half."""
        try:
            with self._open(self._root + TEMPORARY, "wb") as file:
                count = file.write(data)
        except OSError as error:
            return meaning(error)
        if count != len(data):
            return "only %s of %d bytes were taken; remove logs" % (count, len(data))
        return ""

    def _tidy(self) -> None:
        """A temporary file that came to nothing gives its room back."""
        try:
            self._os.remove(self._root + TEMPORARY)
        except OSError:
            pass
