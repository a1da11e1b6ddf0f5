"""Runs the commands that a page shows, and puts what they print below each.

    python -m host_sim.notes.runs           write the pages
    python -m host_sim.notes.runs --check   exit 1 if one shows other than what is printed

A block begins with `<!-- run -->` and ends with `<!-- run ends -->`; between them stands one code
block. Its lines that begin with `$ ` are run by the shell, one after another, all blocks of a
page in one temporary folder, so that a later command finds what an earlier one made. Everything
else in the code block is replaced.

`<!-- run: first 2; last 1; with pressing -->` shows of each command's lines only these; `...`
stands for what is left out. `<!-- run: fails 2 -->`: the last command of the block must end with
this exit code; every other one with 0.
"""

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.output.whole_file import whole_file
from host_sim.runtimes.paths import ROOT

NOTES = ROOT / "hardware_notes"
TIMEOUT_S = 300
_BLOCK = re.compile(r"<!-- run(?:: (?P<asked>[^>]*?))? -->\n```(?P<kind>\w*)\n(?P<body>.*?)```\n"
                    r"<!-- run ends -->", re.DOTALL)
_CUT = "..."
# The shell finds the command where the package is not installed, too.
_ALULA = 'alula() {{ "{python}" -W error -m host_sim "$@"; }}\n'


def run_blocks(text: str) -> list[list[str]]:
    """The commands of each block of a page, in order."""
    return [_commands(found["body"]) for found in _BLOCK.finditer(text)]


def pages_with_runs() -> list[Path]:
    """Pages that have such a block."""
    return [path for path in sorted(NOTES.glob("*.md"))
            if run_blocks(path.read_text(encoding="utf-8"))]


def filled(text: str, folder: Path) -> str:
    """The page with every command run anew in `folder`; UsageError names one that fails."""
    def replace(found: re.Match[str]) -> str:
        asked, commands = found["asked"], _commands(found["body"])
        fails = re.search(r"fails (\d+)", asked or "")
        codes = [0] * (len(commands) - 1) + [int(fails[1]) if fails else 0]
        shown = "".join(f"$ {command}\n{_cut(_printed(command, folder, code), asked)}"
                        for command, code in zip(commands, codes, strict=True))
        begun = "<!-- run -->" if asked is None else f"<!-- run: {asked} -->"
        return f"{begun}\n```{found['kind']}\n{shown}```\n<!-- run ends -->"
    return _BLOCK.sub(replace, text)


def _commands(body: str) -> list[str]:
    return [line[2:] for line in body.splitlines() if line.startswith("$ ")]


def _printed(command: str, folder: Path, code: int) -> list[str]:
    """What a command prints on both outputs, line by line; it must end with this exit code."""
    done = subprocess.run(
        _ALULA.format(python=sys.executable) + command, cwd=folder, shell=True, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False, timeout=TIMEOUT_S,
        env={**os.environ, "PYTHONPATH": str(ROOT), "LC_ALL": "C.UTF-8", "MPLBACKEND": "Agg"})
    if done.returncode != code:
        raise UsageError(f"`{command}` ended with {done.returncode}: {done.stdout.strip()}")
    return done.stdout.splitlines()


def _cut(lines: list[str], asked: str | None) -> str:
    """The lines that are asked for, each ended; all of them where nothing is asked."""
    wishes = [wish.strip() for wish in (asked or "").split(";")
              if wish.strip() and not wish.strip().startswith("fails ")]
    kept = set() if wishes else set(range(len(lines)))
    for wish in wishes:
        word, _, value = wish.partition(" ")
        kept |= _KEPT[word](lines, value)
    shown: list[str] = []
    for i, line in enumerate(lines):
        if i in kept:
            shown.append(line)
        elif not shown or shown[-1] != _CUT:
            shown.append(_CUT)
    return "".join(line + "\n" for line in shown)


_KEPT = {
    "first": lambda lines, value: set(range(int(value))),
    "last": lambda lines, value: set(range(len(lines) - int(value), len(lines))),
    "with": lambda lines, value: {i for i, line in enumerate(lines) if value in line},
}


def main(words: list[str]) -> int:
    """Write or check the pages."""
    stale = 0
    for path in pages_with_runs():
        text = path.read_text(encoding="utf-8")
        with tempfile.TemporaryDirectory() as folder:
            fresh = filled(text, Path(folder))
        if fresh == text:
            continue
        stale += 1
        if words == ["--check"]:
            print(f"{path.name} shows other than what is printed; run: "
                  "python -m host_sim.notes.runs")
            continue
        with whole_file(path) as temporary:
            temporary.write_text(fresh, encoding="utf-8")
    return 1 if stale and words == ["--check"] else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
