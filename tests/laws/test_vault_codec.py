"""Records as bytes: every value comes back, every damage is noticed, nothing strange gets in."""

import zlib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from alula.calibration import CURVES_MOST, POINTS_LEAST, POINTS_MOST
from alula.record_codec import DAMAGED, WHOLE, decode, encode
from alula.record_payloads import (
    ANCHOR,
    CALIBRATION,
    CHECKS,
    METHOD_NUMBERS,
    REFERENCE,
    SETTINGS,
    START_WORDS,
    STARTS,
    STOP,
    STOP_MOST,
    ZERO,
)
from alula.settings import TABLE
from alula.vault import is_newer


def whole(least: int, most: int):
    """Whole numbers, the ends and the neighbours of zero among them often."""
    ends = [n for n in (least, most, -1, 0, 1) if least <= n <= most]
    return st.one_of(st.sampled_from(ends), st.integers(least, most))


def maybe(numbers):
    return st.one_of(st.none(), numbers)


U8, U16, I16 = whole(0, 255), whole(0, 65535), whole(-32768, 32767)
SEQUENCES = whole(0, 0xFFFFFFFF)
PRESSURES = whole(-100000, 100000)
ZEROS = st.fixed_dictionaries({
    "pitot_dpa": PRESSURES, "angled_dpa": PRESSURES, "spread_pitot_dpa": maybe(U16),
    "spread_angled_dpa": maybe(U16), "temperature_dc": maybe(I16), "count": maybe(U16)})
POINTS = st.lists(st.tuples(I16, U16).map(list), min_size=2, max_size=8)
CURVES = st.fixed_dictionaries({
    "flap": whole(-128, 127), "method": st.sampled_from(sorted(METHOD_NUMBERS)),
    "entry_rate_ckt_s": maybe(U16), "runs": maybe(U8), "spread_bp": maybe(U16), "points": POINTS})
CALIBRATIONS = st.fixed_dictionaries({
    "plumbing": st.sampled_from([None, "port-static", "pitot-port", "opposed"]),
    "fingerprint": maybe(SEQUENCES), "curves": st.lists(CURVES, min_size=1, max_size=4)})
REFERENCES = maybe(whole(0, 1500))
STOPS = st.text(st.one_of(st.just("\n"), st.characters(min_codepoint=32, max_codepoint=126)),
                max_size=STOP_MOST)
STARTS_COUNTS = st.fixed_dictionaries({**{name: U16 for name in START_WORDS}, "in_air": U16,
                                       "last": st.sampled_from(START_WORDS)})
PLAIN = st.text(st.characters(min_codepoint=32, max_codepoint=126, exclude_characters='"\\'),
                max_size=30)
SETTINGS_MAPS = st.dictionaries(PLAIN, st.one_of(whole(-(1 << 30), (1 << 30) - 1), PLAIN),
                                max_size=20)
I32S = whole(-(1 << 30), (1 << 30) - 1)
CHECK_ROWS = st.fixed_dictionaries({
    "row": whole(0, 31), "verdict": whole(1, 3), "number": I32S, "limit": I32S,
    "date": maybe(st.builds("20{:02}-{:02}-{:02}".format, whole(0, 99), whole(1, 12),
                            whole(1, 31)))})
CHECK_LISTS = st.lists(CHECK_ROWS, max_size=32, unique_by=lambda one: one["row"]).map(
    lambda rows: sorted(rows, key=lambda one: one["row"]))
VALUES = st.one_of(
    st.tuples(st.just(SETTINGS), SETTINGS_MAPS), st.tuples(st.just(ZERO), ZEROS),
    st.tuples(st.just(CALIBRATION), CALIBRATIONS), st.tuples(st.just(REFERENCE), REFERENCES),
    st.tuples(st.just(STOP), STOPS), st.tuples(st.just(STARTS), STARTS_COUNTS),
    st.tuples(st.just(ANCHOR), ZEROS), st.tuples(st.just(CHECKS), CHECK_LISTS))


@given(VALUES, SEQUENCES)
@example((REFERENCE, None), 0)
@example((SETTINGS, {}), 0xFFFFFFFF)
def test_every_value_comes_back_and_so_do_its_bytes(kind_and_value, sequence):
    kind, value = kind_and_value
    data, problem = encode(kind, sequence, value)
    assert problem == ""
    assert decode(kind, data) == (WHOLE, sequence, value, "")
    assert encode(kind, sequence, value) == (data, "")
    # the last four bytes are zlib's CRC-32 of the rest, little endian: an independent reader
    assert int.from_bytes(data[-4:], "little") == zlib.crc32(data[:-4])
    assert int.from_bytes(data[8:12], "little") == sequence
    assert int.from_bytes(data[12:16], "little") == len(data) - 20


