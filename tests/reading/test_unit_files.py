"""Settings and calibration files on the desk: read, refused, and never guessed."""

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from host_sim.errors import UsageError
from host_sim.reading.json_file import line_of, read_json
from host_sim.reading.unit_files import (
    choose_plumbing,
    direct_settings,
    read_calibration,
    read_settings,
)
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.pressure_ratio import PLUMBINGS
from alula.settings import load

a_file_each = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
POINTS = [[1000, 300], [5000, 1000]]
ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(
        st.sampled_from(["plumbing", "points", "curves", "flap", "window_ms", "format"])
        | st.text(max_size=5), inner, max_size=4), max_leaves=12)


def written(folder: Path, record: object, **how) -> Path:
    """A JSON file with this record."""
    path = folder / "record.json"
    path.write_text(json.dumps(record, **how), encoding="utf-8")
    return path


def test_without_files_there_is_nothing(tmp_path: Path) -> None:
    assert read_settings(None) == {}
    assert read_calibration(None, "opposed") is None


def test_good_files_come_through_as_they_are(tmp_path: Path) -> None:
    record = {"window_ms": 250, "plumbing": "opposed"}
    assert read_settings(written(tmp_path, record)) == record
    curve = {"plumbing": "opposed", "points": POINTS}
    assert read_calibration(written(tmp_path, curve), "opposed") == curve


def test_byte_order_mark_is_taken(tmp_path: Path) -> None:
    path = tmp_path / "s.json"
    path.write_bytes(b'\xef\xbb\xbf{"window_ms": 250}')
    assert read_settings(path) == {"window_ms": 250}


def test_the_error_names_the_line_of_the_field(tmp_path: Path) -> None:
    path = written(tmp_path, {"window_ms": 200, "lead_ms": 999, "gap_ms": 100}, indent=1)
    with pytest.raises(UsageError, match=r"record\.json:3: settings field lead_ms must be"):
        read_settings(path)
    assert line_of(path, "gap_ms") == 4
    assert line_of(path, "no such field") == 1


def test_more_than_one_problem_is_counted(tmp_path: Path) -> None:
    path = written(tmp_path, {"window_ms": 1, "lead_ms": 999})
    with pytest.raises(UsageError, match=r"\(and 1 more\)"):
        read_settings(path)


def test_plumbing_comes_from_whoever_knows_it(tmp_path: Path) -> None:
    curve = written(tmp_path, {"plumbing": "opposed", "points": POINTS})
    assert choose_plumbing("opposed", {}, None) == "opposed"
    assert choose_plumbing(None, {"plumbing": "opposed"}, None) == "opposed"
    assert choose_plumbing(None, {}, curve) == "opposed"
    assert choose_plumbing("opposed", {"plumbing": "opposed"}, curve) == "opposed"


def test_plumbing_is_neither_guessed_nor_overruled(tmp_path: Path) -> None:
    curve = written(tmp_path, {"plumbing": "opposed", "points": POINTS})
    for word, record, path in ((None, {}, None), ("pitot-port", {}, curve), ("upside", {}, None),
                               ("pitot-port", {"plumbing": "opposed"}, None)):
        with pytest.raises(UsageError, match="plumbing"):
            choose_plumbing(word, record, path)


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_direct_settings_are_complete_for_the_firmware(plumbing: str) -> None:
    given_record = {"pitot_sense": "reversed", "pitot_output": "hsc-a", "window_ms": 250}
    made, found = load(direct_settings(given_record, plumbing))
    assert found == [] and made.missing == []
    assert (made.word("plumbing"), made.word("pitot_output")) == (plumbing, "direct")
    # A recording already has its sign: the sensor's own sense must not turn it again.
    assert made.word("pitot_sense") == "normal"
    assert made.window_ms == 250
    assert given_record["pitot_output"] == "hsc-a"  # the caller's record is left alone


def refused_in_one_line(path: Path, error: UsageError) -> None:
    assert str(path) in str(error)
    assert str(error).splitlines() == [str(error)]


@a_file_each
@given(ANY_JSON)
def test_any_json_is_a_good_record_or_a_usage_error(tmp_path: Path, record) -> None:
    path = written(tmp_path, record)
    try:
        assert load(read_settings(path))[1] == []
    except UsageError as error:
        refused_in_one_line(path, error)
    try:
        assert isinstance(read_calibration(path, "opposed"), dict)
    except UsageError as error:
        refused_in_one_line(path, error)


@a_file_each
@given(st.one_of(st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")),
                 st.binary(max_size=200)))
def test_any_bytes_are_json_or_a_usage_error(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "any.json"
    path.write_bytes(data)
    try:
        read_json(path, "settings")
    except UsageError as error:
        refused_in_one_line(path, error)
