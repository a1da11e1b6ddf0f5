"""Order in time: small disorder is put right, a big step begins a new session.

So does a step back of any size behind a header that stands again: a recorder wrote it as it began.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator

from host_sim.reading.csv_report import Report
from host_sim.reading.csv_rows import LINE, T_MS, Row

LATE_MOST_MS = 1000  # a row may come so much late; further back, the clock has begun anew
GAP_MOST_MS = 600_000  # after ten minutes without a row a unit has been off
_HOLD_ROWS = 4096  # rows kept back to be sorted: more than a second has, so that each is let go


def _fits(time_ms: int, newest_ms: int) -> bool:
    return -LATE_MOST_MS <= time_ms - newest_ms <= GAP_MOST_MS


def without_wild(rows: Iterable[Row], report: Report) -> Iterator[Row]:
    """Rows without those whose own time is wrong: it fits neither the rows before nor the next."""
    newest_ms: int | None = None
    held: Row | None = None
    for row in rows:
        time_ms = row[T_MS]
        anew = row[LINE] < 0 and newest_ms is not None and time_ms <= newest_ms
        if newest_ms is None or anew or _fits(time_ms, newest_ms):
            _leave_out(held, report)
            held = None
            newest_ms = time_ms if newest_ms is None or anew else max(newest_ms, time_ms)
            yield row
        elif held is not None and _fits(time_ms, held[T_MS]):  # two agree: a new session
            yield held
            newest_ms, held = max(held[T_MS], time_ms), None
            yield row
        else:
            _leave_out(held, report)
            held = row
    _leave_out(held, report)


def _leave_out(held: Row | None, report: Report) -> None:
    if held is not None:
        report.add("wild-time", abs(held[LINE]))


def in_order(rows: Iterable[Row], report: Report) -> Iterator[tuple[int, list[Row]]]:
    """(session, rows) in pieces: sessions count from 1; within one, times rise by 1 ms at least.

    At most `_HOLD_ROWS` rows and those of one second are held at a time.
    """
    session, newest_ms = 1, None
    held: list[Row] = []
    for row in without_wild(rows, report):
        time_ms = row[T_MS]
        if newest_ms is None or newest_ms < time_ms <= newest_ms + GAP_MOST_MS:
            held.append(row)
            newest_ms = time_ms
            if len(held) >= _HOLD_ROWS:
                cut = bisect_left(held, newest_ms - LATE_MOST_MS, key=_time)
                yield session, held[:cut]
                del held[:cut]
        elif row[LINE] > 0 and _fits(time_ms, newest_ms):
            _put_in(held, row, report)
        else:
            yield session, held
            session, newest_ms, held = session + 1, time_ms, [row]
    if held:
        yield session, held


def _time(row: Row) -> int:
    return row[T_MS]


def _put_in(held: list[Row], row: Row, report: Report) -> None:
    """A late row goes to its place; of two in the same millisecond the first in the file stays."""
    at = bisect_left(held, row[T_MS], key=_time)
    if at < len(held) and held[at][T_MS] == row[T_MS]:
        report.add("same-time", row[LINE])
    else:
        report.add("sorted", row[LINE])
        held.insert(at, row)
