"""A flight as CSV: `time_s,pitot_pa,angled_pa[,nz_g][,flap]`, pressures signed and as plumbed."""

import csv
import math
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

import numpy as np

from host_sim.errors import UsageError
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.sample import FLAP_NOT_WIRED, FRESH, NOT_FITTED  # noqa: E402

REQUIRED = ("time_s", "pitot_pa", "angled_pa")
OPTIONAL = ("nz_g", "flap")
_WORD_LIMIT = 1_000_000  # 0.1 Pa; anything past the unit's own limit is a rail to it
_FLAP_MOST = 99
_VALUE_LIMIT = 1e12  # no flight has such a number; past 1e305 the arithmetic here would overflow
_SHOWN_MOST = 40  # characters of a cell or a name in an error
_LONGEST_S = 500_000  # times are kept in a counter of 2^30 ms, half of it to be safe


def read_flight(path: Path) -> tuple[np.ndarray, int]:
    """Input rows for the firmware (see `session.IN_COLUMNS`, output type "direct") and the time of
    the first row in ms. UsageError names file, line and remedy; nothing is guessed."""
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows, first_ms = _read(path, file)
    except OSError as error:
        raise UsageError(f"{path}: cannot be read ({error.strerror}); check the name") from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: is not text; name a CSV file") from error
    except csv.Error as error:
        raise UsageError(f"{path}: is not CSV ({error}); export it as plain CSV") from error
    return np.array(rows, dtype=np.int32), first_ms


def _read(path: Path, file: TextIO) -> tuple[list[tuple[int, ...]], int]:
    lines = csv.reader(file)
    at = _header(path, next(lines, None))
    width = len(at)
    rows: list[tuple[int, ...]] = []
    first_ms, last_ms = 0, -1
    for cells in lines:
        if len(cells) != width:
            if not cells:
                continue
            raise _error(path, lines.line_num,
                         f"has {len(cells)} values, the header names {width}; complete the row")
        row = _row(path, lines.line_num, cells, at)
        if not rows:
            first_ms = row[0]
        now_ms = row[0] - first_ms
        _check_time(path, lines.line_num, now_ms, last_ms)
        last_ms = now_ms
        rows.append((now_ms, *row[1:]))
    if not rows:
        raise _error(path, 1, "has no data rows; record or export the flight again")
    return rows, first_ms


def _check_time(path: Path, line: int, now_ms: int, last_ms: int) -> None:
    if now_ms <= last_ms:
        raise _error(path, line, f"time_s does not rise by at least 0.001 s from the row before "
                     f"({(now_ms - last_ms) / 1000:+.3f} s); sort the rows, or split the sessions")
    if now_ms > _LONGEST_S * 1000:
        raise _error(path, line, f"time_s is more than {_LONGEST_S} s after the first row; "
                     "split the file by flights")


def _header(path: Path, cells: list[str] | None) -> dict[str, int]:
    """Column name to position."""
    if cells is None:
        raise _error(path, 1, "is empty; record or export the flight again")
    names = [cell.strip() for cell in cells]
    wanted = ",".join(REQUIRED) + "".join(f"[,{name}]" for name in OPTIONAL)
    if len(names) == 1 and (";" in names[0] or "\t" in names[0]):
        raise _error(path, 1, "columns must be separated by commas; export it as plain CSV")
    for name in names:
        if name not in REQUIRED + OPTIONAL:
            raise _error(path, 1, f"column {_shown(name)} is not known; "
                         f"the header must be {wanted}")
        if names.count(name) > 1:
            raise _error(path, 1, f"column {name} stands twice; keep one")
    for name in REQUIRED:
        if name not in names:
            raise _error(path, 1, f"column {name} is missing; the header must be {wanted}")
    return {name: i for i, name in enumerate(names)}


def _row(path: Path, line: int, cells: list[str], at: dict[str, int]) -> tuple[int, ...]:
    """One input row of the firmware, with the time in whole ms."""
    values = [_number(path, line, name, cells[i]) for name, i in at.items()]
    value = dict(zip(at, values, strict=True))
    pitot, angled = (_clamped(value[name] * 10) for name in ("pitot_pa", "angled_pa"))
    nz_status, nz_mg = NOT_FITTED, 0
    if "nz_g" in value:
        nz_status, nz_mg = FRESH, max(-32767, min(32767, round(value["nz_g"] * 1000)))
    flap = value.get("flap", FLAP_NOT_WIRED)
    if "flap" in value and (flap != int(flap) or not 0 <= flap <= _FLAP_MOST):
        raise _error(path, line, f"flap must be a whole number from 0 to {_FLAP_MOST}, "
                     f"not {flap:g}; correct the value")
    return (round(value["time_s"] * 1000), FRESH, pitot, FRESH, angled, nz_status, nz_mg,
            int(flap), 0)


def _clamped(dpa: float) -> int:
    return round(max(-_WORD_LIMIT, min(_WORD_LIMIT, dpa)))


def _number(path: Path, line: int, name: str, text: str) -> float:
    """A number as people write it; `float` alone would take nan, inf, 1e306 and 1_000."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not abs(value) < _VALUE_LIMIT or "_" in text or not text.isascii():
        raise _error(path, line, f"{name} is {_shown(text.strip())}, not a usable number; "
                     "correct the value or leave the row out")
    return value


def _shown(text: str) -> str:
    """Text from the file in an error: in quotes, odd characters written out, its start only."""
    return repr(text) if len(text) <= _SHOWN_MOST else repr(text[:_SHOWN_MOST]) + "..."


def _error(path: Path, line: int, what: str) -> UsageError:
    return UsageError(f"{path}:{line}: {what}")


def sample_spacings_ms(rows: np.ndarray) -> Iterator[int]:
    """The usual and the longest time between rows, ms."""
    steps = np.diff(rows[:, 0])
    yield int(np.median(steps)) if len(steps) else 0
    yield int(steps.max()) if len(steps) else 0
