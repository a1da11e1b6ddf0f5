"""`alula size`: the real command, its table, its JSON, and bad input."""

import re
from pathlib import Path

import pytest

from host_sim.cli import main
from host_sim.runtimes.paths import ROOT
from host_sim.sizing.example import EXAMPLE
from tests.end_to_end.command import Done, alula, files, refused

FLAGS = ["--stall", "42", "--top", "120 kt", "--height", "8000ft", "--plumbing", "port-static",
         "--probe-angle", "45", "--pitot-line", "3.5 m", "3 mm", "--angled-line", "3 m", "3 mm"]
SENSOR = ["--sensor", "1 psi", "--range", "1 psi", "--output", "ms4525-a", "--band-pc", "1",
          "--noise", "1.2 Pa", "--drift", "0.3 Pa/K"]
PAGE = ROOT / "hardware_notes" / "choosing_sensors.md"


def refused_here(capsys: pytest.CaptureFixture, *words: object, says: tuple) -> None:
    """As `refused`, without a process of its own: there are many of them."""
    assert main(["size", *map(str, words)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.startswith("alula: ") and err.count("\n") == 1, err
    for part in says:
        assert part in err


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "rill.toml").write_text(EXAMPLE)
    return tmp_path


def one(folder: Path, *words: object) -> dict:
    """The JSON of the only sensor of the flags."""
    sensor = SENSOR if "--low" not in words else SENSOR[:2] + SENSOR[4:]
    done = alula(folder, "size", *FLAGS, *sensor, *words, "--json")
    assert done.code == 0 and done.err == "", done
    return done.json()["sensors"][0]


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> tuple[Done, dict]:
    """The example, once: the table, and the JSON."""
    folder = tmp_path_factory.mktemp("ran")
    (folder / "rill.toml").write_text(EXAMPLE)
    done = alula(folder, "size", "rill.toml"), alula(folder, "size", "rill.toml", "--json")
    assert set(files(folder)) == {"rill.toml"}  # it writes nothing
    return done[0], done[1].json()


def test_the_example_is_judged(folder: Path, ran: tuple[Done, dict]) -> None:
    done = ran[0]
    assert done.code == 0 and done.err == "", done
    for word in ("fits", "marginal", "does not fit"):
        assert f": {word}; most by " in done.out
    assert "never replaces, the primary stall warning" in done.out
    assert "Not counted:" in done.out and "not tried on a real board" in done.out
    assert alula(folder, "size", "--example").out == EXAMPLE


def test_json_holds_what_the_table_says(ran: tuple[Done, dict]) -> None:
    text, found = ran[0].out, ran[1]
    assert "never replaces" in found["caution"]
    for sensor in found["sensors"]:
        assert f"{sensor['name']}: {sensor['verdict']}; most by {sensor['dominant']}." in text
        row = next(line for line in text.splitlines() if line.startswith(sensor["name"] + "  "))
        assert row.endswith(sensor["verdict"])
        assert f" {sensor['at_stall']['noise_kt']:.2f} kt" in row
        assert sensor["because"][1:] in text
        assert set(sensor["rules"]) == {"range", "least dynamic pressure", "first zero",
                                        "pressing late", "stalling late", "delay", "noise"}


def test_flags_say_the_same_as_a_file(folder: Path, ran: tuple[Done, dict]) -> None:
    by_file = ran[1]["sensors"][0]
    by_flags = one(folder)
    assert {**by_flags, "name": by_file["name"]} == by_file
    # speeds in other units, a range by its two ends, drift in percent of 2 psi
    done = alula(folder, "size", *FLAGS[2:], "--stall", "77.784 km/h", *SENSOR[:2], "--low=-1psi",
                 "--high", "1psi", *SENSOR[4:-1], "0.00217557 %/K", "--json").json()
    assert done["case"]["stall_kt"] == pytest.approx(42.0, abs=0.001)
    assert done["sensors"][0]["zero"]["drift_left_pa"] == pytest.approx([4.5, 4.5], rel=1e-4)


def test_a_flag_wins_over_the_file(folder: Path, ran: tuple[Done, dict]) -> None:
    found = alula(folder, "size", "rill.toml", "--stall", "55", "--set", "window_ms=100",
                  "--json").json()
    assert found["case"]["stall_kt"] == 55.0
    slow = ran[1]
    assert (found["sensors"][0]["delay"]["smoothing_ms"]
            < slow["sensors"][0]["delay"]["smoothing_ms"])


def test_a_settings_file_counts(folder: Path) -> None:
    (folder / "s.json").write_text('{"window_ms": 100, "plumbing": "port-static"}')
    assert (one(folder, "--settings", "s.json")["delay"]["smoothing_ms"]
            < one(folder)["delay"]["smoothing_ms"])


@pytest.mark.parametrize(("words", "verdict", "dominant"), [
    ((), "fits", None),
    (("--range", "1 inH2O"), "does not fit", "range"),
    (("--stall", "30"), "does not fit", "drift"),
    (("--stall", "24"), "does not fit", "pressing_pm"),
    (("--angled-line", "6 m", "1 mm"), "marginal", "tube"),
    (("--set", "window_ms=400", "--angled-line", "9 m", "1 mm"), "does not fit", None),
    (("--band-pc", "3"), "does not fit", "first zero"),
    (("--band-pc", "3", "--set", "zero_first_dpa=4500"), "fits", "first zero"),
    (("--low", "0 Pa", "--high", "1 psi"), "does not fit", "range"),
    (("--noise", "12 Pa"), "does not fit", None),
    (("--set", "min_q_dpa=2600", "--set", "flying_q_dpa=2700"), "does not fit",
     "least dynamic pressure"),
])
def test_verdicts_and_what_dominates(folder: Path, words: tuple, verdict: str,
                                     dominant: str | None) -> None:
    found = one(folder, *words)
    assert found["verdict"] == verdict, found["because"]
    assert dominant is None or found["dominant"] == dominant
    assert re.search(r"\d", found["because"])  # the rule with its number


# what is wrong, and what the one line must hold
WRONG = [
    ((*FLAGS, ), ("no sensor is given", "--sensor NAME")),
    ((*FLAGS[2:], *SENSOR), ("stall is not known", "--stall")),
    ((*FLAGS, *SENSOR, "--stall", "fast"), ("stall 'fast'", '"42 kt"')),
    ((*FLAGS, *SENSOR, "--stall", "nan"), ("stall 'nan'", '"42 kt"')),
    ((*FLAGS, *SENSOR, "--stall", "1e999"), ("stall", '"42 kt"')),
    ((*FLAGS, *SENSOR, "--stall", "400"), ("stall is 400 kt", "give 15 to 120 kt")),
    ((*FLAGS, *SENSOR, "--top", "45"), ("top is 45 kt", "give 50.4 to")),
    ((*FLAGS, *SENSOR, "--height", "8000"), ("height", "needs a unit", "m, cm, mm, ft, in")),
    ((*FLAGS, *SENSOR, "--plumbing", "both"), ("plumbing 'both'", "use port-static")),
    ((*FLAGS, *SENSOR, "--probe-angle", "20"), ("probe_angle 20", "10 deg more")),
    ((*FLAGS, *SENSOR, "--probe-angle", "45 deg"), ("probe_angle", "leave the unit")),
    ((*FLAGS, *SENSOR, "--angled-line", "3 m", "3"), ("angled_line bore", "needs a unit")),
    ((*FLAGS, *SENSOR, "--angled-line", "3 m", "30 mm"), ("bore is 30 mm", "0.5 to 20 mm")),
    ((*FLAGS, *SENSOR[:-2]), ("sensor 1 psi: drift is not known", '"0.3 Pa/K"')),
    ((*FLAGS, *SENSOR[2:]), ("--range describes a sensor", "add --sensor NAME")),
    ((*FLAGS, *SENSOR, "--low", "0 Pa"), ("give either range",)),
    ((*FLAGS, *SENSOR, "--bits", "16"), ("bits is 16", "give 8 to 14")),
    ((*FLAGS, *SENSOR, "--drift", "0.3 Pa"), ("drift", "Pa/K")),
    ((*FLAGS, *SENSOR, "--output", "A"), ("output 'A'", "hsc-a")),
    ((*FLAGS, *SENSOR, "--output", "direct"), ("give bits", "resolution")),
    ((*FLAGS, *SENSOR, "--range", "5 psi"), ("range ends at 34474 Pa", "choose a narrower")),
    ((*FLAGS, *SENSOR, "--set", "window_ms"), ("--set", "NAME=VALUE")),
    ((*FLAGS, *SENSOR, "--set", "window_ms=9000"), ("window_ms", "from 80 to 400")),
    ((*FLAGS, *SENSOR, "--set", "windows=90"), ("windows", "is not a setting")),
    ((*FLAGS, *SENSOR, "--settings", "none.json"), ("none.json", "check the name")),
    (("none.toml",), ("none.toml", "check the name")),
]


@pytest.mark.parametrize(("words", "says"), WRONG)
def test_wrong_flags(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                     capsys: pytest.CaptureFixture, words: tuple, says: tuple) -> None:
    monkeypatch.chdir(tmp_path)
    refused_here(capsys, *words, says=says)
    assert files(tmp_path) == {}


def test_a_wrong_flag_ends_the_real_command(tmp_path: Path) -> None:
    refused(tmp_path, "size", *WRONG[0][0], says=WRONG[0][1])


# the case file with one thing changed
SPOILED = [
    ('stall = "42 kt"', "stall = [42]", ("stall must be one value",)),
    ('stall = "42 kt"', "stall = true", ("stall must be one value",)),
    ('stall = "42 kt"', "stal = 42", ("'stal' is not known here", "known: stall")),
    ('stall = "42 kt"', "stall = ", (":2:", "not valid TOML", "correct that line")),
    ('bore = "3 mm"\n\n[settings]', '\n[settings]', ("angled_line: bore is not known",)),
    ("[angled_line]\n", "angled_line = 3\n[x]\n", ("'x' is not known",)),
    ("[settings] ", "[[settings]] ", ("settings must be a table",)),
    ("window_ms = 200", 'window_ms = "long"', ("window_ms", "whole number")),
    ("window_ms = 200", 'plumbing = "opposed"', ("plumbing is contradictory",)),
    ("window_ms = 200", "min_q_dpa = []", ("min_q_dpa", "whole number")),
    ("[[pair]] ", "[pair] ", ("pair must be written as [[pair]]",)),
    ('name = "10 inH2O, 14 bit"', 'name = "1 psi, 14 bit"', ("stands twice", "own name")),
    ('name = "10 inH2O, 14 bit"', "name = 10", ("sensor 2 needs a name",)),
    ('angled = "10 inH2O, 14 bit"', 'angled = "other"', ("angled 'other' is not a sensor",)),
    ('noise = "6 Pa"', "colour = 1", ("'colour' is not known", "noise")),
    ('noise = "6 Pa"', 'noise = "6 kt"', ("noise", "needs a unit", "Pa")),
]


@pytest.mark.parametrize(("old", "new", "says"), SPOILED)
def test_wrong_files(folder: Path, capsys: pytest.CaptureFixture, old: str, new: str,
                     says: tuple) -> None:
    assert EXAMPLE.count(old) == 1
    (folder / "rill.toml").write_text(EXAMPLE.replace(old, new))
    refused_here(capsys, folder / "rill.toml", says=says)


def test_a_file_that_is_no_text(folder: Path) -> None:
    (folder / "rill.toml").write_bytes(b"\xff\xfe\x00")
    refused(folder, "size", "rill.toml", says=("rill.toml", "not text", "TOML"))
    (folder / "rill.toml").write_text("a = " + 5000 * "[")
    refused(folder, "size", "rill.toml", says=("rill.toml",))


def test_the_page_shows_what_the_command_says(ran: tuple[Done, dict]) -> None:
    blocks = re.findall(r"```(\w+)\n(.*?)```", PAGE.read_text(), re.S)
    shown = {kind: text for kind, text in blocks}
    assert shown["toml"] == EXAMPLE
    assert shown["text"] == ran[0].out
