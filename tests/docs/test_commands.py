"""Every command that a page shows is run; where that cannot be, it is parsed, and why is said."""

import importlib.util
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from shown import PAGES, Command, other_lines, shown

from alula.settings import load
from host_sim.cli import build_parser
from host_sim.errors import UsageError
from host_sim.notes.runs import run_blocks
from host_sim.reading.profile_file import wrap
from host_sim.reference import NOTES
from host_sim.reference import PAGES as MADE_PAGES
from host_sim.reference_commands import _verbs, commands_page
from host_sim.runtimes.paths import ROOT
from host_sim.sizing.example import EXAMPLE
from tests.end_to_end.command import alula, write_calibration, write_flight
from tests.log_flight import flown

# Parsed by the real command line, not run. Beginning of the command: why.
PARSED = {
    "alula board": "needs a board on a USB port; tests/board/ runs the verb against a stand-in",
    "alula listen --faults": "minutes: a flight for each of some sixty faults",
    "alula tune": "minutes: many flights; tests/tuning/ runs the verb",
}
# Not run from here. The target or module must exist.
NOT_RUN = {
    "make demo": "tests/end_to_end/test_demo.py runs what it runs",
    "make test": "it runs this test",
    "make lint": "runs beside the tests, in .ci/run",
    "make help": "lists the targets; commands.md is made from the same lines, and checked here",
    "make laws": "minutes", "make fuzz": "minutes", "make campaign": "minutes",
    "make tuning": "minutes; test_tuning_page.py makes a smaller one",
    "make bench": "measures times", "make mpy": "tests/runtimes/test_compile_mpy.py does it",
    "make reference": "writes pages; test_commands and test_hardware_notes compare them",
    "make drawings": "writes drawings; tests/docs/test_drawings.py compares them",
    "make clean": "removes the environment that runs this test",
    "python -m host_sim": "the command itself, run by all end-to-end tests",
    "python -m host_sim.reference": "as make reference", "python -m host_sim.notes": "the same",
    "python -m host_sim.notes.runs": "tests/docs/test_runs.py",
    "python -m host_sim.campaign": "minutes; tests/end_to_end/test_campaign.py flies a few",
    "python -m pytest": "it runs this test",
}
# Ends with 1 and not 0, as it must.
NO_RESULT = {"--compare": "other settings decide otherwise, and that is told"}
OTHER_LINES = {  # of the shell, beside commands: why they need no test
    ". .venv/bin/activate": "of Python's own environment",
}
ALL = [command for page in PAGES for command in shown(page)]
ALULA = [command for command in ALL if command.words[0] == "alula"]
REST = [command for command in ALL if command.words[0] != "alula"]


def is_name(command: Command) -> bool:
    """Whether a sentence only names a verb, e.g. `alula size`."""
    parser = build_parser()
    for word in command.words[1:]:
        below = _verbs(parser)
        if word not in below:
            return False
        parser = below[word]
    return command.in_text


def listed(command: Command, reasons: dict[str, str]) -> str:
    """The entry of a list that a command begins with; empty where there is none."""
    text = " ".join(command.words) + " "
    return max((entry for entry in reasons if text.startswith(entry + " ")), key=len, default="")


def to_run(page: Path) -> list[Command]:
    """Commands that this page is the first to show."""
    seen, mine = set(), []
    for command in ALULA:
        words = tuple(command.words)
        if words not in seen and not listed(command, PARSED) and not is_name(command):
            seen.add(words)
            mine += [command] if command.page == page else []
    return mine


def settings_of_the_build_guide() -> dict:
    found = re.search(r"```json\n(.*?)```", (NOTES / "build.md").read_text(), re.DOTALL)
    assert found
    return json.loads(found[1])


def _log_csv(path: Path) -> None:
    """Milliseconds and hPa, columns named as in the page of CSV files."""
    write_flight(path, "tp_stall_1g")
    names, *rows = [line.split(",") for line in path.read_text().splitlines()]
    at = [names.index(name) for name in ("time_s", "pitot_pa", "angled_pa")]
    lines = ["T,q_hPa,dp"] + [f"{float(row[at[0]]) * 1000:.0f},{float(row[at[1]]) / 100:.4f},"
                             f"{float(row[at[2]]) / 100:.4f}" for row in rows]
    path.write_text("\n".join(lines) + "\n")


def _log(path: Path) -> None:
    """A unit's log of a flight with a capture, under the name of the page."""
    shutil.copy(flown(path.parent / "flash", "first-flight", calibrated=False)[0], path)


def _tuned(path: Path) -> None:
    """Settings with a profile, as `alula tune` writes them."""
    path.parent.mkdir()
    path.write_text(json.dumps(wrap("Rill", 1, settings_of_the_build_guide())))


