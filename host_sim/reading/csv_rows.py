"""From lines to rows of whole numbers: one row a line, in the order of the file."""

import csv
import math
from collections.abc import Iterable, Iterator

from host_sim.errors import UsageError
from host_sim.reading.csv_columns import Layout, split_cells
from host_sim.reading.csv_error import line_error, shown
from host_sim.reading.csv_report import Report
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.sample import (  # noqa: E402
    FLAP_NOT_WIRED,
    FLAP_UNCLEAR,
    FRESH,
    NO_REPLY,
    NOT_FITTED,
)

# A row: the firmware's input (session.IN_COLUMNS, time as in the file), speed in mm/s (-1: none),
# and the line it came from, negative where the header stood again just before.
Row = tuple[int, int, int, int, int, int, int, int, int, int, int]
T_MS, PITOT_STATUS, PITOT, ANGLED_STATUS, ANGLED, NZ_STATUS, NZ, FLAP, _, SPEED, LINE = range(11)

MISSING = frozenset(("", "-", "--", "---", "nan", "+nan", "-nan", "na", "n/a", "#n/a", "null",
                     "none"))
TIME_LIMIT_MS = 1e15  # thirty thousand years; floats still tell milliseconds apart
_VALUE_LIMIT = 1e12
_FLAP_MOST = 99
_TORN_END_MOST = 20  # lines at the end that may be unreadable
_SHORT_SHARE, _SHORT_FEW = 100, 3  # one row in a hundred may be torn, or three in a small file


