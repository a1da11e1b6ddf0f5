"""The worked fleet of the tuning page: its block is what its program writes.

The whole takes minutes (`make tuning`); here two of its flights go through the same code, and the
page's block must have the same shape and be consistent in itself.
"""

import re

import pytest
from pages import text_of

from host_sim.tuning.candidates import TUNABLE
from host_sim.tuning.choosing.goals import GOALS
from host_sim.tuning.telling import worked

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def page_block():
    text = text_of("tuning")
    return text[text.index(worked.BEGIN) + len(worked.BEGIN):text.index(worked.END)].strip()


def table(text, header):
    """Rows of the table whose header begins so, as lists of cells."""
    lines = text[text.index(header):].split("\n\n")[0].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """The first and the last but one flight, a grid of two."""
    folder = tmp_path_factory.mktemp("worked")
    (folder / "grid.toml").write_text("window_ms = [200, 240]\n")
    return "\n".join(worked.block(folder, (worked.FLIGHTS[0], worked.FLIGHTS[3]), (
        *worked.TUNE, "--grid", "grid.toml", "--budget", "0", "--jobs", "1")))


def test_the_page_has_the_block_of_these_flights():
    text = page_block()
    for flight in worked.FLIGHTS:
        assert "alula " + " ".join(worked.fly_words(*flight)) in text
    assert "alula tune rill/*.log " + " ".join(worked.TUNE) in text
    rows = table(text, "| log |")
    assert [(row[1], int(row[2])) for row in rows] == list(worked.FLIGHTS)


def test_the_same_code_makes_the_same_shape(small):
    """Names of the measures and of their units, in the same order."""
    wanted, found = (["".join(row[:2]) for row in table(text, "| measured |")]
                     for text in (page_block(), small))
    assert found == wanted
    assert all(NUMBER.fullmatch(cell) for row in table(small, "| measured |") for cell in row[2:])


def test_a_flight_that_is_in_both_has_the_same_row(small):
    """The first flight of the page is flown here too: the same seed, the same log, the same
    stalls. A change of the simulator or the firmware makes the page old, and shows here."""
    assert table(small, "| log |")[0] == table(page_block(), "| log |")[0]


def test_the_paragraph_says_what_the_table_says():
    text = page_block()
    rows = {(row[0], row[1]): row[2:] for row in table(text, "| measured |")}
    shipped, proposed = rows["warning lead, mean", "s"]
    if shipped != proposed:
        assert f"mean warning lead {proposed} instead of {shipped} s" in text
    assert rows["misses (must be 0)", ""][1] == "0"
    # the goal `even`: no more nuisance than as shipped; no warning later, but for 0.1 s
    nuisance = rows["nuisance, all flights", "an hour"]
    assert float(nuisance[1]) <= float(nuisance[0])
    least = [min(10.0, float(one)) for one in rows["warning lead, least", "s"]]
    assert least[1] >= least[0] - 0.11  # and the rounding of both
    assert any(text.count(f"> **{word}") == 1 for word in (
        "Not settled", "These flights agree", "Nothing to change"))
    assert float(rows["margin at onset, least (slow entries, 5 kt)", "kt"][1]) >= 5
    for name, _, value in table(text, "| setting |"):
        assert f"{name} {value}" in text


def test_the_page_names_every_setting_that_may_be_tuned_and_every_goal():
    text = text_of("tuning")
    for name in (*TUNABLE, *GOALS):
        assert f"`{name}`" in text
