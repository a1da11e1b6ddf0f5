"""What the vault takes, gives and refuses: the JSON files of old, and values the unit would not
believe."""

import json

from alula.calibration import curves_of, problems
from alula.json_records import plain_calibration
from alula.record_codec import encode
from alula.settings import TABLE, load
from alula.vault import fingerprint
from tests.both import frozen_records as frozen
from tests.both.core_rig import record, settings_with
from tests.both.vault_rig import FILES, vault_with, zero


def test_json_files_are_the_oldest_format():
    settings = record(window_ms=120)
    one = {"flap": 5, "points": [[-100, 300], [4000, 1000]]}
    vault, flash = vault_with(
        settings_json=json.dumps(settings).encode(), zero_json=b'{"pitot_dpa":0,"angled_dpa":-7}',
        calibration_json=json.dumps(dict(one, plumbing="opposed")).encode())
    before = dict(flash.files)
    assert vault.load(frozen.SETTINGS) == (settings, "")
    found, problem = vault.load(frozen.ZERO)
    unset = dict(spread_angled_dpa=None, count=None)
    assert not problem and found == dict(zero(0), angled_dpa=-7, **unset)
    found, problem = vault.load(frozen.CALIBRATION)
    assert not problem and found == {
        "plumbing": "opposed", "fingerprint": None, "curves": [
            dict(one, method="from-file", entry_rate_ckt_s=None, runs=None, spread_bp=None)]}
    assert flash.files == before
    # what was read can be saved; from then on the record counts, and the file is named
    for kind in (frozen.SETTINGS, frozen.ZERO, frozen.CALIBRATION):
        value, _ = vault.load(kind)
        assert vault.save(kind, value) == ""
        again, problem = vault.load(kind)
        assert again == value and FILES[kind] + ".json is not read" in problem


def test_json_files_of_several_curves_and_wrong_ones():
    two = {"curves": [{"flap": 0, "points": [[0, 200], [4000, 1000]]},
                      {"flap": 1, "points": [[0, 200], [3000, 1000]]}]}
    vault, _ = vault_with(calibration_json=json.dumps(two).encode())
    value, problem = vault.load(frozen.CALIBRATION)
    assert problem == "" and value["plumbing"] is None
    assert plain_calibration(value) == two
    assert vault.save(frozen.CALIBRATION, value) == ""
    assert vault.load(frozen.CALIBRATION)[0] == value
    for text in (b"", b"{", b"\xff\xfe", b"[1]", b"[" * 5000, b'{"flap": 0}', b'{"curves": []}',
                 json.dumps(dict(two, extra=1)).encode(), b"7", b'{"plumbing": "x", "points": 1}'):
        vault, flash = vault_with(calibration_json=text)
        value, problem = vault.load(frozen.CALIBRATION)
        assert value is None and problem.startswith("calibration.json: "), text
    for text in (b"{}", b'{"pitot_dpa": 0}', b'{"pitot_dpa": 0.0, "angled_dpa": 0}'):
        vault, flash = vault_with(zero_json=text)
        value, problem = vault.load(frozen.ZERO)
        assert value is None and problem.startswith("zero.json: "), text
    vault, flash = vault_with(settings_json=b"[]")
    assert vault.load(frozen.SETTINGS)[0] is None


def test_a_value_the_unit_would_not_believe_is_not_saved():
    calibration = dict(frozen.CALIBRATION_1_VALUE)
    curve = calibration["curves"][0]
    falling = dict(calibration, curves=[dict(curve, points=[[0, 500], [10, 400]])])
    short = dict(calibration, curves=[dict(curve, points=[[0, 500], [10, 900]])])
    twice = dict(calibration, curves=[curve, curve])
    for kind, value, word in (
            (frozen.CALIBRATION, falling, "rise"), (frozen.CALIBRATION, short, "stall"),
            (frozen.CALIBRATION, twice, "twice"), (frozen.CALIBRATION, {}, "fields"),
            (frozen.CALIBRATION, dict(calibration, plumbing="sideways"), "plumbing"),
            (frozen.CALIBRATION, dict(calibration, plumbing=["opposed"]), "plumbing"),
            (frozen.SETTINGS, {"window_ms": 1}, "window_ms"),
            (frozen.SETTINGS, {"nonsense": 1}, "nonsense"),
            (frozen.SETTINGS, {"window_ms": 100.0}, "window_ms"),
            (frozen.SETTINGS, {"window_ms": True}, "window_ms"),
            (frozen.SETTINGS, {"plumbing": 'a"b'}, "plumbing"), (frozen.SETTINGS, {1: 1}, "name"),
            (frozen.SETTINGS, None, "object"), (frozen.ZERO, None, "fields"),
            (frozen.ZERO, dict(zero(0), count=65536), "count"),
            (frozen.ZERO, dict(zero(0), count=-1), "count"),
            (frozen.ZERO, dict(zero(0), temperature_dc=32768), "temperature_dc"),
            (frozen.ZERO, dict(zero(0), pitot_dpa=100001), "pitot_dpa"),
            (frozen.ZERO, dict(zero(0), pitot_dpa=None), "pitot_dpa"),
            (frozen.ZERO, dict(zero(0), more=1), "fields"),
            (frozen.REFERENCE, 1501, "lift_pm"), (frozen.REFERENCE, -1, "lift_pm"),
            (frozen.REFERENCE, {"lift_pm": 5}, "lift_pm")):
        vault, flash = vault_with()
        problem = vault.save(kind, value)
        assert problem.startswith(FILES[kind] + " not saved: ") and word in problem, problem
        assert not flash.files


def test_what_is_loaded_is_what_the_unit_takes():
    vault, _ = vault_with()
    wanted = record(window_ms=120)
    assert vault.save(frozen.SETTINGS, wanted) == ""
    settings, found = load(vault.load(frozen.SETTINGS)[0])
    assert not found and settings.window_ms == 120 and not settings.missing
    assert vault.save(frozen.CALIBRATION, frozen.CALIBRATION_1_VALUE) == ""
    plain = plain_calibration(vault.load(frozen.CALIBRATION)[0])
    assert problems(plain, "port-static") == []
    assert curves_of(plain) == [(0, [[-210, 200], [3000, 500], [5000, 1000]]),
                                (20, [[-1000, 300], [4000, 1040]])]


def test_the_fingerprint_is_the_one_of_the_page():
    # CRC-32 by zlib over the text the spec page gives, written out by hand
    assert fingerprint(settings_with()) == 0xACFD8D42
    for changes in ({"plumbing": "opposed"}, {"pitot_low_dpa": -99999}, {"angled_address": 41},
                    {"angled_sense": "reversed"}, {"pitot_output": "hsc-a"},
                    {"pitot_output": "ms5525-002ds", "pitot_address": 118},
                    {"pitot_high_dpa": 99999}):
        assert fingerprint(settings_with(**changes)) != 0xACFD8D42, changes
    same = settings_with(window_ms=120, accelerometer="lis3dh", stalling_pm=950)
    assert fingerprint(same) == 0xACFD8D42
    assert 0 <= fingerprint(load({})[0]) < 1 << 32  # nothing is set yet


def test_the_largest_settings_fit_and_larger_ones_are_refused():
    vault, _ = vault_with()
    everything = {row[0]: (row[4][-1] if isinstance(row[4], tuple) else row[3]) for row in TABLE}
    data, problem = encode(frozen.SETTINGS, 1, everything)
    assert problem == "" and len(data) < 4000
    data, problem = encode(frozen.SETTINGS, 1, dict(everything, plumbing="x" * 3000))
    assert data is None and "at most 4000" in problem
