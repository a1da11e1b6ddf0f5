"""When the wing really broke, as somebody outside the unit knows it: a column, or a list."""

from math import isfinite, nan
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.reading.csv_columns import split_cells
from host_sim.reading.csv_lines import Lines
from host_sim.reading.csv_report import Report
from host_sim.reading.flight_csv import Flight
from host_sim.reading.text_file import read_text

COLUMN = "stall"
APART_MS = 2000  # no wing breaks twice so soon: the capture's own recovery takes longer
_FLAGS = {"0": False, "1": True, "0.0": False, "1.0": True}


def column_stalls(flight: Flight) -> list[int]:
    """Times, in ms as the file counts them, at which the column `stall` turns from 0 to 1.

    UsageError where there is no such column, or it holds anything but 0 and 1."""
    path, layout = flight.path, flight.layout
    if COLUMN not in layout.unused:
        raise UsageError(f"{path}:1: --truth needs a column {COLUMN} (0, and 1 from the moment "
                         "the wing stalls to its recovery); add it, or give --stalls FILE")
    names = [name.strip() for name in split_cells(layout.header, layout.separator)]
    at, time = names.index(COLUMN), layout.columns["time"]
    found, before = [], False
    with path.open("rb") as file:
        for number, text in Lines(str(path), file, flight.size, Report()):
            cells = split_cells(text, layout.separator)
            if len(cells) <= at or text == layout.header:
                continue
            word = cells[at].strip()
            if word not in _FLAGS:
                raise UsageError(f"{path}:{number}: {COLUMN} is {word!r}; it must be 0 or 1")
            if _FLAGS[word] and not before:
                found.append(round(float(cells[time.at].replace(flight.decimal, "."))
                                   * time.factor))
            before = _FLAGS[word]
    return found


def listed_stalls(path: Path) -> dict[str, list[float]]:
    """A CSV `flight,stall_s`: flight name to times in seconds, as the flight counts them."""
    lines = read_text(path, "stalls", "CSV").splitlines()
    if not lines or [cell.strip() for cell in lines[0].split(",")] != ["flight", "stall_s"]:
        raise UsageError(f"{path}:1: the header must be flight,stall_s")
    found: dict[str, list[float]] = {}
    for number, line in enumerate(lines[1:], 2):
        if not line.strip():
            continue
        name, _, time = (part.strip() for part in line.rpartition(","))
        try:
            time_s = float(time)
        except ValueError:
            time_s = nan
        if not isfinite(time_s):
            raise UsageError(f"{path}:{number}: {time!r} is no time in seconds; write "
                             "flight,stall_s")
        found.setdefault(name, []).append(time_s)
    return found


def check_apart(name: str, stalls_ms: list[int], last_ms: int) -> tuple[int, ...]:
    """The stalls in order; UsageError where they cannot be true."""
    ordered = sorted(stalls_ms)
    for stall_ms in ordered:
        if not 0 <= stall_ms <= last_ms:
            raise UsageError(f"{name}: a stall is stated {stall_ms / 1000:.1f} s after its first "
                             f"sample, but the flight lasts {last_ms / 1000:.1f} s; correct the "
                             "truth")
    for one, two in zip(ordered, ordered[1:], strict=False):
        if two - one < APART_MS:
            raise UsageError(f"{name}: two stalls within {(two - one) / 1000:.2f} s are stated, "
                             f"at {one / 1000:.1f} s; keep the one that is true")
    return tuple(ordered)
