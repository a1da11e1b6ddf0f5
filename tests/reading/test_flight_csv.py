"""The flight reader: what it gives, and that nothing but UsageError ever comes out of it."""

import csv
import io
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from host_sim.errors import UsageError
from host_sim.reading.flight_csv import OPTIONAL, REQUIRED, read_flight, sample_spacings_ms
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.session import IN_COLUMNS, IN_WIDTH

use_firmware()

from alula.sample import FLAP_NOT_WIRED, FRESH, NOT_FITTED

a_file_each = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


def read(folder: Path, text: str) -> tuple[np.ndarray, int]:
    """Rows of a file with this text."""
    path = folder / "f.csv"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    return read_flight(path)


def named(rows: np.ndarray) -> dict[str, list[int]]:
    """Columns by name."""
    return {name: rows[:, i].tolist() for i, name in enumerate(IN_COLUMNS)}


def test_a_small_file_word_by_word(tmp_path: Path) -> None:
    rows, first_ms = read(tmp_path, "time_s,pitot_pa,angled_pa\n12.50,400.04,-31.96\n12.51,0,7\n")
    assert first_ms == 12500
    assert rows.dtype == np.int32 and rows.shape == (2, IN_WIDTH)
    columns = named(rows)
    assert columns["now_ms"] == [0, 10]
    assert columns["pitot_word"] == [4000, 0]  # 0.1 Pa
    assert columns["angled_word"] == [-320, 70]
    assert columns["pitot_status"] == columns["angled_status"] == [FRESH, FRESH]
    assert columns["nz_status"] == [NOT_FITTED] * 2
    assert columns["flap"] == [FLAP_NOT_WIRED] * 2
    assert columns["button"] == [0, 0]


def test_optional_columns_in_any_order_with_spaces(tmp_path: Path) -> None:
    rows, _ = read(tmp_path, " flap ,angled_pa,nz_g,time_s,pitot_pa\n20, 1.0 ,1.05,0,2\n")
    columns = named(rows)
    assert (columns["flap"], columns["nz_mg"], columns["nz_status"]) == ([20], [1050], [FRESH])
    assert (columns["angled_word"], columns["pitot_word"]) == ([10], [20])


def test_times_may_be_negative_and_are_kept_to_the_millisecond(tmp_path: Path) -> None:
    rows, first_ms = read(tmp_path, "time_s,pitot_pa,angled_pa\n-0.25,1,1\n-0.049,1,1\n0.1,1,1\n")
    assert first_ms == -250
    assert named(rows)["now_ms"] == [0, 201, 350]


def test_g4_mark_line_ends_quotes_and_blank_lines_are_taken(tmp_path: Path) -> None:
    plain = "time_s,pitot_pa,angled_pa\n0,1,2\n0.01,3,4\n"
    wanted = read(tmp_path, plain)[0].tolist()
    for text in ("\ufeff" + plain, plain.replace("\n", "\r\n"), plain.replace("\n", "\n\n"),
                 plain.replace("0.01", '"0.01"'), plain.rstrip()):
        assert read(tmp_path, text)[0].tolist() == wanted


def test_pressures_past_every_sensor_stay_past_the_unit_limit(tmp_path: Path) -> None:
    # 1e9 Pa cannot be kept in 32 bits; it must stay a rail to the unit, with its sign.
    columns = named(read(tmp_path, "time_s,pitot_pa,angled_pa\n0,1e9,-1e9\n")[0])
    assert columns["pitot_word"][0] > 100000 and columns["angled_word"][0] < -100000


def test_spacings(tmp_path: Path) -> None:
    rows, _ = read(tmp_path, "time_s,pitot_pa,angled_pa\n0,1,1\n0.02,1,1\n0.04,1,1\n0.5,1,1\n")
    assert list(sample_spacings_ms(rows)) == [20, 460]
    assert list(sample_spacings_ms(rows[:1])) == [0, 0]


def test_errors_name_the_line_after_blank_and_quoted_lines(tmp_path: Path) -> None:
    for text, line in (("time_s,pitot_pa,angled_pa\n\n\n0,1,x\n", 4),
                       ('time_s,"pitot_pa",angled_pa\r\n0,1,2\r\n0.1,1,x\r\n', 3)):
        with pytest.raises(UsageError, match=rf"f\.csv:{line}: angled_pa is 'x'"):
            read(tmp_path, text)


PRESSURES = st.floats(-10000, 10000)


@a_file_each
@given(st.lists(st.tuples(st.integers(1, 2000), PRESSURES, PRESSURES), min_size=1, max_size=30),
       st.integers(-10 ** 9, 10 ** 9))
