"""Settings with a profile: signed off by content, bound to sensors."""

import json

import pytest

from alula.json_records import value_of
from alula.record_payloads import SETTINGS
from alula.settings import load
from alula.vault import fingerprint
from host_sim.errors import UsageError
from host_sim.reading.profile_file import refuse_other_sensors, sensors_of, wrap
from host_sim.reading.unit_files import read_settings

UNIT = {"plumbing": "port-static", **{f"{side}_{what}": value for side in ("pitot", "angled")
        for what, value in (("output", "hsc-a"), ("low_dpa", -10000), ("high_dpa", 10000))}}


def written(tmp_path, record):
    path = tmp_path / "settings.json"
    path.write_text(json.dumps(record))
    return path


def test_settings_come_out_of_their_profile(tmp_path):
    path = written(tmp_path, wrap("Rill", 3, {**UNIT, "window_ms": 240}))
    assert read_settings(path) == {**UNIT, "window_ms": 240}
    assert json.loads(path.read_text())["profile"]["version"] == 3


def test_the_same_content_is_the_same_file_and_another_is_another():
    assert wrap("Rill", 1, UNIT) == wrap("Rill", 1, dict(reversed(UNIT.items())))
    marks = {wrap(*what)["profile"]["content"] for what in (
        ("Rill", 1, UNIT), ("Rill", 2, UNIT), ("Brook", 1, UNIT),
        ("Rill", 1, {**UNIT, "window_ms": 240}))}
    assert len(marks) == 4


def test_the_sensors_are_the_vault_s_fingerprint():
    assert sensors_of(UNIT) == f"{fingerprint(load(UNIT)[0]):08x}"
    assert sensors_of({"window_ms": 240}) is None


@pytest.mark.parametrize("spoil", [
    lambda whole: whole["settings"].update(window_ms=250),
    lambda whole: whole["settings"].pop("window_ms"),
    lambda whole: whole["profile"].update(version=2),
    lambda whole: whole["profile"].update(name="Brook"),
    lambda whole: whole["profile"].update(sensors="00000000"),
    lambda whole: whole["profile"].update(content="0" * 64)])
def test_a_change_after_signing_off_is_found_out(tmp_path, spoil):
    whole = wrap("Rill", 1, {**UNIT, "window_ms": 240})
    spoil(whole)
    with pytest.raises(UsageError, match="changed after it was signed off"):
        read_settings(written(tmp_path, whole))


@pytest.mark.parametrize("whole", [
    {"profile": {}, "settings": UNIT}, {"profile": None, "settings": UNIT}, {"profile": {}},
    {**wrap("Rill", 1, UNIT), "more": 1}, {**wrap("Rill", 1, UNIT), "settings": []},
    {**wrap("Rill", 1, UNIT), "profile": {"name": 1, "version": 1, "sensors": None,
                                          "content": ""}}])
def test_half_a_profile_is_refused(tmp_path, whole):
    with pytest.raises(UsageError, match="as `alula tune` wrote it"):
        read_settings(written(tmp_path, whole))


def test_signed_off_settings_still_must_keep_the_rules(tmp_path):
    path = written(tmp_path, wrap("Rill", 1, {**UNIT, "window_ms": 1}))
    with pytest.raises(UsageError, match="window_ms must be a whole number from 80 to 400"):
        read_settings(path)


def test_a_unit_with_other_sensors_refuses(tmp_path):
    path = written(tmp_path, wrap("Rill", 1, {**UNIT, "window_ms": 240}))
    refuse_other_sensors(path, {**UNIT, "window_ms": 100})
    for other in ({**UNIT, "pitot_high_dpa": 20000}, {**UNIT, "plumbing": "opposed"}, {}):
        with pytest.raises(UsageError, match="tune on flights of units like this one"):
            refuse_other_sensors(path, other)
    bound_to_none = written(tmp_path, wrap("Rill", 1, {"window_ms": 240}))
    with pytest.raises(UsageError, match="not stated"):
        refuse_other_sensors(bound_to_none, UNIT)
    refuse_other_sensors(written(tmp_path, {"window_ms": 240}), UNIT)  # a bare file: no claim


def test_the_board_s_own_reader_does_not_take_a_profile_for_settings(tmp_path):
    """Copied onto a board as it is, it must be refused aloud, never be half believed."""
    data = json.dumps(wrap("Rill", 1, UNIT)).encode()
    record, problem = value_of(SETTINGS, data)
    assert problem == ""
    assert "is not a setting" in load(record)[1][0][1]


@pytest.mark.parametrize(("name", "version"), [("", 1), ("  ", 1), ("x" * 41, 1), ("a\nb", 1),
                                               ("Rill", 0), ("Rill", -1)])
def test_a_name_or_version_that_is_no_use_is_refused(name, version):
    with pytest.raises(UsageError):
        wrap(name, version, UNIT)
