"""The pages of hardware_notes/: links, cautions, what was tried, computed tables."""

import re

import pytest
from pages import FOR_BUILDERS, NOTES, headings, links, text_of

from host_sim.notes import __main__ as notes_main
from host_sim.notes.blocks import BLOCKS, block_names, filled, pages_with_blocks
from host_sim.runtimes.paths import ROOT

ALL_PAGES = sorted(NOTES.glob("*.md"))
MODULES = [path.relative_to(ROOT).as_posix() for room in ("firmware", "host_sim", "tests")
           for path in (ROOT / room).rglob("*.py")]
BY_THE_BUILDER = {"this_board.py", "boards/this_board.py", "firmware/boards/this_board.py",
                  "firmware/boards/NAME.py"}


EVERY_PAGE = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *ALL_PAGES]


@pytest.mark.parametrize("path", EVERY_PAGE, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_links_lead_somewhere(path):
    for image, text, target in links(path.read_text(encoding="utf-8")):
        if target.startswith(("http://", "https://")):
            continue
        assert not image or text, f"{target} has no words for those who cannot see it"
        place, _, anchor = target.partition("#")
        there = path.parent / place if place else path
        assert there.exists(), f"{path.name} links to {target}, which is not there"
        if anchor:
            assert anchor in headings(there.read_text(encoding="utf-8")), target


@pytest.mark.parametrize("path", EVERY_PAGE, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_no_merge_was_left_half_done(path):
    assert not re.search(r"^(<<<<<<<|=======$|>>>>>>>)", path.read_text(encoding="utf-8"),
                         re.MULTILINE)


@pytest.mark.parametrize("path", EVERY_PAGE, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_modules_that_a_page_names_are_there(path):
    """`tests/both/test_x.py`, `boards/choice.py`, `voice.py`: a file of this project ends so."""
    named = set(re.findall(r"`((?:[\w.]+/)*\w+\.py)`", path.read_text(encoding="utf-8")))
    assert not {name for name in named - BY_THE_BUILDER
                if not any(f"/{there}".endswith(f"/{name}") for there in MODULES)}


def test_the_index_names_every_page():
    named = {target.partition("#")[0] for _, _, target in links(text_of("README"))}
    for path in ALL_PAGES:
        assert path.name == "README.md" or path.name in named, path.name


@pytest.mark.parametrize("name", FOR_BUILDERS)
def test_each_page_begins_with_the_caution(name):
    """A reader who opens one page alone must still read it before anything else."""
    title, blank, caution = text_of(name).splitlines()[:3]
    assert title.startswith("# ") and not blank
    assert caution.startswith("> **Caution.**")
    assert "supplement" in caution
    assert name == "cautions" or "(cautions.md)" in text_of(name).split("\n\n")[1]


@pytest.mark.parametrize("name", FOR_BUILDERS)
def test_each_page_says_what_was_tried_and_what_not(name):
    _, _, tried = text_of(name).partition("\n## What was tried\n")
    assert tried.strip(), "no such part, or it is empty"
    assert re.search(r"\b(not|no|none|nothing)\b", tried, re.IGNORECASE)
    assert "## " not in tried, "it is the last part, where a reader looks for it"


def test_computed_tables_are_current():
    for path in pages_with_blocks():
        assert filled(path.read_text()) == path.read_text(), \
            f"{path.name}: run python -m host_sim.notes"


def test_every_table_stands_in_one_page():
    found = [name for path in pages_with_blocks() for name in block_names(path.read_text())]
    assert sorted(found) == sorted(BLOCKS)


def test_no_marker_is_broken():
    """A misspelt end would leave a table that nothing refreshes."""
    for path in ALL_PAGES:
        text = path.read_text()
        assert text.count("<!-- computed:") == text.count("<!-- end of ") == \
            len(block_names(text)), path.name


def test_check_tells_a_table_that_was_edited(monkeypatch, capsys, tmp_path):
    page = tmp_path / "tubing.md"
    page.write_text(text_of("tubing").replace("| 1 m |", "| 1 m and a bit |"))
    monkeypatch.setattr(notes_main, "pages_with_blocks", lambda: [page])
    assert notes_main.main(["--check"]) == 1
    assert "tubing.md is out of date" in capsys.readouterr().out
    assert "and a bit" in page.read_text(), "a check writes nothing"
    assert notes_main.main([]) == 0
    assert page.read_text() == text_of("tubing")
    assert notes_main.main(["--check"]) == 0


@pytest.mark.parametrize("name", FOR_BUILDERS)
def test_settings_named_in_the_pages_exist(name):
    from alula.settings import TABLE
    known = {row[0] for row in TABLE}
    suffixed = re.findall(r"`([a-z_]+_(?:ms|dpa|pm|hz|dc|ckts))`", text_of(name))
    assert set(suffixed) <= known