def test_numbers_come_through_to_a_tenth_of_a_pascal(tmp_path: Path, steps, start_ms: int) -> None:
    times_ms = start_ms + np.cumsum([step for step, _, _ in steps])
    text = "time_s,pitot_pa,angled_pa\n" + "".join(
        f"{t / 1000:.3f},{pitot!r},{angled!r}\n"
        for t, (_, pitot, angled) in zip(times_ms.tolist(), steps, strict=True))
    rows, first_ms = read(tmp_path, text)
    assert first_ms == times_ms[0]
    assert rows[:, 0].tolist() == (times_ms - times_ms[0]).tolist()
    for at, values in ((2, [s[1] for s in steps]), (4, [s[2] for s in steps])):
        # half a tenth of a pascal of rounding, and the float's own last digit
        assert abs(rows[:, at] / 10 - np.array(values)).max() <= 0.05 + 1e-9


def written(rows: list[list[str]]) -> str:
    """Cells as CSV, quoted where they must be."""
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue()


NUMBERS = st.one_of(st.floats().map(str), st.integers().map(str), st.text(max_size=8),
                    st.sampled_from(["", "nan", "-inf", "1e400", "1e308", "-1e308", "1e15", "--",
                                     "1_0", "0x10", " 1 ", "\u0663", "1e999999999", "9" * 400]))
NAMES = st.one_of(st.sampled_from((*REQUIRED, *OPTIONAL)), st.text(max_size=6))


def usable_or_refused(folder: Path, text: str) -> None:
    """Rows that the firmware can take, or one clear line; never anything else."""
    try:
        rows, _ = read(folder, text)
    except UsageError as error:
        assert "f.csv" in str(error)
        assert str(error).splitlines() == [str(error)]
    else:
        assert rows.shape[0] > 0 and rows.shape[1] == IN_WIDTH
        assert (np.diff(rows[:, 0]) > 0).all() and rows[0, 0] == 0
        assert abs(rows[:, 2]).max() <= 1_000_000 and abs(rows[:, 4]).max() <= 1_000_000


@a_file_each
@given(st.text(max_size=300))
def test_any_text_gives_rows_or_a_usage_error(tmp_path: Path, text: str) -> None:
    usable_or_refused(tmp_path, text)


@a_file_each
@given(st.permutations(REQUIRED), st.lists(st.sampled_from(OPTIONAL), max_size=2, unique=True),
       st.lists(st.lists(NUMBERS, min_size=5, max_size=5), max_size=6))
def test_a_good_header_with_any_cells(tmp_path: Path, names, more, cells) -> None:
    header = [*names, *more]
    usable_or_refused(tmp_path, written([header, *[row[:len(header)] for row in cells]]))


@a_file_each
@given(st.lists(NAMES, max_size=6), st.lists(st.lists(NUMBERS, max_size=6), max_size=4))
def test_any_header_with_any_cells(tmp_path: Path, header, cells) -> None:
    usable_or_refused(tmp_path, written([header, *cells]))


@a_file_each
@given(st.binary(max_size=300))
def test_any_bytes_give_rows_or_a_usage_error(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "f.csv"
    path.write_bytes(data)
    try:
        read_flight(path)
    except UsageError as error:
        assert str(path) in str(error)


@a_file_each
@given(st.integers(0, 10 ** 6))
def test_g3_a_good_file_cut_anywhere(tmp_path: Path, cut: int) -> None:
    # Cut between rows: the rows before. Cut inside one: refused with its line, or, where the
    # number only lost digits, read as it stands.
    good = "time_s,pitot_pa,angled_pa\n" + "".join(
        f"{i / 100:.2f},{400 + i}.5,{160 - i}.5\n" for i in range(20))
    text = good[:cut % (len(good) + 1)]
    usable_or_refused(tmp_path, text)
    if text.endswith("\n") and text.count("\n") > 1:
        assert len(read(tmp_path, text)[0]) == text.count("\n") - 1


def test_non_finite_numbers_are_never_values(tmp_path: Path) -> None:
    for word in ("nan", "NaN", "inf", "-inf", "Infinity", "1e309", "-1e400"):
        assert not math.isfinite(float(word))  # what `float` alone would let through
        for row in (f"{word},1,1", f"0,{word},1", f"0,1,{word}"):
            with pytest.raises(UsageError, match=r"f\.csv:2: \w+ is "):
                read(tmp_path, f"time_s,pitot_pa,angled_pa\n{row}\n")
