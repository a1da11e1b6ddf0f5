"""The raw REPL: small commands that run on the board, files whole and verified.

Each command runs on the board to its end even where the link is lost meanwhile; so what must not
be cut in two is one command.
"""

import base64
import hashlib
import json
from collections.abc import Callable
from typing import Any

from host_sim.board.link import Link, told_as_lost
from host_sim.errors import NoResult

CHUNK = 2048  # bytes a command; a small part of a board's memory
SECONDS = 30  # for one command: a board may hash a large file
TEMPORARY = "alula-copy.tmp"  # the vault's own is "unfinished.tmp"
HASHED_AT_ONCE = 8
FULL = 28  # number of an OSError

# Runs on the board. `_al_hash` reads at most n bytes, all of them if n is negative.
_HELPERS = """
import os, json, hashlib, binascii
def _al_hash(p, n=-1):
 h = hashlib.sha256()
 with open(p, 'rb') as f:
  while n:
   b = f.read(1024 if n < 0 or n > 1024 else n)
   if not b: break
   h.update(b)
   if n > 0: n -= len(b)
 return binascii.hexlify(h.digest()).decode()
def _al_tree(p, deep):
 for e in os.ilistdir(p or '/'):
  q = p + '/' + e[0]
  if e[1] == 0x4000:
   print(json.dumps([q, -1]))
   if deep: _al_tree(q, deep)
  else:
   print(json.dumps([q, os.stat(q)[6]]))
def _al_gone(p):
 try:
  if os.stat(p)[0] & 0x4000:
   for e in list(os.ilistdir(p)): _al_gone(p + '/' + e[0])
   os.rmdir(p)
  else: os.remove(p)
 except OSError as e:
  if e.errno != 2: raise
def _al_dirs(p):
 at = p.find('/', 1)
 while at > 0:
  try: os.mkdir(p[:at])
  except OSError as e:
   if e.errno != 17: raise
  at = p.find('/', at + 1)
def _al_write(first, text):
 global _al_file
 if first: _al_file = open('/%s', 'wb')
 b = binascii.a2b_base64(text)
 if _al_file.write(b) != len(b): raise OSError(28)
def _al_copy(old, digest, p):
 global _al_file
 _al_file = open('/%s', 'wb')
 with open(old, 'rb') as f:
  while True:
   b = f.read(1024)
   if not b: break
   if _al_file.write(b) != len(b): raise OSError(28)
 _al_end(digest, p)
def _al_end(digest, p):
 _al_file.close()
 if _al_hash('/%s') != digest:
  print('differs')
  return
 _al_dirs(p)
 os.rename('/%s', p)
 print('stored')
""".replace("%s", TEMPORARY)


class BoardError(NoResult):
    """A command failed on the board. number: of the OSError, or 0."""

    def __init__(self, text: str, number: int) -> None:
        super().__init__(text)
        self.number = number


