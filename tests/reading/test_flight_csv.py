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
from host_sim.reading.csv_units import ROLES
from host_sim.reading.flight_csv import open_flight, read_flight
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.session import IN_COLUMNS, IN_WIDTH

use_firmware()

from alula.sample import FLAP_NOT_WIRED, FRESH, NO_REPLY, NOT_FITTED

REQUIRED = ("time_s", "pitot_pa", "angled_pa")
OPTIONAL = ("nz_g", "flap", "speed_kt")
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
                 plain.replace("0.01", '"0.01"'), plain.replace("\n", ",,\n"),
                 plain.replace("\n", ",\n"), plain.replace("4\n", "4,,\n")):
        assert read(tmp_path, text)[0].tolist() == wanted


def test_pressures_past_every_sensor_stay_past_the_unit_limit(tmp_path: Path) -> None:
    # 1e9 Pa cannot be kept in 32 bits; it must stay a rail to the unit, with its sign.
    columns = named(read(tmp_path, "time_s,pitot_pa,angled_pa\n0,1e9,-1e9\n")[0])
    assert columns["pitot_word"][0] > 100000 and columns["angled_word"][0] < -100000


def test_spacings(tmp_path: Path) -> None:
    (tmp_path / "f.csv").write_text(
        "time_s,pitot_pa,angled_pa\n0,1,1\n0.02,1,1\n0.04,1,1\n0.5,1,1\n")
    survey = open_flight(tmp_path / "f.csv").survey
    assert (survey.usual_ms(), survey.longest_ms) == (20, 460)
    (tmp_path / "f.csv").write_text("time_s,pitot_pa,angled_pa\n0,1,1\n")
    survey = open_flight(tmp_path / "f.csv").survey
    assert (survey.usual_ms(), survey.longest_ms) == (0, 0)


def test_errors_name_the_line_after_blank_and_quoted_lines(tmp_path: Path) -> None:
    for text, line in (("time_s,pitot_pa,angled_pa\n\n\n0,1,x\n1,1,1\n", 4),
                       ('time_s,"pitot_pa",angled_pa\r\n0,1,2\r\n.1,1,x\r\n1,1,1\r\n', 3)):
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
NAMES = st.one_of(st.sampled_from((*REQUIRED, *OPTIONAL, *ROLES)), st.text(max_size=6),
                  st.builds("{}_{}".format, st.sampled_from(ROLES), st.text(max_size=5)))


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
@given(st.permutations(REQUIRED), st.lists(st.sampled_from(OPTIONAL), max_size=3, unique=True),
       st.lists(st.lists(NUMBERS, min_size=6, max_size=6), max_size=6))
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


def test_g6_non_finite_numbers_are_missing_samples(tmp_path: Path) -> None:
    for word in ("nan", "NaN", "inf", "-inf", "Infinity", "1e400", "-1e400", "", "--", "null",
                 "-", "---", "NA", "n/a", "None", " "):
        columns = named(read(tmp_path, "time_s,pitot_pa,angled_pa,nz_g\n0,1,2,1\n"
                             f"0.01,{word},4,1\n0.02,5,{word},1\n0.03,7,8,{word}\n")[0])
        assert columns["pitot_status"] == [FRESH, NO_REPLY, FRESH, FRESH]
        assert columns["angled_status"] == [FRESH, FRESH, NO_REPLY, FRESH]
        assert columns["nz_status"] == [FRESH, FRESH, FRESH, NO_REPLY]
        assert columns["pitot_word"] == [10, 0, 50, 70]
    assert not math.isfinite(float("1e400"))  # what `float` alone would let through


def test_g6_a_row_without_a_time_is_left_out_and_counted(tmp_path: Path) -> None:
    rows, _ = read(tmp_path, "time_s,pitot_pa,angled_pa\n0,1,2\nnan,3,4\n1e306,3,4\n0.02,5,6\n")
    assert named(rows)["pitot_word"] == [10, 50]
    repairs = open_flight(tmp_path / "f.csv").repairs
    assert [(one.kind, one.count, one.first_line) for one in repairs] == [("no-time", 2, 3)]
