"""Fills the computed tables of hardware_notes/.

    python -m host_sim.notes           write them
    python -m host_sim.notes --check   exit 1 if one is out of date
"""

import sys

from host_sim.notes.blocks import filled, pages_with_blocks
from host_sim.output.whole_file import whole_file


def main(words: list[str]) -> int:
    """Write or check the pages."""
    stale = 0
    for path in pages_with_blocks():
        text = path.read_text()
        fresh = filled(text)
        if fresh == text:
            continue
        stale += 1
        if words == ["--check"]:
            print(f"{path.name} is out of date; run: python -m host_sim.notes")
            continue
        with whole_file(path) as temporary:
            temporary.write_text(fresh)
    return 1 if stale and words == ["--check"] else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
