"""Case G3: gaps and torn files. Rows before the tear are used, and its place is told."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from host_sim.errors import UsageError
from host_sim.reading.csv_lines import LINE_MOST
from tests.csv_file import HEADER, opened, repairs, samples

LINES = [f"{i / 100:.2f},{400 + i}.5,{160 - i}.5\n" for i in range(12)]
GOOD = (HEADER + "".join(LINES)).encode()
ROWS = [(10 * i, 4005 + 10 * i, 1605 - 10 * i) for i in range(12)]


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_g3_cut_at_every_byte(tmp_path: Path, end: str) -> None:
    good = GOOD.replace(b"\n", end.encode())
    ends = [i + 1 for i in range(len(good)) if good[i:i + 1] == b"\n"]
    for cut in range(len(good) + 1):
        content = good[:cut]
        whole = sum(one <= cut for one in ends) - 1  # rows whose line end is there
        if whole < 1:
            with pytest.raises(UsageError) as caught:
                opened(tmp_path, content)
            wanted = "is empty" if not content else (
                "torn" if whole < 0 else "no data rows")
            assert wanted in str(caught.value) and "f.csv:1:" in str(caught.value)
            continue
        flight = opened(tmp_path, content)
        assert samples(flight) == [ROWS[:whole]], cut  # never a number that lost its digits
        torn = content.rstrip(b"\r\n") and not content.endswith(b"\n")
        assert repairs(flight) == ({"no-line-end": (1, whole + 2)} if torn else {})
        if torn:
            assert f"(line {whole + 2}, byte {ends[whole]})" in flight.lines()[0]


@pytest.mark.parametrize("fill", [b"\0", b"\xff"])
@pytest.mark.parametrize("length", [1, 4096, LINE_MOST - 1, LINE_MOST, 5 * LINE_MOST + 3])
def test_g3_padding_at_the_end(tmp_path: Path, fill: bytes, length: int) -> None:
    for cut in (len(GOOD), len(GOOD) - 3):
        for end in (b"", b"\n"):
            flight = opened(tmp_path, GOOD[:cut] + fill * length + end)
            whole = 12 if cut == len(GOOD) else 11
            assert samples(flight) == [ROWS[:whole]]
            assert repairs(flight) == {"damaged": (1, whole + 2)}
            assert f"byte {len(GOOD) if whole == 12 else len(GOOD) - len(LINES[-1])}" in str(
                flight.lines())


def test_g3_a_hole_in_the_middle_leaves_both_halves(tmp_path: Path) -> None:
    for fill in (b"\0" * 4096, b"\xff" * 300, b"\0" * 3 * LINE_MOST):
        cut = len(GOOD) // 2 + 3
        flight = opened(tmp_path, GOOD[:cut] + fill + GOOD[cut + 40:])
        kept = samples(flight)[0]
        assert set(kept) <= set(ROWS) and kept[0] == ROWS[0] and kept[-1] == ROWS[-1]
        assert len(kept) >= 12 - 4 and flight.repairs[0].kind == "damaged"


def test_g3_the_header_again_in_the_middle(tmp_path: Path) -> None:
    header = HEADER.encode()
    flight = opened(tmp_path, header + b"".join(
        line.encode() + (header if i in (3, 7) else b"") for i, line in enumerate(LINES)))
    assert samples(flight) == [ROWS]
    assert repairs(flight) == {"header-again": (2, 6)}


def test_g3_a_row_cut_off_by_a_new_start_that_writes_its_header(tmp_path: Path) -> None:
    # line 6 begins as a row and goes on as the header
    text = HEADER + "".join(LINES[:4]) + LINES[4][:9] + HEADER + "".join(LINES[:3])
    flight = opened(tmp_path, text)
    assert repairs(flight) == {"short": (1, 6), "header-again": (1, 6)}
    assert samples(flight) == [ROWS[:4], ROWS[:3]]  # a new start, though within the same second
    assert [one.first_line for one in flight.sessions] == [2, 7]


def test_g3_garbage_in_the_last_rows(tmp_path: Path) -> None:
    for garbage, count in (("\x01\x02,##,\x7f\n", 1), ("q\u00e9,1,2\n%%,3,4\n0.3,4,5,6,7\n", 3)):
        flight = opened(tmp_path, GOOD.decode() + garbage)
        assert samples(flight) == [ROWS]
        assert repairs(flight) == {"torn-end": (count, 14)}


def test_g3_more_than_an_end_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"f\.csv:14: .*'x', not a usable number"):
        opened(tmp_path, GOOD.decode() + "x,1,2\n" * 21)
    with pytest.raises(UsageError, match=r"f\.csv:2: .*'x', not a usable number"):
        opened(tmp_path, HEADER + "x,1,2\n")


def test_g3_a_short_row_is_left_out_many_are_refused(tmp_path: Path) -> None:
    lines = LINES.copy()
    lines[5] = "0.05,40\n"
    flight = opened(tmp_path, HEADER + "".join(lines))
    assert samples(flight) == [ROWS[:5] + ROWS[6:]]
    assert repairs(flight) == {"short": (1, 7)}
    lines[6:9] = ["0.05,40\n"] * 3
    with pytest.raises(UsageError, match=r"f\.csv:7: has fewer values .*4 rows of 12"):
        opened(tmp_path, HEADER + "".join(lines))


def test_g3_two_rows_torn_together_are_never_read_shifted(tmp_path: Path) -> None:
    text = HEADER + "".join(LINES[:4]) + LINES[4][:7] + "".join(LINES[6:])
    with pytest.raises(UsageError, match=r"f\.csv:6: has 4 values, the header names 3"):
        opened(tmp_path, text)


def test_lines_of_an_old_system_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"f\.csv:1: the header has no line end"):
        opened(tmp_path, GOOD.replace(b"\n", b"\r"))
    with pytest.raises(UsageError, match="UTF-16.*UTF-8"):
        opened(tmp_path, GOOD.decode().encode("utf-16"))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.integers(0, len(GOOD)), st.integers(1, 200))
def test_g3_law_a_hole_of_zeros_never_changes_a_number(tmp_path: Path, start: int,
                                                       length: int) -> None:
    content = GOOD[:start] + b"\0" * min(length, len(GOOD) - start) + GOOD[start + length:]
    try:
        flight = opened(tmp_path, content)
    except UsageError as error:
        assert start < len(HEADER) or "no data rows" in str(error), error
        return
    assert set(samples(flight)[0]) <= set(ROWS)


def test_a_log_that_grows_is_read_to_where_it_ended(tmp_path: Path) -> None:
    flight = opened(tmp_path, GOOD)
    with (tmp_path / "f.csv").open("ab") as file:
        file.write(b"0.12,1,1\n")
    assert samples(flight) == [ROWS]


def test_a_file_that_changes_while_it_is_read_is_refused(tmp_path: Path) -> None:
    flight = opened(tmp_path, GOOD)
    (tmp_path / "f.csv").write_bytes(GOOD[:len(GOOD) // 2])
    with pytest.raises(UsageError, match=r"f\.csv: changed while it was read; try again"):
        samples(flight)
