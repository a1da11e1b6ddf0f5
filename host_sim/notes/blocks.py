"""Fills the computed blocks of the pages in hardware_notes/.

A block stands between `<!-- computed: NAME -->` and `<!-- end of NAME -->`; between them
everything is replaced.
"""

import re
from collections.abc import Callable
from pathlib import Path

from host_sim.notes import (
    board_pins,
    electric_numbers,
    enclosure_numbers,
    plumbing_compare,
    probe_numbers,
    tubing_numbers,
)
from host_sim.runtimes.paths import ROOT

NOTES = ROOT / "hardware_notes"
BLOCKS: dict[str, Callable[[], list[str]]] = {
    "pins": board_pins.table,
    "pins-esp32": board_pins.table_esp32,
    "tone": electric_numbers.tone_table,
    "lamp": electric_numbers.lamp_table,
    "bus": electric_numbers.bus_table,
    "hold-up": electric_numbers.hold_up_table,
    "axis": enclosure_numbers.axis_table,
    "air-column": enclosure_numbers.column_table,
    "plumbings": plumbing_compare.table,
    "signals": plumbing_compare.signals,
    "port-angle": probe_numbers.port_angle_table,
    "head": probe_numbers.head_table,
    "alignment": probe_numbers.alignment_table,
    "place": probe_numbers.place_table,
    "swing": probe_numbers.swing_table,
    "lag": tubing_numbers.lag_table,
    "mismatch": tubing_numbers.mismatch_table,
    "low-point": tubing_numbers.low_point_table,
}
_BLOCK = re.compile(r"<!-- computed: (?P<name>[a-z0-9-]+) -->\n.*?<!-- end of (?P=name) -->",
                    re.DOTALL)


def block_names(text: str) -> list[str]:
    """Names of the blocks in a page, in order."""
    return [match["name"] for match in _BLOCK.finditer(text)]


def filled(text: str) -> str:
    """The page with every block computed anew. KeyError for a block nobody computes."""
    def replace(match: re.Match[str]) -> str:
        name = match["name"]
        body = "\n".join(BLOCKS[name]())
        return f"<!-- computed: {name} -->\n{body}\n<!-- end of {name} -->"
    return _BLOCK.sub(replace, text)


def pages_with_blocks() -> list[Path]:
    """Pages that have a block."""
    return [path for path in sorted(NOTES.glob("*.md")) if block_names(path.read_text())]