class Repl:
    """Commands and files on a board that is in its raw REPL. Paths are absolute."""

    def __init__(self, link: Link) -> None:
        self.link = link
        self.port = link.port
        with told_as_lost(self.port):
            link.transport.enter_raw_repl(soft_reset=False)
        self.run(_HELPERS)

    def run(self, code: str) -> str:
        """What a piece of program prints. BoardError where it raises, Lost where it vanishes."""
        transport = self.link.transport
        with told_as_lost(self.port):
            out, wrong = transport.exec_raw(code, timeout=SECONDS)
        if wrong:
            raise _failed(self.port.name, wrong.decode("utf-8", "replace"))
        return out.decode("utf-8", "replace")

    def ask(self, expression: str) -> Any:
        """The value of an expression, through JSON."""
        return json.loads(self.run(f"print(json.dumps({expression}))"))

    def root(self) -> dict[str, int]:
        """Every path in the root: its size, -1 for a folder."""
        return self._listed("", False)

    def tree(self, folder: str) -> dict[str, int]:
        """Every path below a folder: its size, -1 for a folder."""
        return self._listed(folder, True)

    def _listed(self, folder: str, deep: bool) -> dict[str, int]:
        lines = self.run(f"_al_tree({folder!r}, {deep})").splitlines()
        return {name: size for name, size in map(json.loads, lines)}

    def hashes(self, paths: list[str], tell: Callable[[int], None]) -> dict[str, str]:
        """SHA-256 of files, computed on the board; tell: called with how many are done."""
        found: dict[str, str] = {}
        for at in range(0, len(paths), HASHED_AT_ONCE):
            some = paths[at:at + HASHED_AT_ONCE]
            lines = self.run("".join(f"print(_al_hash({path!r}))\n" for path in some)).split()
            found.update(zip(some, lines, strict=True))
            tell(len(found))
        return found

    def hash(self, path: str, size: int = -1) -> str:
        """SHA-256 of a file, or of its first `size` bytes, computed on the board."""
        return str(self.ask(f"_al_hash({path!r}, {size})"))

    def free_bytes(self) -> tuple[int, int]:
        """Free bytes of the file system, and bytes in one of its blocks."""
        block, free = self.ask("[os.statvfs('/')[0], os.statvfs('/')[3]]")
        return block * free, block

    def put(self, path: str, data: bytes, tell: Callable[[int], None]) -> None:
        """Make a file hold exactly `data`: written under another name, verified on the board by
        SHA-256, renamed. tell: called with the bytes of each piece. NoResult where it does not
        read back equal; then the file of that name is as it was."""
        pieces = [data[at:at + CHUNK] for at in range(0, len(data), CHUNK)] or [b""]
        end = f"_al_end('{hashlib.sha256(data).hexdigest()}', {path!r})"
        for i in range(len(pieces) - 1):
            self._put_step(f"_al_write({i == 0}, {_text(pieces[i])})")
            tell(len(pieces[i]))
        said = self._put_step(f"_al_write({len(pieces) == 1}, {_text(pieces[-1])})\n{end}")
        tell(len(pieces[-1]))
        self._refuse_unstored(path, said)

    def copy(self, old: str, path: str, digest: str) -> None:
        """As `put`, from another file of the board whose SHA-256 is `digest`."""
        self._refuse_unstored(path, self._put_step(f"_al_copy({old!r}, '{digest}', {path!r})"))

    def _put_step(self, code: str) -> str:
        try:
            return self.run(code)
        except BoardError:
            self.remove("/" + TEMPORARY)  # gives its room back
            raise

    def _refuse_unstored(self, path: str, said: str) -> None:
        if said.strip() == "stored":
            return
        self.remove("/" + TEMPORARY)
        raise NoResult(f"{self.port.name}: {path} did not read back equal from the board and "
                       "was not stored; run the same command again, and if it stays so the "
                       "flash is worn out: replace the board")

    def remove(self, path: str) -> None:
        """Remove a file, or a folder with all in it; nothing where it is not there."""
        self.run(f"_al_gone({path!r})")

    def get(self, path: str, size: int, tell: Callable[[int], None]) -> bytes:
        """The first `size` bytes of a file, verified by SHA-256 computed on the board."""
        self.run(f"_al_file = open({path!r}, 'rb')")
        found = b""
        while len(found) < size:
            count = min(CHUNK, size - len(found))
            piece = base64.b64decode(
                self.run(f"print(binascii.b2a_base64(_al_file.read({count})).decode())"))
            if not piece:
                break
            found += piece
            tell(len(piece))
        self.run("_al_file.close()")
        if len(found) != size or self.hash(path, size) != hashlib.sha256(found).hexdigest():
            raise NoResult(f"{self.port.name}: {path} did not come over whole; nothing was "
                           "written; run the same command again")
        return found


def _text(piece: bytes) -> str:
    return f"'{base64.b64encode(piece).decode()}'"


def _failed(name: str, traceback: str) -> BoardError:
    last = traceback.strip().splitlines()[-1]
    number = 0
    if last.startswith("OSError:"):
        digits = "".join(c if c.isdigit() else " " for c in last).split()
        number = int(digits[0]) if digits else 0
    if number == FULL:
        return BoardError(f"{name}: the flash of the board is full; get the logs off it with "
                          "`alula board logs pull --delete`, then run the same command again",
                          number)
    return BoardError(f"{name}: the board reports {last}; run the same command again", number)

