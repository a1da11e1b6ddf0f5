"""Settings, calibration and stored records: what is refused, and how the unit says so."""

from alula import calibration
from alula.health import SETTINGS
from alula.json_records import zero_of
from alula.refusal import Refusal
from alula.sample import Sample
from alula.settings import TABLE, Settings, load
from alula.states import FAULT, UNCALIBRATED
from alula.unit import Unit
from assembly import make_unit
from tests.both.core_rig import POINTS, record

ZERO = {"pitot_dpa": 0, "angled_dpa": 0}


def curve(**changes) -> dict:
    found = {"plumbing": "port-static", "flap": 0, "points": [list(pair) for pair in POINTS]}
    found.update(changes)
    return found


def fields(found) -> list:
    return [field for field, _ in found]


def test_a_complete_record_is_taken_as_it_is():
    settings, found = load(record(window_ms=120, plumbing="opposed", format=1))
    assert not found and not settings.missing
    assert settings.window_ms == 120 and settings.word("plumbing") == "opposed"


def test_what_nobody_may_guess_has_no_default():
    settings, found = load({})
    assert not found
    assert sorted(settings.missing) == sorted(
        ["plumbing"] + [side + name for side in ("pitot", "angled")
                        for name in ("_output", "_low_dpa", "_high_dpa")])
    assert settings.word("plumbing") == "not set"


def test_every_default_lies_within_its_own_limits():
    for name, default, least, most, unit, text in TABLE:
        assert least < most and text and name == name.lower()
        if default is not None and not isinstance(unit, tuple):
            assert least <= default <= most


def test_f3_each_wrong_setting_is_named_and_none_of_them_is_used():
    for change in ({"window_ms": 79}, {"window_ms": 401}, {"window_ms": "200"},
                   {"window_ms": 200.0}, {"window_ms": True}, {"window_ms": None},
                   {"release_ms": True},
                   {"plumbing": "port"}, {"plumbing": 1}, {"windw_ms": 200}, {"format": 2},
                   {"sample_rate_hz": 60}, {"pitot_output": "ms4525"}, {"window_ms": [200]}):
        settings, found = load(record(**change))
        assert fields(found) == list(change), change
        assert settings.window_ms == Settings().window_ms and settings.missing


COMPENSATED = {"pitot_output": "ms5525-001ds", "pitot_address": 118, "pitot_low_dpa": -68948,
               "pitot_high_dpa": 68948}


def test_a_24_bit_sensor_needs_its_own_address_and_range():
    # 0x76 and 0x77 are the only addresses of the MS5525DSO, by the level of one pin (data sheet,
    # by way of two open autopilots); 1 psi is 6894.8 Pa
    for address in (118, 119):
        assert load(record(**dict(COMPENSATED, pitot_address=address)))[1] == []
    for change, named in (({"pitot_address": 40}, "pitot_address"),
                          ({"pitot_address": 117}, "pitot_address"),
                          ({"pitot_high_dpa": 68949}, "pitot_high_dpa"),
                          ({"pitot_low_dpa": -68949}, "pitot_low_dpa")):
        _, found = load(record(**dict(COMPENSATED, **change)))
        assert fields(found) == [named] and "must be" in found[0][1], change
    wide = {"angled_output": "ms5525-002ds", "angled_address": 119}
    assert load(record(**wide))[1] == []
    assert fields(load(record(**dict(wide, angled_address=40)))[1]) == ["angled_address"]


def test_two_families_may_be_mixed():
    settings, found = load(record(angled_output="hsc-a", **COMPENSATED))
    assert not found and not settings.missing


def test_an_accelerometer_at_the_pitot_sensor_s_address_is_refused():
    clash = {"accelerometer": "lis3dh", "accelerometer_address": 40}
    assert fields(load(record(pitot_output="hsc-a", **clash))[1]) == ["accelerometer_address"]
    assert load(record(pitot_output="hsc-a", pitot_address=41, **clash))[1] == []
    assert load(record(pitot_output="hsc-a", angled_output="hsc-a", angled_address=24,
                       accelerometer="lis3dh"))[1] == []  # another bus


def test_h9_filter_constants_outside_the_table_are_refused():
    for value in (0, -1, 1 << 40):
        for name in ("window_ms", "lead_ms", "gap_ms", "sample_rate_hz", "edge_ms"):
            if not (name == "lead_ms" and value == 0):
                assert name in fields(load(record(**{name: value}))[1])


def test_limits_that_do_not_rise_are_refused():
    for change, named in (({"pressing_pm": 900, "stalling_pm": 901}, "stalling_pm"),
                          ({"calm_pm": 700}, "pressing_pm"),
                          ({"pitot_low_dpa": 100, "pitot_high_dpa": 100}, "pitot_high_dpa"),
                          ({"gap_ms": 300, "fault_after_ms": 300}, "fault_after_ms"),
                          ({"min_q_dpa": 1300}, "flying_q_dpa")):
        assert named in fields(load(record(**change))[1])