MAKERS = {  # files that a reader has, or a page before this one has made
    "settings.json": lambda path: path.write_text(json.dumps(settings_of_the_build_guide())),
    "rill-tuned/settings.json": _tuned,
    "other.json": lambda path: path.write_text('{"pressing_pm": 650}'),
    "CALIBRATION.json": write_calibration,
    "FLIGHT.csv": lambda path: write_flight(path, "tp_capture3_prompt"),
    "LOG.csv": _log_csv,
    "00012-000.log": _log,
    "rill.toml": lambda path: path.write_text(EXAMPLE),
}


def with_files(folder: Path, commands: list[Command]) -> None:
    text = " ".join(command.line for command in commands)
    for name, make in MAKERS.items():
        if re.search(rf"(?<![\w/-]){re.escape(name)}", text):
            make(folder / name)


@pytest.mark.parametrize("page", [page for page in PAGES if to_run(page)],
                         ids=lambda page: page.stem)
def test_every_command_that_can_be_run_does_its_job(page, tmp_path):
    commands = to_run(page)
    with_files(tmp_path, commands)
    for command in commands:
        done = alula(tmp_path, *command.words[1:])
        wanted = int(any(word in NO_RESULT for word in command.words))
        assert done.code == wanted, (command.line, done.err)
        assert done.out
        redirected = re.search(r"> (\S+)", command.line.split(" #")[0])
        if redirected:
            (tmp_path / redirected[1]).write_text(done.out)


@pytest.mark.parametrize("command", [one for one in ALULA if listed(one, PARSED)],
                         ids=lambda one: f"{one.page.stem}: {one.line}")
def test_commands_that_are_not_run_are_parsed(command):
    if is_name(command):
        return  # the verbs exist; arguments may be left out where a sentence names them
    try:
        build_parser().parse_args(command.words[1:])
    except UsageError as error:
        raise AssertionError(f"{command.page.name}: {command.line}: {error}") from error


def test_names_of_verbs_in_sentences_are_verbs():
    """A name that is not a verb would be run, and fail; so some names must have been found."""
    named = {" ".join(command.words) for command in ALULA if is_name(command)}
    assert {"alula size", "alula replay", "alula review"} <= named


@pytest.mark.parametrize("command", REST, ids=lambda one: f"{one.page.stem}: {one.line}")
def test_other_commands_exist_and_it_is_said_why_they_are_not_run(command):
    assert listed(command, NOT_RUN), f"{command.page.name} shows {command.line}: run it or list it"
    words = command.words
    if words[0] == "make":
        for target in words[1:]:
            assert subprocess.run(["make", "-n", target], cwd=ROOT, capture_output=True,
                                  check=False).returncode == 0, target
    elif words[2] != "pytest":
        assert importlib.util.find_spec(words[2]), words[2]
    else:
        assert all((ROOT / word).exists() for word in words[3:])


def test_every_other_line_of_a_code_block_is_known():
    for page in PAGES:
        assert set(other_lines(page)) <= set(OTHER_LINES), page.name


def test_every_reason_is_still_needed():
    verbs = set(_verbs(build_parser()))
    for entry in PARSED:
        if entry.split()[1] in verbs:  # a verb to come may be listed before it is there
            assert any(listed(command, PARSED) == entry for command in ALULA), entry
    assert {listed(command, NOT_RUN) for command in REST} >= {"make demo", "make test"}


def test_the_readme_shows_every_verb():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert not {verb for verb in _verbs(build_parser()) if f"\nalula {verb}" not in text}


def test_pages_show_commands_at_all():
    assert len(ALULA) > 40 and len(REST) > 20
    assert sum(len(block) for block in run_blocks((NOTES / "first_hour.md").read_text())) > 10


def test_settings_of_the_build_guide_are_whole():
    """All that has no default is in it, and nothing in it is refused."""
    settings, problems = load(settings_of_the_build_guide())
    assert problems == [] and settings.missing == []


def test_the_page_of_commands_is_current_and_names_every_flag():
    page = (NOTES / "commands.md").read_text(encoding="utf-8")
    assert page == MADE_PAGES["commands.md"]()
    for name, parser in _verbs(build_parser()).items():
        _, _, section = page.partition(f"\n## alula {name}\n")
        section = section.partition("\n## ")[0]
        told = parser.format_help()
        flags = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", told)) - {"--help"}
        assert not {flag for flag in flags if f"`{flag}" not in section}, name


def test_a_bar_in_a_help_text_does_not_break_the_table():
    for line in commands_page("").splitlines():
        if line.startswith("|"):
            assert len(re.findall(r"(?<!\\)\|", line)) == 3, line
