"""The firmware's own vault, run here on a board's files: one code reads and writes records."""

import hashlib

from host_sim.board.repl import TEMPORARY, Repl
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.json_records import FILES  # noqa: E402
from alula.record_payloads import NAMES  # noqa: E402
from alula.vault import ENDINGS, KINDS  # noqa: E402

STAGED = "alula-staged-"  # begins the name of a file that waits to become a record


def record_names() -> list[str]:
    """Every file name that may hold a record."""
    return [NAMES[kind] + ending for kind in KINDS for ending in ENDINGS] + sorted(FILES.values())


class BoardRecords:
    """The files of a board as `Vault` wants them; writes are kept here until `commit`.

    So all of them are on the board and verified before the first record changes.
    """

    def __init__(self, repl: Repl) -> None:
        self._repl = repl
        self._there = {path[1:]: size for path, size in repl.root().items()}
        self._read: dict[str, bytes] = {}
        self.staged: dict[str, bytes] = {}

    def read(self, name: str) -> tuple:
        """(content, ""), or (None, "") where there is no such file; what is staged counts."""
        if name in self.staged:
            return self.staged[name], ""
        if name not in self._there:
            return None, ""
        if name not in self._read:
            self._read[name] = self._repl.get("/" + name, self._there[name], lambda count: None)
        return self._read[name], ""

    def write_whole(self, name: str, data: bytes) -> str:
        """Keep it for `commit`."""
        self.staged[name] = data
        return ""

    def names(self) -> list[str]:
        """Files in the root."""
        return list(self._there)

    def commit(self) -> None:
        """Write all that is staged beside the records, verify it, then put it in their place: the
        renames are one command, which the board finishes even where the link is lost."""
        for name, data in self.staged.items():
            self._repl.put(f"/{STAGED}{name}", data, lambda count: None)
        self._repl.run("".join(f"os.rename('/{STAGED}{name}', '/{name}')\n"
                               for name in self.staged))
        wanted = {"/" + name: hashlib.sha256(data).hexdigest()
                  for name, data in self.staged.items()}
        found = self._repl.hashes(list(wanted), lambda count: None)
        assert found == wanted, "renamed files differ from what was verified"
        self.staged = {}

    def left_over(self) -> list[str]:
        """Names of records that an earlier run had put beside the old ones, and not in their
        place: it was cut off, perhaps between two of them."""
        return sorted(name[len(STAGED):] for name in self._there if name.startswith(STAGED))

    def tidy(self) -> None:
        """Remove what an earlier run left that was cut off."""
        for name in list(self._there):
            if name.startswith(STAGED) or name == TEMPORARY:
                self._repl.remove("/" + name)
                del self._there[name]


def cut_off(names: list[str]) -> list[str]:
    """A line for people where an earlier command has left these; none where it left nothing."""
    return [] if not names else [
        "an earlier restore or load was cut off on this unit before all was in place; left over: "
        + ", ".join(names)]