@given(VALUES, SEQUENCES, st.data())
def test_a_burst_of_up_to_32_bits_is_noticed(kind_and_value, sequence, draw):
    # a 32-bit CRC finds every burst of up to 32 bits (theory of cyclic codes)
    kind, value = kind_and_value
    data, _ = encode(kind, sequence, value)
    first = draw.draw(st.integers(0, len(data) * 8 - 1))
    burst = draw.draw(st.integers(1, 0xFFFFFFFF))
    number = int.from_bytes(data, "little") ^ burst << first & (1 << len(data) * 8) - 1
    changed = number.to_bytes(len(data), "little")
    if changed != data:
        assert decode(kind, changed)[:3] == (DAMAGED, 0, None)


@given(st.integers(1, 6), st.binary(max_size=300))
def test_strange_bytes_are_damage_and_never_raise(kind, data):
    assert decode(kind, data)[:3] == (DAMAGED, 0, None)


@given(st.integers(1, 6), st.binary(max_size=200), st.integers(0, 3))
def test_strange_payloads_under_a_good_checksum_never_raise(kind, payload, shift):
    """Whatever is taken from them is a value that would be written in exactly these bytes."""
    good, _ = encode(ZERO, 5, {"pitot_dpa": 1, "angled_dpa": 2, "spread_pitot_dpa": 3,
                               "spread_angled_dpa": 4, "temperature_dc": 5, "count": 6})
    head = good[:4] + bytes([kind, 0, 1, 0]) + good[8:12]
    if shift == 0 and kind == ZERO:
        payload = (payload + bytes(17))[:17]
    body = head + len(payload).to_bytes(4, "little") + payload
    state, _, value, text = decode(kind, body + zlib.crc32(body).to_bytes(4, "little"))
    assert (state == WHOLE) == (text == "")
    assert state == WHOLE or state == DAMAGED and value is None
    if state == WHOLE and kind != SETTINGS:
        assert encode(kind, 5, value)[0][16:-4] == payload


JUNK = st.recursive(
    st.one_of(st.none(), st.booleans(), st.floats(), st.text(max_size=5), st.integers()),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(
        st.one_of(st.text(max_size=9), st.integers(), st.sampled_from(
            ["pitot_dpa", "curves", "lift_pm", "plumbing", "points", "fingerprint"])),
        inner, max_size=4)), max_leaves=12)


@given(st.integers(1, 6), JUNK)
def test_junk_is_refused_in_words(kind, value):
    data, problem = encode(kind, 1, value)
    assert (data is None) == (problem != "")
    if data is not None:
        assert decode(kind, data)[2] == value


@given(VALUES, st.data())
def test_one_wrong_number_in_a_good_value_is_refused(kind_and_value, draw):
    kind, value = kind_and_value
    wrong = draw.draw(st.sampled_from([1.0, True, "7", 1 << 40, -(1 << 40), [], {}]))
    if kind == STOP:
        for text in (value[:10] + "\x00", value[:10] + "\u00e9", "x" * (STOP_MOST + 1), wrong):
            assert text == "7" or encode(kind, 1, text)[0] is None
    elif kind == REFERENCE:
        assert encode(kind, 1, wrong)[0] is None
    elif kind in (STARTS, ZERO, ANCHOR):
        name = draw.draw(st.sampled_from(sorted(value)))
        assert encode(kind, 1, {**value, name: wrong})[0] is None
    elif kind == CALIBRATION:
        curve = dict(value["curves"][0])
        curve[draw.draw(st.sampled_from(sorted(curve)))] = wrong
        assert encode(kind, 1, {**value, "curves": [curve]})[0] is None
        assert encode(kind, 1, {**value, "fingerprint": wrong})[0] is None
    elif kind == CHECKS:
        assert wrong == [] or encode(kind, 1, wrong)[0] is None
        for i in range(len(value)):
            name = draw.draw(st.sampled_from(sorted(value[i])))
            rows = value[:i] + [{**value[i], name: wrong}] + value[i + 1:]
            assert encode(kind, 1, rows)[0] is None
            assert encode(kind, 1, value[:i + 1] + value[i:])[0] is None  # a row twice
    elif wrong != "7":
        assert encode(kind, 1, {**value, "window_ms": wrong})[0] is None


@given(SEQUENCES, st.integers(1, (1 << 31) - 1))
def test_newer_is_newer_across_the_turn(number, ahead):
    later = (number + ahead) % (1 << 32)
    assert is_newer(later, number) and not is_newer(number, later)
    assert not is_newer(number, number)


def test_the_format_is_as_wide_as_what_the_unit_accepts():
    from alula import record_payloads
    assert (record_payloads.POINTS_LEAST, record_payloads.POINTS_MOST) == (POINTS_LEAST,
                                                                          POINTS_MOST)
    assert record_payloads.CURVES_MOST == CURVES_MOST
    for _, _, least, most, unit, _ in TABLE:
        assert isinstance(unit, tuple) or -(1 << 30) <= least <= most < 1 << 30


@pytest.mark.parametrize("word", ['a"b', "a\\b", "é", "a\nb", "\x7f"])
def test_words_that_json_would_have_to_escape_are_refused(word):
    assert encode(SETTINGS, 1, {"plumbing": word})[0] is None
    assert encode(SETTINGS, 1, {word: 1})[0] is None
