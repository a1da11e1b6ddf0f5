"""Every parser keeps its promise on good input that was spoiled: a value or one line why not.

ALULA_FULL_FUZZ=1 tries a hundred times as many.
"""

import os
import struct

from hypothesis import given, settings
from hypothesis import strategies as st

from alula.record_codec import DAMAGED
from alula.record_payloads import CALIBRATION, NAMES, REFERENCE
from alula.vault import KINDS
from tests.fuzz import targets
from tests.fuzz.seeds import CALIBRATIONS, FILES, FLIGHTS, PAYLOADS, SETTINGS
from tests.fuzz.spoil import BINARY, TEXT, spoiled
from tests.fuzz.targets import framed

TIMES = 100 if os.environ.get("ALULA_FULL_FUZZ") else 1
VERSIONS = st.sampled_from([1, 1, 1, 1, 0, 2, 65535])
SEQUENCES = st.sampled_from([0, 1, 2, 7, (1 << 31) - 1, 1 << 31, (1 << 32) - 1])


@settings(max_examples=500 * TIMES)
@given(spoiled(PAYLOADS, BINARY))
def test_a_spoiled_payload_in_a_good_frame_is_a_value_or_damage(data):
    targets.payload(data)


@settings(max_examples=300 * TIMES)
@given(spoiled(FILES, BINARY))
def test_a_spoiled_record_is_a_value_or_damage(data):
    targets.records(data)


@settings(max_examples=200 * TIMES)
@given(st.sampled_from(FILES), st.binary(min_size=1, max_size=30))
def test_a_record_with_something_behind_it_is_damaged(data, more):
    assert targets.record(struct.unpack("<H", data[4:6])[0], data + more) == DAMAGED


@settings(max_examples=500 * TIMES)
@given(spoiled(SETTINGS, TEXT))
def test_a_spoiled_settings_file_is_a_record_or_one_line(data):
    targets.settings_file(data)


@settings(max_examples=500 * TIMES)
@given(spoiled(CALIBRATIONS, TEXT))
def test_a_spoiled_calibration_file_is_a_record_or_one_line(data):
    targets.calibration_file(data)


@settings(max_examples=500 * TIMES)
@given(spoiled(FLIGHTS, TEXT))
def test_a_spoiled_flight_is_rows_or_one_line(data):
    targets.flight_file(data)


@st.composite
def vault_contents(draw) -> dict:
    """Files of a vault: whole, spoiled, of another kind, older, newer, from another version."""
    files = {}
    for kind in draw(st.lists(st.sampled_from(KINDS), min_size=1, max_size=5, unique=True)):
        for ending in draw(st.sampled_from([".a", ".b", ".a.b"])).split(".")[1:]:
            payload = PAYLOADS[kind - 1][1:]
            files[f"{NAMES[kind]}.{ending}"] = draw(st.one_of(
                st.builds(framed, st.just(kind), SEQUENCES, st.just(payload), VERSIONS),
                spoiled(FILES, BINARY), st.just(b""),
                st.builds(framed, st.just(kind), SEQUENCES,
                          spoiled([PAYLOADS[kind - 1]], BINARY).map(lambda data: data[1:]))))
    for kind, seeds in (("settings", SETTINGS), ("calibration", CALIBRATIONS)):
        if draw(st.booleans()):
            files[kind + ".json"] = draw(st.one_of(st.sampled_from(seeds), spoiled(seeds, TEXT)))
    if draw(st.booleans()):
        files["zero.json"] = draw(spoiled([b'{"pitot_dpa": 0, "angled_dpa": -12}'], TEXT))
    return files


@settings(max_examples=200 * TIMES)
@given(vault_contents())
def test_a_vault_of_any_content_is_the_newest_whole_record_or_none(files):
    targets.vault_files(files)


def test_the_targets_notice_a_broken_promise():
    """Each oracle can fail."""
    assert targets.slot(REFERENCE, FILES[3])[0] == "whole"
    assert targets.slot(CALIBRATION, FILES[3])[0] == "damaged"
    newer = ("whole", 2, "new"), ("whole", 1, "old")
    assert targets.expected(1, list(newer), None) == "new"
    assert targets.expected(1, list(newer[::-1]), None) == "new"
    assert targets.expected(1, [("damaged", 0, None), ("absent", 0, None)], SETTINGS[0]) is None
    for wrong in ("", "two\nlines", "a\x85b"):
        try:
            targets.one_line(wrong)
        except AssertionError:
            continue
        raise AssertionError(wrong)
