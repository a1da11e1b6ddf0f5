"""Case G4: separators, decimal commas, thousands, quotes; never a guess, never the locale."""

import locale
from pathlib import Path

import pytest

from host_sim.errors import UsageError
from host_sim.reading.csv_choice import Choice
from tests.csv_file import HEADER, opened, repairs, samples

POINTS = HEADER + "0.5,12.5,3.25\n0.51,-1,4.5\n"
ROWS = [[(500, 125, 32), (510, -10, 45)]]  # 32.5 rounds to even


def spelt(separator: str, decimal: str = ".", quote: str = "") -> str:
    """The same file with other marks."""
    lines = [[cell.replace(".", decimal) for cell in line.split(",")]
             for line in POINTS.splitlines()]
    return "".join(separator.join(quote + cell + quote for cell in line) + "\n" for line in lines)


@pytest.mark.parametrize("text", [
    POINTS, spelt(";", ","), spelt("\t", ","), spelt("\t"), spelt(";"), spelt(",", ",", '"'),
    spelt(",", ".", '"'), "\ufeff" + spelt(";", ",").replace("\n", "\r\n"),
    spelt(";", ",").replace("\n", ";;\n"), spelt("\t", ",").replace("\t", " \t "),
])
def test_g4_five_spellings_and_more_give_the_same_rows(tmp_path: Path, text: str) -> None:
    flight = opened(tmp_path, text)
    assert samples(flight) == ROWS and not flight.repairs


@pytest.mark.parametrize(("rows", "says"), [
    ("0,12,5,3,25\n", r"f\.csv:2: has 5 values, the header names 3: a decimal comma"),
    ("0,1,234.5,2\n", r"f\.csv:2: has 4 values"),
    ('0,"1,234.5",2\n', r"f\.csv:2: '1,234\.5' has thousands separators"),
    ('0.1,1,2\n0.2,"1,234.5",2\n0.3,1,2\n', r"f\.csv:3: .*between thousands"),
    ('0.1,1,2\n0.2,"12,5",2\n0.3,1,2\n', r"f\.csv:3: .*'12,5'.*decimal mark .* is the point"),
])
def test_g4_commas_that_could_be_anything_are_refused(tmp_path: Path, rows: str,
                                                      says: str) -> None:
    with pytest.raises(UsageError, match=says):
        opened(tmp_path, HEADER + rows)


SEMICOLONS = HEADER.replace(",", ";")


def test_g4_the_whole_file_decides(tmp_path: Path) -> None:
    # 1,234 alone may be 1.234 or 1234; the last row shows that the comma is the decimal mark.
    text = SEMICOLONS + "1,250;1,234;2,345\n" * 2 + "1,500;1,234;0,5\n"
    with pytest.raises(UsageError, match="same time") as caught:
        opened(tmp_path, text + "1,500;1,234;0,5\n" * 20)
    assert "f.csv" in str(caught.value)
    flight = opened(tmp_path, SEMICOLONS + "1,250;1,234;2,345\n1,500;1,234;0,5\n")
    assert samples(flight) == [[(1250, 12, 23), (1500, 12, 5)]]


@pytest.mark.parametrize("mark", [",", "."])
def test_g4_a_file_that_does_not_decide_is_refused_with_the_choice(tmp_path: Path,
                                                                   mark: str) -> None:
    text = SEMICOLONS + f"1{mark}250;1{mark}234;2{mark}345\n1{mark}500;2;3\n"
    with pytest.raises(UsageError, match=r"f\.csv:2: .*say --decimal point\|comma"):
        opened(tmp_path, text)
    flight = opened(tmp_path, text, Choice(decimal=mark))
    assert samples(flight) == [[(1250, 12, 23), (1500, 20, 30)]]


@pytest.mark.parametrize(("rows", "says"), [
    ("0,5;1,5;2\n0,6;1.5;2\n0,7;1,5;2\n", r"f\.csv:3: .*'1\.5'.*the comma"),
    ("0.5;1.5;2\n0.6;1,5;2\n0.7;1.5;2\n", r"f\.csv:3: .*'1,5'.*the point"),
    ("0,5;1.234,5;2\n0,6;1;2\n", r"f\.csv:2: .*'1\.234,5', with a mark between"),
    ("0,5;1;2\n0,6;1.234,5;2\n0,7;1;2\n", r"f\.csv:3: .*between thousands"),
])
def test_g4_mixed_marks_are_refused(tmp_path: Path, rows: str, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        opened(tmp_path, SEMICOLONS + rows)


def test_g4_two_marks_in_the_header_need_a_word(tmp_path: Path) -> None:
    text = "time_s;pitot_pa;angled_pa;left, right\n0,5;1,5;2;x, y\n"
    with pytest.raises(UsageError, match=r"f\.csv:1: .*--separator comma\|semicolon"):
        opened(tmp_path, text)
    assert samples(opened(tmp_path, text, Choice(separator=";"))) == [[(500, 15, 20)]]
    quoted = 'time_s;pitot_pa;angled_pa;"left, right"\n0,5;1,5;2;"x;y"\n'
    assert samples(opened(tmp_path, quoted)) == [[(500, 15, 20)]]


def test_g4_a_quote_that_is_not_closed_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"f\.csv:3: is not CSV"):
        opened(tmp_path, HEADER + '0,1,2\n1,"1,2\n2,1,2\n')


def test_g4_the_locale_has_no_say(tmp_path: Path) -> None:
    """Under every locale of this machine, among them one with decimal commas where it has one."""
    before = locale.setlocale(locale.LC_ALL)
    try:
        for name in ("C", "C.UTF-8", "de_DE.UTF-8", "fr_FR.UTF-8"):
            try:
                locale.setlocale(locale.LC_ALL, name)
            except locale.Error:
                continue
            for text in (POINTS, spelt(";", ",")):
                assert samples(opened(tmp_path, text)) == ROWS
    finally:
        locale.setlocale(locale.LC_ALL, before)


def test_a_degree_sign_of_another_code_page_in_an_unused_column_is_no_damage(
        tmp_path: Path) -> None:
    content = "time_s,pitot_pa,angled_pa,Temp (\u00b0C)\n0,1,2,20\u00b0\n".encode("latin-1")
    flight = opened(tmp_path, content)
    assert samples(flight) == [[(0, 10, 20)]] and repairs(flight) == {}
    assert any("columns passed over: 'Temp (\\xb0C)'" in line for line in flight.lines())
