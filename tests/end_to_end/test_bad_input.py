"""Bad input of every kind: exit code 2, one line that says what, where and what to do, no file."""

import json
from pathlib import Path

import pytest

from host_sim.errors import UsageError
from host_sim.runtimes import run
from tests.end_to_end.command import alula, files, refused, write_calibration

HEADER = "time_s,pitot_pa,angled_pa"
ROWS = [f"{i / 100:.2f},400.0,160.0" for i in range(60)]
GOOD = "\n".join([HEADER, *ROWS]) + "\n"


def changed(line: int, text: str) -> str:
    """The good file with one line (from 1) replaced."""
    lines = GOOD.splitlines()
    lines[line - 1] = text
    return "\n".join(lines) + "\n"


# name: (content, what the one line must hold: file, line, remedy)
FLIGHTS = {
    "missing column": (GOOD.replace("angled_pa", "", 1).replace(",\n", "\n", 1).replace(
        ",160.0", ""), ("bad.csv:1:", "angled_pa is missing", "--columns angled=")),
    "a unit that is none": (GOOD.replace("angled_pa", "angled_bar", 1),
                            ("bad.csv:1:", "angled_bar", "--units angled=Pa|hPa|kPa|psi")),
    "no unit in the name": (GOOD.replace("pitot_pa", "pitot", 1),
                            ("bad.csv:1:", "'pitot'", "--units pitot=Pa|hPa|kPa|psi")),
    "doubled column": (changed(1, HEADER + ",pitot_pa"),
                       ("bad.csv:1:", "pitot_pa", "stands twice; keep one")),
    "not a number": (changed(7, "0.05,fast,160.0"),
                     ("bad.csv:7:", "pitot_pa is 'fast'", "correct the value")),
    "1_000": (changed(7, "0.05,1_000,160"), ("bad.csv:7:", "'1_000'", "correct the value")),
    "other digits": (changed(7, "0.05,\u0664\u0660\u0660,160"),
                     ("bad.csv:7:", "pitot_pa", "correct the value")),
    "short rows": (GOOD.replace(",160.0\n", "\n"),
                   ("bad.csv:2:", "fewer values", "complete the rows")),
    "long row": (changed(7, "0.05,400,160,1"), ("bad.csv:7:", "4 values", "leave the row out")),
    "decimal comma": (changed(7, "0.05,400,5,160"), ("bad.csv:7:", "4 values", "with ;")),
    "thousands": (changed(7, '0.05,"1,234.5",160'), ("bad.csv:7:", "thousands", "without")),
    "falling times": ("\n".join([HEADER, *ROWS[::-1]]) + "\n", ("late", "sort the rows")),
    "equal times": ("\n".join([HEADER, *(f"{i // 10},400,{i}" for i in range(60))]) + "\n",
                    ("same time", "milliseconds")),
    "empty file": ("", ("bad.csv:1:", "is empty", "record or export")),
    "header only": (HEADER + "\n", ("bad.csv:1:", "no data rows", "record or export")),
    "torn header": (HEADER[:-4], ("bad.csv:1:", "torn", "export the flight again")),
    "no number at all": (f"{HEADER}\n" + "0,--,1\n0.1,--,1\n",
                         ("bad.csv:1:", "pitot_pa", "no usable number", "--columns pitot=")),
    "two things between names": (GOOD.replace("time_s,", "time_s;", 1),
                                 ("bad.csv:1:", "--separator comma|semicolon")),
    "flap a fraction": (f"{HEADER},flap\n0,400,160,0.5\n", ("bad.csv:2:", "flap", "correct the")),
    "flap negative": (f"{HEADER},flap\n0,400,160,-1\n", ("bad.csv:2:", "flap", "correct the")),
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a good flight and a good calibration."""
    (tmp_path / "good.csv").write_text(GOOD)
    write_calibration(tmp_path / "cal.json")
    return tmp_path


def outputs(where: str = "out") -> tuple[str, ...]:
    """Words that ask for every output."""
    return ("--trace", f"{where}/t.csv", "--picture", f"{where}/p.png", "--sound",
            f"{where}/s.wav")


@pytest.mark.parametrize("kind", FLIGHTS)
def test_g3_g4_g6_bad_flights_are_refused(folder: Path, kind: str) -> None:
    content, says = FLIGHTS[kind]
    (folder / "bad.csv").write_text(content, encoding="utf-8")
    refused(folder, "replay", "bad.csv", "--plumbing", "opposed", *outputs(), says=says)


def test_listen_refuses_the_same(folder: Path) -> None:
    (folder / "bad.csv").write_text(changed(7, "0.05,fast,160"))
    refused(folder, "listen", "bad.csv", "--plumbing", "opposed", "--out", "s.wav",
            says=("bad.csv:7:", "correct the value"))


def test_what_is_not_a_text_file_is_refused(folder: Path) -> None:
    (folder / "bad.csv").write_bytes(bytes(range(256)) * 40)
    (folder / "sub").mkdir()
    plumbed = ("--plumbing", "opposed", *outputs())
    refused(folder, "replay", "bad.csv", *plumbed, says=("bad.csv", "name a CSV file"))
    refused(folder, "replay", "sub", *plumbed, says=("sub", "name a file"))
    refused(folder, "replay", "gone.csv", *plumbed, says=("gone.csv", "check the name"))


def curve(**change: object) -> dict:
    """A calibration with something changed."""
    return {"plumbing": "opposed", "points": [[1000, 300], [5000, 1000]], **change}


CALIBRATIONS = {
    "does not rise": (curve(points=[[1000, 300], [900, 1000]]), ("points[1]", "capture again")),
    "lift does not rise": (curve(points=[[1000, 300], [2000, 300], [3000, 1000]]),
                           ("points[1]", "must both rise")),
    "does not reach the stall": (curve(points=[[1000, 300], [2000, 900]]), ("capture again",)),
    "a list": ([[1000, 300], [5000, 1000]], ("calibration is not a JSON object",)),
    "null": (None, ("holds null, which is no calibration", "alula calibrate")),
    "for other plumbing": (curve(plumbing="port-static"), ("port-static", "opposed")),
    "unknown plumbing": (curve(plumbing="sideways"), ("plumbing", "must be one of")),
    "unknown field": (curve(colour=1), ("colour", "not a calibration field")),
    "no points": ({"plumbing": "opposed"}, ("points", "must be a list")),
    "fractions": (curve(points=[[1000.5, 300], [5000, 1000]]), ("points[0]", "whole numbers")),
    "true for a number": (curve(points=[[1000, True], [5000, 1000]]), ("whole numbers",)),
    "same flap twice": ({"curves": [{"flap": 0, "points": [[0, 300], [5, 1000]]}] * 2},
                        ("flap", "keep one curve")),
    "a name with a line break": (curve(**{"a\nb": 1}), ("not a calibration field",)),
}


@pytest.mark.parametrize("words", [
    ("replay", "good.csv", "--plumbing", "opposed"), ("fly", "ordinary", "--plumbing", "opposed"),
    ("card", "proof", "--plumbing", "opposed", "--out", "c.html"),
    ("listen", "good.csv", "--plumbing", "opposed"),
    ("tune", "good.csv", "--plumbing", "opposed", "--out", "t")])
@pytest.mark.parametrize(("content", "says"), [
    (None, ("cal2.json", "check the name")), ("null", ("cal2.json:1", "holds null"))])
def test_a_calibration_that_is_missing_or_null_is_one_line_of_every_reader(
        folder: Path, words: tuple[str, ...], content: str | None, says: tuple[str, ...]) -> None:
    if content is not None:
        (folder / "cal2.json").write_text(content)
    refused(folder, *words, "--calibration", "cal2.json", says=says)


@pytest.mark.parametrize("kind", CALIBRATIONS)
def test_d_bad_calibrations_are_refused(folder: Path, kind: str) -> None:
    record, says = CALIBRATIONS[kind]
    (folder / "bad.json").write_text(json.dumps(record, indent=1))
    refused(folder, "replay", "good.csv", "--plumbing", "opposed", "--calibration", "bad.json",
            *outputs(), says=("bad.json", *says))


SETTINGS = {
    "unknown": ({"volume": 3}, ("volume", "is not a setting", "settings reference")),
    "out of range": ({"window_ms": 5000}, ("window_ms", "80 to 400")),
    "a fraction": ({"window_ms": 100.5}, ("window_ms", "whole number")),
    "true for a number": ({"window_ms": True}, ("window_ms", "whole number")),
    "an unknown word": ({"plumbing": "sideways"}, ("plumbing", "must be one of")),
    "thresholds crossed": ({"pressing_pm": 900, "stalling_pm": 800}, ("stalling_pm", "above")),
    "a rate that does not divide": ({"sample_rate_hz": 60}, ("sample_rate_hz", "50, 100, 125")),
    "a list": ([1], ("settings", "JSON object")),
    "another format": ({"format": 2}, ("format", "reads 1")),
    "a name with a line break": ({"a\nb": 1}, ("is not a setting",)),
}


@pytest.mark.parametrize("kind", SETTINGS)
def test_h9_bad_settings_are_refused(folder: Path, kind: str) -> None:
    record, says = SETTINGS[kind]
    (folder / "bad.json").write_text(json.dumps(record, indent=1))
    for verb in (("replay", "good.csv", "--plumbing", "opposed", *outputs()),
                 ("fly", "stall-straight", "--out", "out"), ("listen", "--out", "s.wav")):
        refused(folder, *verb, "--settings", "bad.json", says=("bad.json", *says))


BROKEN_JSON = {
    "not JSON": ('{"window_ms": 200,\n "lead_ms" 5}', "bad.json:2:"),
    "empty": ("", "bad.json:1:"),
    "cut off": ('{"plumbing": "opp', "bad.json:1:"),
    "a number of 5000 digits": ('{"window_ms": ' + "9" * 5000 + "}", "bad.json"),
    "100000 brackets": ("[" * 100000, "bad.json"),
}


@pytest.mark.parametrize("kind", BROKEN_JSON)
@pytest.mark.parametrize("option", ["--settings", "--calibration"])
def test_broken_json_is_refused(folder: Path, kind: str, option: str) -> None:
    text, where = BROKEN_JSON[kind]
    (folder / "bad.json").write_text(text)
    refused(folder, "replay", "good.csv", "--plumbing", "opposed", option, "bad.json",
            *outputs(), says=(where, "correct"))


@pytest.mark.parametrize("option", ["--settings", "--calibration"])
def test_json_files_that_cannot_be_read_are_refused(folder: Path, option: str) -> None:
    (folder / "binary.json").write_bytes(b"\xff\xfe\x80\x81")
    for name, remedy in (("gone.json", "check the name"), ("binary.json", "name a JSON file")):
        refused(folder, "replay", "good.csv", "--plumbing", "opposed", option, name, *outputs(),
                says=(name, remedy))


def test_plumbing_is_never_guessed(folder: Path) -> None:
    (folder / "set.json").write_text('{"plumbing": "opposed"}')
    replay = ("replay", "good.csv", *outputs())
    refused(folder, *replay, says=("plumbing is not known", "add --plumbing"))
    refused(folder, *replay, "--plumbing", "sideways", says=("sideways", "port-static"))
    refused(folder, *replay, "--plumbing", "pitot-port", "--settings", "set.json",
            says=("contradict", "pitot-port", "opposed", "make them agree"))
    refused(folder, *replay, "--settings", "set.json", "--calibration", "cal.json",
            says=("contradict", "port-static", "opposed", "make them agree"))


def test_fly_does_not_overrule_the_plumbing_of_the_settings(folder: Path) -> None:
    (folder / "set.json").write_text('{"plumbing": "opposed"}')
    refused(folder, "fly", "stall-straight", "--plumbing", "pitot-port", "--settings", "set.json",
            "--out", "out", says=("pitot-port", "opposed"))


def test_targets_that_cannot_be_written_are_refused(folder: Path) -> None:
    (folder / "sub").mkdir()
    replay = ("replay", "good.csv", "--plumbing", "opposed", "--no-picture")
    for target, says in (("good.csv/t.csv", "name a folder"), ("/proc/no/t.csv", "name a folder"),
                         ("sub", "is a folder; name a file")):
        for option in ("--trace", "--sound"):
            refused(folder, *replay, option, target, says=(target, says))
        refused(folder, *replay[:-1], "--picture", target, says=(target, says))
    refused(folder, "listen", "--out", "sub", says=("sub", "is a folder"))
    refused(folder, "fly", "stall-straight", "--out", "good.csv", says=("good.csv", "name a"))


def test_one_target_that_cannot_be_written_leaves_no_other_behind(folder: Path) -> None:
    refused(folder, "replay", "good.csv", "--plumbing", "opposed", "--trace", "t.csv",
            "--picture", "p.png", "--sound", "good.csv/s.wav", says=("s.wav", "name a folder"))


def test_an_output_never_replaces_the_recording(folder: Path) -> None:
    for option in ("--trace", "--picture", "--sound"):
        refused(folder, "replay", "good.csv", "--plumbing", "opposed", option, "good.csv",
                says=("good.csv", option))


@pytest.mark.parametrize(("words", "says"), [
    ((), "VERB"), (("soar",), "soar"), (("replay",), "file"), (("fly", "--loud"), "--loud"),
    (("replay", "good.csv", "--runtime", "ruby"), "ruby"), (("fly", "--seed", "x"), "--seed"),
    (("fly", "--seed", "-1"), "--seed"), (("fly", "no-such-flight"), "no-such-flight"),
    (("listen", "--seconds", "nan"), "--seconds"), (("listen", "--seconds", "1e9"), "--seconds"),
])
def test_wrong_words_are_refused(folder: Path, words: tuple[str, ...], says: str) -> None:
    refused(folder, *words, says=(says,))


def test_a_missing_vm_is_said_with_the_remedy(
        monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr(run.sys, "executable", str(tmp_path / "python"))
    with pytest.raises(UsageError, match="pip install .*--runtime cpython"):
        run.find_vm()


def test_help_shows_the_caution(tmp_path: Path) -> None:
    for words in ((), ("replay",), ("fly",), ("listen",)):
        done = alula(tmp_path, *words, "--help")
        assert done.code == 0
        assert "never replaces, the primary" in " ".join(done.out.split())
    assert files(tmp_path) == {}
