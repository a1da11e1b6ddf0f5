"""Whatever comes in, nothing raises, and what comes out is legal."""

import json

from hypothesis import given, settings
from hypothesis import strategies as st

import assembly
from alula import calibration
from alula.health import WORDS
from alula.json_records import zero_of
from alula.pressure_ratio import PLUMBINGS
from alula.refusal import Refusal
from alula.sample import Sample
from alula.settings import TABLE, Settings, load
from alula.states import FAULT, PRESSING, QUIET, UNCALIBRATED
from alula.states import WORDS as STATE_WORDS
from alula.unit import Unit
from tests.both.core_rig import record as good_record
from tests.laws.inputs import curves, flap_curves, settings_records, spans

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner,
                                                                max_size=4), max_leaves=12)
NAMES = [row[0] for row in TABLE] + ["format", "windw_ms"]
VALUES = JSON | st.sampled_from(sorted({word for row in TABLE if isinstance(row[4], tuple)
                                        for word in row[4]})) | st.integers(-200000, 200000)


def check_legal(unit) -> None:
    assert 0 <= unit.state < len(STATE_WORDS) and 0 <= unit.health < len(WORDS)
    assert 0 <= unit.voice.level <= 8
    assert not unit.voice.level or 300 <= unit.voice.hz <= 2500
    assert unit.pulse_millihz >= 0 and 0 <= unit.tone_hz <= 2500
    assert isinstance(unit.lamp.on, bool)
    if unit.lift_known:
        assert unit.ratio_known and 0 <= unit.lift_pm <= 1500
        assert -30000 <= unit.ratio_bp <= 30000
    if unit.flaps is None:
        assert unit.state in (FAULT, UNCALIBRATED) and not unit.lift_known
    if WORDS[unit.health] in ("no-zero", "uncalibrated"):
        assert unit.state >= FAULT


@settings(max_examples=300)
@given(st.one_of(settings_records(), settings_records(corners=True)),
       st.one_of(st.none(), flap_curves()),
       st.sampled_from([None, (0, 0), (5000, -5000), (-37, 12)]),
       st.lists(spans(), min_size=1, max_size=12), st.integers(0, (1 << 30) - 1))
def test_any_stream_gives_legal_states(record, chosen_curves, zero, parts, now_ms):
    unit, sample = Unit(load(record)[0], chosen_curves, zero), Sample()
    for ticks, dt_ms, pitot, word, angled, port, step, flap in parts:
        sample.pitot_status, sample.angled_status, sample.flap = pitot, angled, flap
        for i in range(ticks):
            sample.pitot_word, sample.angled_word = word + step * i, port - step * i
            now_ms = (now_ms + dt_ms) % (1 << 30)
            before = (unit.state, unit.disorders)
            unit.tick(now_ms, sample)
            check_legal(unit)
            if unit.disorders > before[1]:
                assert unit.state == before[0]  # a tick out of order changes nothing


@given(st.lists(st.integers(0, (1 << 30) - 1), max_size=200))
def test_a_refusing_unit_stands_any_time(times):
    unit, sample = Refusal(), Sample()
    for now_ms in times:
        unit.tick(now_ms, sample)
        assert unit.state == FAULT and 0 <= unit.voice.level <= 8


@settings(max_examples=400)
@given(st.one_of(JSON, st.dictionaries(st.sampled_from(NAMES), VALUES, max_size=8),
                 st.dictionaries(st.sampled_from(NAMES), VALUES, max_size=4).map(
                     lambda found: good_record(**found))))
def test_the_settings_loader_takes_any_json(value):
    loaded, found = load(value)
    assert all(isinstance(field, str) and remedy for field, remedy in found)
    for name, _, least, most, _, _ in TABLE:
        setting = getattr(loaded, name)
        if setting is None:
            assert name in loaded.missing
        else:
            assert isinstance(setting, int) and least <= setting <= most
    if found:
        assert vars(loaded) == vars(Settings())
    elif not loaded.missing:
        Unit(loaded, None, None)  # and it can be built


@given(st.sampled_from(NAMES), VALUES)
def test_a_setting_is_taken_as_it_is_or_refused_by_its_name(name, value):
    """Never rounded, clamped or replaced."""
    loaded, found = load(good_record(**{name: value}))
    if name == "format" or name not in [row[0] for row in TABLE]:
        return
    named = [field for field, _ in found]
    if not named:
        row = [row for row in TABLE if row[0] == name][0]
        kept = getattr(loaded, name)
        assert row[4][kept] == value if isinstance(row[4], tuple) else kept == value
    elif name not in named:  # a pair that must rise may name its other half
        assert all("must be at least" in remedy for _, remedy in found)


def nested(value) -> st.SearchStrategy:
    """Calibrations of which one part is anything at all."""
    points = st.lists(st.lists(VALUES, max_size=3) | VALUES, max_size=9) | VALUES
    one = st.fixed_dictionaries({}, optional={"plumbing": VALUES, "flap": VALUES,
                                              "points": points, "note": VALUES})
    several = st.fixed_dictionaries({"curves": st.lists(one | VALUES, max_size=5) | VALUES},
                                    optional={"plumbing": st.sampled_from(PLUMBINGS) | VALUES})
    return one | several | value


@settings(max_examples=400)
@given(nested(JSON), st.sampled_from(PLUMBINGS))
def test_the_calibration_check_takes_any_json(value, plumbing):
    found = calibration.problems(value, plumbing)
    assert all(isinstance(field, str) and remedy for field, remedy in found)
    if not found:
        Unit(load(good_record(plumbing=plumbing))[0], calibration.curves_of(value), None)


@given(st.lists(curves(), min_size=1, max_size=4), st.sampled_from(PLUMBINGS))
def test_every_legal_calibration_passes_and_survives_a_file(chosen, plumbing):
    """cases D7: signs and all, through JSON and back."""
    value = {"plumbing": plumbing, "curves": [
        {"flap": i, "points": [list(pair) for pair in points]}
        for i, points in enumerate(chosen)]}
    value = json.loads(json.dumps(value))
    assert not calibration.problems(value, plumbing)
    assert [tuple(map(tuple, points)) for _, points in calibration.curves_of(value)] == chosen
    for other in PLUMBINGS:
        assert bool(calibration.problems(value, other)) == (other != plumbing)


@given(JSON | st.fixed_dictionaries({"pitot_dpa": VALUES, "angled_dpa": VALUES}))
def test_a_zero_record_is_whole_or_refused(value):
    zero, problem = zero_of(value)
    assert (zero is None) == (value is None or bool(problem))
    if zero is not None:
        assert zero == (value["pitot_dpa"], value["angled_dpa"])


@given(JSON, JSON, JSON)
def test_any_stored_records_make_a_unit_that_speaks(settings_record, calibration_record, zero):
    for chosen in (settings_record, good_record()):
        unit, loaded, _ = assembly.make_unit(chosen, calibration_record, zero)
        assert 1000 // loaded.sample_rate_hz > 0
        levels = []
        for now_ms in range(0, 4000, 10):
            unit.tick(now_ms, Sample())
            levels.append(unit.voice.level)
        assert max(levels[100:]) == 8 and unit.state >= FAULT  # no sensor answers: it says so
        assert unit.state != QUIET and unit.state != PRESSING