class RowReader:
    """Reads rows by a layout and a decimal mark; repairs go into the report."""

    def __init__(self, where: str, layout: Layout, decimal: str, report: Report) -> None:
        self._where, self._layout, self._decimal, self._report = where, layout, decimal, report
        self._columns = layout.columns
        self._flaps: dict[str, int] = {}  # spellings seen, with the setting they mean
        self._last_time = ""
        self._after_header = False
        self.read = 0
        self.equal_times = 0  # rows with the very time of the row before

    def rows(self, lines: Iterable[tuple[int, str]]) -> Iterator[Row]:
        """Every row. UsageError, with the line, where a line in the middle cannot be read."""
        bad: list[tuple[int, UsageError]] = []  # lines that could not be read
        for number, text in lines:
            try:
                row = self._row(number, text)
            except UsageError as error:
                bad.append((number, error))
                if len(bad) > _TORN_END_MOST:
                    break
                continue
            if row is None:
                continue
            if bad:
                break
            self.read += 1
            yield row
        else:
            if self.read:  # whatever cannot be read stands at the end
                if bad:
                    self._report.add("torn-end", bad[0][0], count=len(bad))
                bad = []
        if bad:
            raise bad[0][1]
        self._check_short()

    def _row(self, number: int, text: str) -> Row | None:
        """One row; None for a line that is left out and counted."""
        cells = self._cells(number, text)
        if cells is None:
            return None
        self._count_equal(cells[self._columns["time"].at])
        time = self._value("time", cells, number)
        if time is None or abs(time) > TIME_LIMIT_MS:
            self._report.add("no-time", number)
            return None
        pitot = self._pressure("pitot", cells, number)
        angled = self._pressure("angled", cells, number)
        nz = self._nz(cells, number)
        return (round(time), *pitot, *angled, *nz, self._flap(cells, number), 0,
                self._speed(cells, number), self._line(number))

    def _line(self, number: int) -> int:
        sign, self._after_header = -1 if self._after_header else 1, False
        return sign * number

    def _count_equal(self, time: str) -> None:
        self.equal_times += time == self._last_time
        self._last_time = time

    def _cells(self, number: int, text: str) -> list[str] | None:
        """The line's cells; None for a header that stands again, and for a torn row."""
        layout = self._layout
        if text.endswith(layout.header):
            if len(text) > len(layout.header):
                self._report.add("short", number)  # cut off, and the header written after it
            self._report.add("header-again", number)
            self._after_header = True
            return None
        try:
            cells = split_cells(text, layout.separator)
        except csv.Error as error:
            raise self._error(number, f"is not CSV ({error}); export it as plain CSV") from error
        if len(cells) < layout.width:
            self._report.add("short", number)
            return None
        if len(cells) > layout.width and any(cell.strip() for cell in cells[layout.width:]):
            raise self._error(
                number, f"has {len(cells)} values, the header names {layout.width}: a decimal "
                "comma, a mark between thousands, or two rows torn together; export with ; "
                "between the columns or with quotes, or leave the row out")
        return cells

    def _value(self, role: str, cells: list[str], line: int) -> float | None:
        """A number in the reader's unit; None where the sample is missing. `float` alone would
        take nan, inf, 1_000 and digits of other scripts."""
        column = self._columns[role]
        text = cells[column.at].strip()
        if self._decimal == ",":
            if "." in text:
                raise self._no_number(role, line, text)
            text = text.replace(",", ".")
        try:
            value = float(text) * column.factor
        except ValueError:
            if text.casefold() in MISSING:
                return None
            raise self._no_number(role, line, cells[column.at].strip()) from None
        if "_" in text or not text.isascii():
            raise self._no_number(role, line, text)
        return value if math.isfinite(value) else None

    def _pressure(self, role: str, cells: list[str], line: int) -> tuple[int, int]:
        value = self._value(role, cells, line)
        if value is None:
            self._report.add(role + "-missing", line)
            return NO_REPLY, 0
        # The inner rounding takes off what a factor left of binary dust: 408.35 Pa and 4.0835 hPa
        # stand on the same edge between two tenths, and must fall to the same side.
        return FRESH, round(round(max(-_VALUE_LIMIT, min(_VALUE_LIMIT, value)), 6))

    def _nz(self, cells: list[str], line: int) -> tuple[int, int]:
        if "nz" not in self._columns:
            return NOT_FITTED, 0
        value = self._value("nz", cells, line)
        if value is None:
            self._report.add("nz-missing", line)
            return NO_REPLY, 0
        return FRESH, round(max(-32767, min(32767, value)))

    def _flap(self, cells: list[str], line: int) -> int:
        if "flap" not in self._columns:
            return FLAP_NOT_WIRED
        text = cells[self._columns["flap"].at]
        flap = self._flaps.get(text)
        if flap is not None:
            return flap
        value = self._value("flap", cells, line)
        if value is None:
            self._report.add("flap-missing", line)
            return FLAP_UNCLEAR
        if value != int(value) or not 0 <= value <= _FLAP_MOST:
            raise self._error(line, f"flap must be a whole number from 0 to {_FLAP_MOST}, "
                              f"not {value:g}; correct the value")
        if len(self._flaps) < _FLAP_MOST:
            self._flaps[text] = int(value)
        return int(value)

    def _speed(self, cells: list[str], line: int) -> int:
        if "speed" not in self._columns:
            return -1
        value = self._value("speed", cells, line)
        return -1 if value is None or not 0 <= value < _VALUE_LIMIT else round(value)

    def _check_short(self) -> None:
        torn = self._report.count("short")
        if torn > max(_SHORT_FEW, self.read // _SHORT_SHARE) or torn and not self.read:
            raise self._error(
                self._report.first_line("short"), f"has fewer values than the header names "
                f"({self._layout.width}), and so have {torn} rows of {self.read + torn}; "
                "complete the rows, or leave them out")

    def _no_number(self, role: str, line: int, text: str) -> UsageError:
        name = self._columns[role].name
        if "," in text and "." in text:
            return self._error(line, f"{name} is {shown(text)}, with a mark between thousands; "
                               "export the numbers without them")
        if ("," in text or "." in text) and text.replace(",", "").replace(".", "").isdigit():
            mark = "comma" if self._decimal == "," else "point"
            return self._error(line, f"{name} is {shown(text)}, but the decimal mark of this file "
                               f"is the {mark}; write all numbers alike")
        return self._error(line, f"{name} is {shown(text)}, not a usable number; "
                           "correct the value or leave the row out")

    def _error(self, line: int, what: str) -> UsageError:
        return line_error(self._where, line, what)
