"""Case G1: times out of order, equal, going back, and several sessions in one file."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from host_sim.errors import UsageError
from host_sim.reading.csv_choice import Choice
from host_sim.reading.flight_csv import BLOCK_ROWS, read_flight
from tests.csv_file import HEADER, opened, repairs, samples


def text(times_ms: list[int]) -> str:
    """Rows whose pitot pressure, in Pa, is their place in the file."""
    return HEADER + "".join(f"{t / 1000:.3f},{i},7\n" for i, t in enumerate(times_ms))


def places(flight) -> list[list[int]]:
    """Places in the file of the rows that were taken, session by session."""
    return [[pitot // 10 for _, pitot, _ in rows] for rows in samples(flight)]


def test_g1_the_case_itself(tmp_path: Path) -> None:
    # two equal stamps, one -3 ms, one -40 s (a reboot), then a second start at 0
    times = [50000, 50010, 50010, 50007, 50020, 10020, 10030, 10040, 0, 10]
    flight = opened(tmp_path, text(times))
    assert places(flight) == [[0, 3, 1, 4], [5, 6, 7], [8, 9]]
    assert repairs(flight) == {"same-time": (1, 4), "sorted": (1, 5)}
    assert [(one.first_line, one.first_ms) for one in flight.sessions] == [
        (2, 50000), (7, 10020), (10, 0)]
    said = "\n".join(flight.lines())
    for part in ("session 1: from line 2, 50.000 s, 4 samples", "session 2: from line 7",
                 "session 3: from line 10, 0.000 s, 2 samples",
                 "the same millisecond as another: left out (line 4)",
                 "came late, by 1 s at most: put in its place (line 5)"):
        assert part in said


def test_g1_one_wild_stamp_is_left_out_and_the_session_goes_on(tmp_path: Path) -> None:
    for wild in (-40_000, 10 ** 9, 700_000):
        flight = opened(tmp_path, text([100, 110, wild, 120, 130]))
        assert places(flight) == [[0, 1, 3, 4]]
        assert repairs(flight) == {"wild-time": (1, 4)}
    assert places(opened(tmp_path, text([100, 110, 9 * 10 ** 9]))) == [[0, 1]]


def test_g1_edges_of_small_disorder_and_of_a_gap(tmp_path: Path) -> None:
    assert places(opened(tmp_path, text([2000, 1000]))) == [[1, 0]]  # 1 s: sorted
    assert places(opened(tmp_path, text([2000, 990, 999]))) == [[0], [1, 2]]
    assert places(opened(tmp_path, text([0, 600_000]))) == [[0, 1]]  # ten minutes: a gap
    assert places(opened(tmp_path, text([0, 600_001, 600_002]))) == [[0], [1, 2]]


def test_g1_a_session_can_be_chosen(tmp_path: Path) -> None:
    content = text([5000, 5010, 0, 10, 20])
    flight = opened(tmp_path, content, Choice(session=2))
    assert places(flight) == [[2, 3, 4]]
    assert read_flight(tmp_path / "f.csv", Choice(session=1))[0][:, 0].tolist() == [0, 10]
    with pytest.raises(UsageError, match=r"f\.csv: --session 3: the file holds 2"):
        opened(tmp_path, content, Choice(session=3))
    with pytest.raises(UsageError, match=r"f\.csv:4: a second session begins here"):
        read_flight(tmp_path / "f.csv")


@pytest.mark.parametrize(("times", "says"), [
    ([i // 10 * 1000 for i in range(50)], "same time as the row before"),
    (list(range(900, 0, -10)), "sort the rows"),
    ([i * 700_000 for i in range(50)], "fits no other"),
    ([i // 20 for i in range(400)], "same time"),
])
def test_g1_a_clock_that_would_cost_much_of_the_flight_is_refused(
        tmp_path: Path, times: list[int], says: str) -> None:
    with pytest.raises(UsageError, match=says):
        opened(tmp_path, text(times))


def test_g1_seconds_that_are_called_milliseconds_are_refused(tmp_path: Path) -> None:
    rows = "".join(f"{i / 100:.2f},400,160\n" for i in range(500))
    with pytest.raises(UsageError, match=r"one millisecond.*--units time=s\|ms\|us"):
        opened(tmp_path, "time_ms,pitot_pa,angled_pa\n" + rows)


def test_g1_a_log_faster_than_the_unit_is_thinned_to_its_milliseconds(tmp_path: Path) -> None:
    rows = "".join(f"{i * 500},400,160\n" for i in range(400))  # 2 kHz
    flight = opened(tmp_path, "time_us,pitot_pa,angled_pa\n" + rows)
    assert flight.survey.rows == 201  # 0, 0.5 -> 0, 1, 1.5 -> 2, ...: half to even
    assert repairs(flight)["same-time"][0] == 199


def test_a_session_longer_than_the_counter_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"f\.csv:\d+: more than 500000 s .*split the file"):
        opened(tmp_path, text([i * 500_000 for i in range(1100)]))


def expected(times: list[int]) -> list[list[int]]:
    """The rule of hardware_notes/flight_csv.md, said once more, slowly, for files without wild
    stamps: sort within a session, the first in the file of equal times."""
    sessions: list[dict[int, int]] = []
    newest = None
    for place, time in enumerate(times):
        if newest is None or time < newest - 1000 or time > newest + 600_000:
            sessions.append({})
            newest = time
        sessions[-1].setdefault(time, place)
        newest = max(newest, time)
    return [[places[t] for t in sorted(places)] for places in sessions]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None,
          max_examples=60)
@given(st.lists(st.integers(20, 60), min_size=1, max_size=4), st.integers(0, 2 ** 32))
def test_g1_law_rows_come_in_order_and_none_is_lost_without_a_word(
        tmp_path: Path, lengths: list[int], seed: int) -> None:
    random = np.random.default_rng(seed)
    times: list[int] = []
    for i, length in enumerate(lengths):
        steps = np.where(random.random(length) < 0.05, random.integers(-900, 1, length), 200)
        start = 100_000_000 - 10_000_000 * i  # each further back than a session is long
        times += (start + np.arange(length) * 200 + np.where(steps < 200, steps, 0)).tolist()
    flight = opened(tmp_path, text(times))
    assert places(flight) == expected(times)
    lost = len(times) - sum(map(len, places(flight)))
    assert lost == repairs(flight).get("same-time", (0, 0))[0]


def test_g1_disorder_across_the_edge_of_a_block_is_sorted_too(tmp_path: Path) -> None:
    times = [10 * i for i in range(3 * BLOCK_ROWS)]
    for at in range(50, len(times) - 60, 97):
        times[at], times[at + 40] = times[at + 40], times[at]
    flight = opened(tmp_path, text(times))
    rows = flight.rows(flight.sessions[0])
    assert rows[:, 0].tolist() == sorted(times)
    assert (rows[:, 2] // 10 == np.argsort(times)).all()
    assert max(len(block) for block in flight.blocks(flight.sessions[0])) <= BLOCK_ROWS
