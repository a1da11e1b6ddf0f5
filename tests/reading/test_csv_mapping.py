"""What the command line and the mapping file say of a CSV."""

import argparse
from pathlib import Path

import pytest

from host_sim.errors import UsageError
from host_sim.reading.csv_choice import Choice, add_csv_arguments, choice_from
from host_sim.reading.csv_units import UNITS


def choice(folder: Path, *words: str, mapping: str | None = None) -> Choice:
    """The choice that these words and this mapping file make."""
    parser = argparse.ArgumentParser()
    add_csv_arguments(parser)
    if mapping is not None:
        (folder / "m.toml").write_text(mapping)
        words = (*words, "--map", str(folder / "m.toml"))
    return choice_from(parser.parse_args(words))


MAPPING = """
separator = "semicolon"
decimal = "comma"
[columns]
time = "T"
pitot = "q, left"
[units]
time = "MS"
pitot = "hpa"
"""


def test_words_and_file_say_the_same(tmp_path: Path) -> None:
    wanted = Choice({"time": "T", "pitot": "q, left"}, {"time": "ms", "pitot": "hPa"}, ";", ",")
    assert choice(tmp_path, mapping=MAPPING) == wanted
    assert choice(tmp_path, "--columns", "time=T", "--units", "time=ms", "--decimal", "comma",
                  mapping=MAPPING) == wanted  # said twice, alike
    assert choice(tmp_path) == Choice()
    got = choice(tmp_path, "--columns", " time = T , speed=v=2", "--units", "speed=km/h",
                 "--separator", "tab", "--session", "2", "--believe-units")
    assert got == Choice({"time": "T", "speed": "v=2"}, {"speed": "km/h"}, "\t", None, 2, True)


@pytest.mark.parametrize(("words", "mapping", "says"), [
    (("--columns", "time"), None, "--columns: 'time' is not ROLE=..."),
    (("--columns", "time="), None, "is not ROLE=..."),
    (("--columns", ""), None, "is not ROLE=..."),
    (("--columns", "aoa=x"), None, "'aoa' is no role of a column; use time, pitot, angled"),
    (("--columns", "time=a,time=b"), None, "time stands twice; keep one"),
    (("--units", "pitot=bar"), None, "pitot cannot be in 'bar'; use Pa|hPa|kPa|psi|inH2O|mmH2O"),
    (("--units", "time=h"), None, "time cannot be in 'h'; use s|ms|us"),
    (("--units", "flap=deg"), None, "flap settings have no unit"),
    (("--session", "0"), None, "sessions count from 1"),
    (("--columns", "time=t"), MAPPING, "m.toml: time is 'T', but 't' in --columns"),
    (("--units", "pitot=Pa"), MAPPING, "m.toml: pitot is 'hPa', but 'Pa' in --units"),
    (("--separator", "tab"), MAPPING, "m.toml: separator differs from --separator"),
    ((), "[columns]\ntime = 3\n", "[columns] time must be text in quotes"),
    ((), "[columns]\naoa = 'x'\n", "m.toml: [columns]: 'aoa' is no role"),
    ((), "[units]\npitot = 'bar'\n", "m.toml: [units]: pitot cannot be in 'bar'"),
    ((), "separator = 'pipe'\n", "m.toml: separator is 'pipe'; use comma or semicolon or tab"),
    ((), "decimal = 1\n", "'decimal' does not belong"), ((), "[colours]\n", "does not belong"),
    ((), "columns = 'x'\n", "'columns' does not belong"),
    ((), "[columns]\ntime = 'a'\ntime = 'b'\n", "m.toml:3: mapping is not valid TOML"),
    ((), "[columns\n", "m.toml:1: mapping is not valid TOML"),
])
def test_wrong_words_are_refused_in_one_line(tmp_path: Path, words: tuple[str, ...],
                                             mapping: str | None, says: str) -> None:
    with pytest.raises(UsageError) as caught:
        choice(tmp_path, *words, mapping=mapping)
    assert says in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_a_mapping_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="check the name"):
        choice(tmp_path, "--map", str(tmp_path / "gone.toml"))
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe\x80")
    with pytest.raises(UsageError, match="name a TOML file"):
        choice(tmp_path, "--map", str(tmp_path / "b.toml"))


def test_the_units_of_the_manual_are_those_of_the_table() -> None:
    page = (Path(__file__).parents[2] / "hardware_notes" / "flight_csv.md").read_text()
    rows = [line.split("|")[1:-1] for line in page.splitlines() if line.startswith("| `")]
    stated = {role.strip(" `"): [unit.strip(" `") for unit in units.split(",")]
              for role, _, units, *_ in rows}
    assert stated == {role: list(units) if role != "flap" else ["none"]
                      for role, units in UNITS.items()}
