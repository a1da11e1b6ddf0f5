"""Decimal point or decimal comma: by the evidence of the whole file, never by the locale."""

import csv
import re
from collections.abc import Iterable

from host_sim.reading.csv_columns import Layout, split_cells
from host_sim.reading.csv_error import line_error, shown

_NUMBER = re.compile(r"[+-]?(\d*)([.,])(\d*)(?:[eE][+-]?\d+)?")
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+\.\d*|[+-]?\d{1,3}(?:\.\d{3})+,\d*")


def find_decimal(where: str, lines: Iterable[tuple[int, str]], layout: Layout) -> str:
    """"." or ",". UsageError where a number could be read either way and nothing in the file
    decides, or where a number has both."""
    unclear = None
    for number, text in lines:
        if layout.separator == "," and '"' not in text:
            if "." in text:
                return "."
            continue
        for cell in _cells(text, layout):
            mark = _mark(where, number, cell)
            if mark == "?":
                unclear = unclear or (number, cell)
            elif mark:
                return mark
    if unclear:
        raise line_error(where, unclear[0], f"{shown(unclear[1])} may have a decimal mark or one "
                         "between thousands, and no number in the file tells which; say --decimal "
                         "point|comma, or export without thousands separators")
    return "."


def _cells(text: str, layout: Layout) -> list[str]:
    """The cells in use; none of a line that cannot be read."""
    try:
        cells = split_cells(text, layout.separator)
    except csv.Error:
        return []
    if len(cells) < layout.width:
        return []
    return [cells[column.at].strip() for column in layout.columns.values()]


def _mark(where: str, line: int, cell: str) -> str:
    """The decimal mark of a cell; "?": it might be one between thousands; "": it has none."""
    if _THOUSANDS.fullmatch(cell):
        raise line_error(where, line, f"{shown(cell)} has thousands separators; "
                         "export the numbers without them")
    found = _NUMBER.fullmatch(cell)
    if not found or not (found[1] or found[3]):
        return ""
    grouped = 1 <= len(found[1]) <= 3 and found[1][0] != "0" and len(found[3]) == 3
    return "?" if grouped else found[2]
