"""Short ways to a CSV file and what was read of it."""

from pathlib import Path

from host_sim.reading.csv_choice import Choice
from host_sim.reading.flight_csv import NO_CHOICE, Flight, open_flight

HEADER = "time_s,pitot_pa,angled_pa\n"
Kinds = dict[str, tuple[int, int]]


def opened(folder: Path, content: str | bytes, choice: Choice = NO_CHOICE) -> Flight:
    """A file with this content, read through."""
    path = folder / "f.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return open_flight(path, choice)


def samples(flight: Flight) -> list[list[tuple[int, int, int]]]:
    """(time in the file, ms; pitot, 0.1 Pa; angled, 0.1 Pa) of every row, session by session."""
    return [[(row[0] + one.first_ms, row[2], row[4]) for row in flight.rows(one).tolist()]
            for one in flight.sessions]


def repairs(flight: Flight) -> Kinds:
    """Kind to (count, first line)."""
    return {one.kind: (one.count, one.first_line) for one in flight.repairs}
