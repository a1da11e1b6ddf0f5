"""Grids: what is legal is what the firmware's own loader takes."""

import pytest

from alula.settings import TABLE, load
from host_sim.errors import UsageError
from host_sim.tuning.candidates import (
    DEFAULT,
    MOST,
    SHIPPED,
    STEPS,
    TUNABLE,
    candidate,
    full_grid,
    problem,
    read_grid,
    record_of,
)
from host_sim.tuning.choosing.search import neighbours
from tests.tuning.made import SETTINGS


def grid(tmp_path, text):
    path = tmp_path / "grid.toml"
    path.write_text(text)
    return read_grid(path)


def test_shipped_is_the_settings_table_s():
    table = {row[0]: row[1] for row in TABLE}
    assert dict(candidate({})) == {name: table[name] for name in TUNABLE}
    assert set(STEPS) == set(TUNABLE)
    assert problem(SETTINGS, candidate({})) is None


def test_a_list_and_a_range(tmp_path):
    axes = grid(tmp_path, "window_ms = {from = 120, to = 200, step = 40}\nlead_ms = [20, 0, 20]\n")
    assert [(axis.name, axis.values, axis.step) for axis in axes] == [
        ("lead_ms", (0, 20), 0), ("window_ms", (120, 160, 200), 10)]
    found, refused = full_grid(axes, SETTINGS)
    assert (len(found), refused) == (6, 0)
    assert all(load(record_of(SETTINGS, one))[1] == [] for one in found)


@pytest.mark.parametrize(("text", "says"), [
    ("", ("empty",)),
    ("window_ms = []", ("window_ms", "empty")),
    ("window_ms = [70]", ("window_ms = 70", "80 to 400", "ms")),
    ("window_ms = [true]", ("window_ms = True", "80 to 400")),
    ("window_ms = [200.0]", ("window_ms = 200.0", "whole number")),
    ("pressing_pm = {from = 300, to = 700, step = 100}", ("pressing_pm = 300", "400 to 950")),
    ("window_ms = {from = 200, to = 100, step = 10}", ("window_ms", "no value")),
    ("window_ms = {from = 100, to = 200, step = 0}", ("window_ms", "no value")),
    ("window_ms = {from = 100, to = 200}", ("window_ms", "from, to and step")),
    ("window_ms = 200", ("window_ms", "list")),
    ("jump_pm = [150]", ("jump_pm", "not for tuning", "window_ms")),
    ("windw_ms = [150]", ("windw_ms", "no setting", "window_ms")),
    ("window_ms = [1", ("not valid TOML",)),
    ("window_ms = {from = 0, to = 9999999, step = 1}", ("window_ms", str(MOST)))])
def test_a_grid_that_is_no_use_says_which_and_what_to_do(tmp_path, text, says):
    with pytest.raises(UsageError) as refused:
        grid(tmp_path, text)
    for part in (*says, "grid.toml"):
        assert part in str(refused.value)


def test_pairs_that_break_a_rule_are_passed_over_and_counted(tmp_path):
    axes = grid(tmp_path, "pressing_pm = [694, 900]\nstalling_pm = [880, 950]\n")
    found, refused = full_grid(axes, SETTINGS)
    assert (len(found), refused) == (3, 1)


def test_a_grid_without_a_legal_candidate_says_why(tmp_path):
    axes = grid(tmp_path, "pressing_pm = [940]\nstalling_pm = [900]\n")
    with pytest.raises(UsageError) as refused:
        full_grid(axes, SETTINGS)
    assert "stalling_pm must be at least 20 above pressing_pm" in str(refused.value)


def test_a_grid_that_is_too_large_says_so(tmp_path):
    ranges = "".join(f"{name} = {{from = {low}, to = {high}, step = 1}}\n" for name, low, high in (
        ("window_ms", 80, 400), ("release_ms", 0, 1000)))
    with pytest.raises(UsageError, match="321321"):
        full_grid(grid(tmp_path, ranges), SETTINGS)


def test_the_default_grid_is_legal_and_holds_the_shipped_values():
    found, refused = full_grid(DEFAULT, SETTINGS)
    assert refused == 0
    assert candidate({}) in found


def test_neighbours_move_one_setting_both_ways_within_the_rules():
    found = neighbours(candidate({}), [axis.name for axis in DEFAULT], SETTINGS)
    for name, side, one in found:
        moved = {key for key, value in one if SHIPPED[key] != value}
        assert moved == {name}
        assert (dict(one)[name] - SHIPPED[name]) * side > 0
        assert problem(SETTINGS, one) is None
    assert {(name, side) for name, side, _ in found} == {
        (axis.name, side) for axis in DEFAULT for side in (-1, 1)} - {("lead_ms", -1)}
