"""The commands that the pages show, wherever they stand."""

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

from host_sim.runtimes.paths import ROOT

NOTES = ROOT / "hardware_notes"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(NOTES.glob("*.md"))]
# Run to make the page: by notes.runs, and by tuning.worked (test_tuning_page.py compares).
_RUN = re.compile(r"<!-- run.*?<!-- run ends -->|<!-- worked: .*?<!-- worked to here -->",
                  re.DOTALL)
_BLOCK = re.compile(r"^```(?P<kind>\w*)\n(?P<body>.*?)^```$", re.DOTALL | re.MULTILINE)
_INLINE = re.compile(r"`((?:\.venv/bin/)?(?:alula|make|python) [^`]+)`")
_BEGINS = re.compile(r"^(?:\$ )?((?:\.venv/bin/)?(?:alula|make|python)\b.*)$")
FORM = "text"  # a code block of this kind shows what a command looks like, not a command


@dataclass(frozen=True)
class Command:
    """A command as its page shows it: the shell's line, and its words."""

    page: Path
    line: str
    in_text: bool = False  # as code in a sentence, not in a block

    @property
    def words(self) -> list[str]:
        """Words as the shell splits them, without a comment, a redirection, or `.venv/bin/`."""
        words = shlex.split(self.line, comments=True)
        if ">" in words:
            words = words[:words.index(">")]
        return [words[0].removeprefix(".venv/bin/"), *words[1:]]


def shown(page: Path) -> list[Command]:
    """Commands of a page's code blocks and code words, in order; run blocks are not among them:
    they are run to make the page."""
    text = _RUN.sub("", page.read_text(encoding="utf-8"))
    found = []
    for block in _BLOCK.finditer(text):
        if block["kind"] != FORM:
            found += [Command(page, line[1]) for line in map(
                _BEGINS.match, block["body"].splitlines()) if line]
    return found + [Command(page, line, True) for line in _INLINE.findall(_BLOCK.sub("", text))]


def other_lines(page: Path) -> list[str]:
    """Lines of code blocks with commands that are neither a command nor a comment."""
    text = _RUN.sub("", page.read_text(encoding="utf-8"))
    found = []
    for block in _BLOCK.finditer(text):
        lines = block["body"].splitlines()
        if block["kind"] != FORM and any(map(_BEGINS.match, lines)):
            found += [line for line in lines if line.strip()
                      and not _BEGINS.match(line) and not line.lstrip().startswith("#")]
    return found