def test_a_file_that_is_no_object_is_refused():
    for value in ([], "text", 5, None, True):
        assert fields(load(value)[1]) == ["file"]
        assert fields(calibration.problems(value, "port-static")) == ["file"]


def test_a_good_calibration_has_no_problems():
    assert not calibration.problems(curve(), "port-static")
    both = {"plumbing": "port-static",
            "curves": [{"flap": 0, "points": curve()["points"]},
                       {"flap": 20, "points": [[-500, 100], [300, 1000]]}]}
    assert not calibration.problems(both, "port-static")
    assert [flap for flap, _ in calibration.curves_of(both)] == [0, 20]


def test_each_wrong_calibration_is_refused_where_it_is_wrong():
    for change, field in (({"plumbing": "opposed"}, "plumbing"), ({"plumbing": 7}, "plumbing"),
                          ({"points": []}, "points"), ({"points": [[0, 100]]}, "points"),
                          ({"points": [[i, 100 * i + 200] for i in range(9)]}, "points"),
                          ({"points": [[0, 100], [1, 1000, 2]]}, "points[1]"),
                          ({"points": [[0, 100], [1.5, 1000]]}, "points[1]"),
                          ({"points": [[0, 100], [40000, 1000]]}, "points[1]"),
                          ({"points": [[0, 100], [4000, 1600]]}, "points[1]"),
                          ({"points": [[0, 100], [0, 1000]]}, "points[1]"),
                          ({"points": [[0, 500], [10, 500], [20, 1000]]}, "points[1]"),
                          ({"points": [[0, 100], [4000, 999]]}, "points[1]"),
                          ({"flap": 1.5}, "flap"), ({"flap": 100}, "flap"),
                          ({"note": "mine"}, "note")):
        assert fields(calibration.problems(curve(**change), "port-static")) == [field], change


def test_d7_a_calibration_with_the_sign_lost_is_refused():
    falling = [[-ratio, lift] for ratio, lift in POINTS]
    assert calibration.problems(curve(points=falling), "port-static")


def test_a_flap_setting_named_twice_is_refused():
    twice = {"plumbing": "port-static", "curves": [
        {"flap": 0, "points": curve()["points"]}, {"points": curve()["points"]}]}
    assert fields(calibration.problems(twice, "port-static")) == ["curves"]


def test_f1_a_stored_zero_is_whole_or_nothing():
    assert zero_of({"pitot_dpa": 0, "angled_dpa": -5000}) == ((0, -5000), "")
    assert zero_of(None) == (None, "")
    for value in ({}, [], 5, {"pitot_dpa": 0}, {"pitot_dpa": 0, "angled_dpa": 0, "x": 0},
                  {"pitot_dpa": 0.0, "angled_dpa": 0}, {"pitot_dpa": True, "angled_dpa": 0},
                  {"pitot_dpa": 5001, "angled_dpa": 0}):
        zero, problem = zero_of(value)
        assert zero is None and problem.startswith("zero")


def test_records_decide_which_unit_is_made():
    unit, settings, remarks = make_unit(record(), curve(), ZERO)
    assert isinstance(unit, Unit) and unit.flaps is not None and unit.zero.known and not remarks
    unit, settings, remarks = make_unit(record(), None, ZERO)
    assert isinstance(unit, Unit) and unit.flaps is None and len(remarks) == 1
    unit, settings, remarks = make_unit(record(), curve(plumbing="opposed"), ZERO)
    assert unit.flaps is None and remarks[0].startswith("calibration: plumbing")
    unit, settings, remarks = make_unit(record(), curve(), {"pitot_dpa": 1})
    assert not unit.zero.known and remarks[0].startswith("zero: ")
    for wrong in (None, {}, [], {"plumbing": "port-static"}, record(window_ms=0)):
        unit, settings, remarks = make_unit(wrong, curve(), ZERO)
        assert isinstance(unit, Refusal) and remarks[0].startswith("settings: ")


def ticked(unit, ms: int) -> list:
    rows = []
    for now_ms in range(0, ms, 10):
        unit.tick(now_ms, Sample())
        rows.append((unit.state, unit.voice.level, unit.lamp.on))
    return rows


def test_f3_a_unit_with_wrong_settings_says_so_for_ever():
    unit = Refusal()
    rows = ticked(unit, 60000)
    assert {row[0] for row in rows} == {FAULT} and unit.health == SETTINGS
    for start in range(0, len(rows) - 2050, 100):
        assert any(row[1] for row in rows[start:start + 2050])  # reminders every 20 s
    assert any(row[2] for row in rows)


def test_f1_a_lost_calibration_is_said_and_not_replaced():
    unit = make_unit(record(), None, ZERO)[0]
    for now_ms in range(0, 3000, 10):
        sample = Sample()
        sample.pitot_status = sample.angled_status = 0
        sample.pitot_word, sample.angled_word = 6000, 4800
        unit.tick(now_ms, sample)
    assert unit.state == UNCALIBRATED and not unit.lift_known
