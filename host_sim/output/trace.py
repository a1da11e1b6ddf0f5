"""The trace: one CSV row for every tick, integers as the firmware had them."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from host_sim.output.whole_file import whole_file
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import health, states  # noqa: E402
from host_sim.runtimes.session import OUT_COLUMNS, UNKNOWN  # noqa: E402

COLUMNS = ("time_s", "pitot_dpa", "angled_dpa", "ratio_bp", "lift_pm", "state", "pulse_millihz",
           "tone_hz", "health")
TraceBlock = Callable[[np.ndarray, int, int], None]


def column(out: np.ndarray, name: str) -> np.ndarray:
    """One column of the firmware's output rows, by name."""
    return out[:, OUT_COLUMNS.index(name)]


def known(out: np.ndarray, name: str) -> np.ndarray:
    """One column as float, NaN where the unit knew no number."""
    values = column(out, name)
    return np.where(values == UNKNOWN, np.nan, values)


def time_text(time_ms: int) -> str:
    """Whole milliseconds as seconds with three decimals."""
    sign = "-" if time_ms < 0 else ""
    return f"{sign}{abs(time_ms) // 1000}.{abs(time_ms) % 1000:03d}"


def trace_rows(out: np.ndarray, first_ms: int = 0, more: str = "") -> str:
    """Lines of the trace. first_ms: time of the first row; unknown numbers are left empty.
    more: what each line has at its end."""
    lines = []
    for row in out[:, :9].tolist():
        numbers = ["" if value == UNKNOWN else str(value) for value in row]
        numbers[0] = time_text(row[0] + first_ms)
        numbers[5] = states.WORDS[row[5]]
        numbers[8] = health.WORDS[row[8]]
        lines.append(",".join(numbers) + more + "\n")
    return "".join(lines)


def trace_text(out: np.ndarray, first_ms: int = 0) -> str:
    """The whole trace."""
    return ",".join(COLUMNS) + "\n" + trace_rows(out, first_ms)


def write_trace(path: Path, out: np.ndarray, first_ms: int = 0) -> None:
    """Write the trace, whole or not at all."""
    with whole_file(path) as temporary:
        temporary.write_text(trace_text(out, first_ms), encoding="utf-8", newline="\n")


@contextmanager
def trace_in_blocks(path: Path | None, sessions: bool) -> Iterator[TraceBlock]:
    """A function that adds one block to a trace: (out, first_ms, session). The file appears when
    the block of `with` has ended well. sessions: with the session's number in a last column.
    Without a path nothing is written."""
    if path is None:
        yield lambda out, first_ms, session: None
        return
    with (whole_file(path) as temporary,
          temporary.open("w", encoding="utf-8", newline="\n") as file):
        file.write(",".join(COLUMNS) + (",session" if sessions else "") + "\n")

        def add(out: np.ndarray, first_ms: int, session: int) -> None:
            file.write(trace_rows(out, first_ms, f",{session}" if sessions else ""))

        yield add
