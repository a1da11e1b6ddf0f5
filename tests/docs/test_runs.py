"""What the pages show of their commands' output is what the commands print."""

import pytest

from host_sim.errors import UsageError
from host_sim.notes import runs
from host_sim.notes.runs import filled, pages_with_runs, run_blocks
from host_sim.runtimes.paths import ROOT

NOTES = ROOT / "hardware_notes"


@pytest.mark.parametrize("path", pages_with_runs(), ids=lambda path: path.stem)
def test_the_page_shows_what_is_printed(path, tmp_path):
    """Every command of the page is run, in order, in a folder of its own."""
    text = path.read_text(encoding="utf-8")
    assert filled(text, tmp_path) == text, "run python -m host_sim.notes.runs"


def test_the_tutorial_is_among_them():
    assert NOTES / "first_hour.md" in pages_with_runs()


@pytest.mark.parametrize("path", sorted(NOTES.glob("*.md")), ids=lambda path: path.stem)
def test_no_marker_is_broken(path):
    """A misspelt marker would leave a block that nobody runs."""
    text = path.read_text(encoding="utf-8")
    blocks = len(run_blocks(text))
    assert text.count("<!-- run") == 2 * blocks
    assert text.count("<!-- run ends -->") == blocks
    assert all(run_blocks(text))


def block(asked: str, *lines: str) -> str:
    return "\n".join([f"<!-- run{asked} -->", "```", *lines, "```", "<!-- run ends -->", "after"])


def test_output_is_replaced_and_the_rest_left_alone(tmp_path):
    page = "before\n" + block("", "$ printf '1\\n2\\n'", "old", "$ echo three", "older")
    fresh = "before\n" + block("", "$ printf '1\\n2\\n'", "1", "2", "$ echo three", "three")
    assert filled(page, tmp_path) == fresh
    assert filled(fresh, tmp_path) == fresh


@pytest.mark.parametrize("asked, kept", [
    (": first 1", ["1", "..."]), (": last 2", ["...", "4", "5"]),
    (": with 3", ["...", "3", "..."]), (": first 1; last 1", ["1", "...", "5"]),
    (": first 9", ["1", "2", "3", "4", "5"]), (": with x", ["..."])])
def test_lines_that_are_left_out_are_marked(asked, kept, tmp_path):
    command = "$ printf '1\\n2\\n3\\n4\\n5\\n'"
    assert filled(block(asked, command), tmp_path) == block(asked, command, *kept)


def test_a_later_command_finds_what_an_earlier_one_made(tmp_path):
    page = block("", "$ echo kept > file") + "\n" + block("", "$ cat file")
    assert "kept\n```" in filled(page, tmp_path)


def test_a_command_that_fails_is_not_written_into_a_page(tmp_path):
    with pytest.raises(UsageError, match="cat nothing"):
        filled(block("", "$ cat nothing"), tmp_path)
    with pytest.raises(UsageError, match="ended with 0"):
        filled(block(": fails 2", "$ echo fine"), tmp_path)
    with pytest.raises(UsageError, match="ended with 3"):
        filled(block(": fails 3", "$ exit 3", "$ exit 3"), tmp_path)  # only the last one may
    assert "```\n<!-- run ends" in filled(block(": fails 3", "$ exit 3"), tmp_path)


def test_check_tells_a_page_that_was_edited_and_writes_nothing(monkeypatch, capsys, tmp_path):
    page = tmp_path / "page.md"
    page.write_text(block("", "$ echo new", "old"))
    monkeypatch.setattr(runs, "pages_with_runs", lambda: [page])
    assert runs.main(["--check"]) == 1
    assert "page.md shows other" in capsys.readouterr().out
    assert "old" in page.read_text()
    assert runs.main([]) == 0
    assert page.read_text() == block("", "$ echo new", "new")
    assert runs.main(["--check"]) == 0
