"""What must hold for `alula size` whatever the aeroplane, the sensor and the tubes."""

import tomllib
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from host_sim.errors import UsageError
from host_sim.sizing.answer import answer_for
from host_sim.sizing.case import Case, Sensor
from host_sim.sizing.example import EXAMPLE
from host_sim.sizing.figures import answer_figures
from host_sim.sizing.lag import late_by_mismatch, tube_ms
from host_sim.sizing.late import late_by
from host_sim.sizing.noise import noise_at
from host_sim.sizing.reach import reach
from host_sim.sizing.reading import read
from host_sim.sizing.sensor_words import step_pa
from host_sim.sizing.unit_settings import settings_of
from host_sim.sizing.verdict import LEVELS, verdict_of
from host_sim.sizing.wing import Reader, Wing
from host_sim.world.plumbing import Line
from tests.sizing.rig import case_of

PLUMBINGS = st.sampled_from(["port-static", "pitot-port", "opposed"])
STALLS_KT = st.floats(25.0, 80.0)
LIFTS = st.floats(0.6, 1.0)
BORES_MM = st.floats(0.8, 6.0)
LENGTHS_M = st.floats(0.1, 12.0)
SENSORS = st.builds(
    Sensor, st.just("s"), st.floats(-9000.0, -600.0), st.floats(3000.0, 9000.0),
    st.sampled_from(["ms4525-a", "ms4525-b", "hsc-a", "hsc-b", "hsc-c", "hsc-f", "direct"]),
    st.floats(0.0, 5.0), st.floats(0.0, 8.0), st.floats(-2.0, 2.0), st.floats(0.5, 20.0))


def reader_of(case: Case) -> Reader:
    wing = Wing(case)
    return Reader(wing, wing.curve())


@given(SENSORS, PLUMBINGS, LIFTS, st.floats(0.5, 4.0))
def test_twice_the_noise_is_twice_the_noise_of_ratio_lift_and_knots(
        sensor: Sensor, plumbing: str, lift: float, factor: float) -> None:
    # the rounding to steps is part of a reading's noise, so it grows with it here
    sensor = replace(sensor, output="direct", noise_pa=sensor.noise_pa + 0.1)
    louder = replace(sensor, noise_pa=factor * sensor.noise_pa,
                     resolution_pa=factor * sensor.resolution_pa)
    case, loud = case_of(sensor, plumbing=plumbing), case_of(louder, plumbing=plumbing)
    one, other = (noise_at(reader_of(each), each.pairs[0], settings_of(each, each.pairs[0]), lift)
                  for each in (case, loud))
    assert other.ratio == pytest.approx(factor * one.ratio, rel=1e-9)
    assert other.lift_pm == pytest.approx(factor * one.lift_pm, rel=1e-9)
    assert other.speed_kt == pytest.approx(factor * one.speed_kt, rel=1e-9)
    assert other.likeness == one.likeness


@given(st.floats(20.0, 20000.0), st.integers(8, 23))
def test_a_bit_more_is_never_a_coarser_step(span_pa: float, bits: int) -> None:
    from host_sim.sizing.read_sensor import read_sensor
    table = {"name": "s", "low": f"{-span_pa / 2!r} Pa", "high": f"{span_pa / 2!r} Pa",
             "band_pc": 1, "noise": "0 Pa", "drift": "0 Pa/K"}
    coarse, fine = (step_pa(read_sensor({**table, "output": "direct", "bits": b}, "s"))
                    for b in (bits, bits + 1))
    assert fine <= coarse
    # down to the 0.1 Pa of the unit's own numbers
    assert fine == pytest.approx(max(0.1, span_pa / 2 ** (bits + 1)), rel=1e-9)


@given(LENGTHS_M, LENGTHS_M, BORES_MM, BORES_MM, st.floats(0.0, 6000.0))
def test_a_longer_thinner_tube_is_never_sooner(one_m: float, two_m: float, one_mm: float,
                                               two_mm: float, height_m: float) -> None:
    short, long_ = sorted((one_m, two_m))
    thin, wide = sorted((one_mm, two_mm))
    assert tube_ms(Line(short, wide), height_m) <= tube_ms(Line(long_, wide), height_m)
    assert tube_ms(Line(short, wide), 0.0) <= tube_ms(Line(short, wide), height_m)
    # thinner is slower while the sensor's volume counts; a wide tube holds more air itself, but
    # its resistance falls with the fourth power: volume 1 cm3 + half a tube grows with the square
    assert tube_ms(Line(short, wide), height_m) <= tube_ms(Line(short, thin), height_m) + 1e-9


@given(PLUMBINGS, LIFTS, st.floats(0.0, 400.0), st.floats(0.0, 400.0), st.floats(0.5, 5.0))
def test_a_larger_mismatch_is_never_less_late(plumbing: str, lift: float, one_ms: float,
                                              two_ms: float, rate: float) -> None:
    # angled line the later one: its pressure lags while the angle grows
    reader = reader_of(case_of(plumbing=plumbing))
    small, large = sorted((one_ms, two_ms))
    assert (late_by_mismatch(reader, lift, small, rate).lift_pm
            <= late_by_mismatch(reader, lift, large, rate).lift_pm + 1)


@given(PLUMBINGS, STALLS_KT, STALLS_KT, st.floats(0.1, 20.0), LIFTS)
def test_a_slower_stall_suffers_more_from_the_same_pascals(
        plumbing: str, one_kt: float, two_kt: float, error_pa: float, lift: float) -> None:
    slow, fast = sorted((one_kt, two_kt))
    lates = [late_by(reader_of(case_of(plumbing=plumbing, stall_kt=kt, top_kt=150.0)), lift,
                     error_pa, error_pa) for kt in (slow, fast)]
    # an answer is a whole per mille; in knots that is half a thousandth of the speed
    assert lates[0].lift_pm >= lates[1].lift_pm - 1
    assert lates[0].speed_kt >= lates[1].speed_kt - fast / lift ** 1.5 / 2000.0 - 1e-9


@given(PLUMBINGS, st.floats(0.0, 30.0), st.floats(0.0, 30.0), LIFTS)
def test_a_larger_error_is_never_less_late(plumbing: str, one_pa: float, two_pa: float,
                                           lift: float) -> None:
    reader = reader_of(case_of(plumbing=plumbing))
    small, large = sorted((one_pa, two_pa))
    assert (late_by(reader, lift, small, small).lift_pm
            <= late_by(reader, lift, large, large).lift_pm + 1)


@settings(max_examples=25)
@given(SENSORS, PLUMBINGS, st.floats(80.0, 150.0))
def test_margins_only_ask_for_more_range(sensor: Sensor, plumbing: str, top_kt: float) -> None:
    case = case_of(sensor, plumbing=plumbing, top_kt=top_kt)
    wing, pair = Wing(case), case.pairs[0]
    for bare, full in zip(reach(wing, pair, False), reach(wing, pair, True), strict=True):
        assert full.low_pa <= bare.low_pa and full.high_pa >= bare.high_pa
        assert full.share >= bare.share


@settings(max_examples=6)
@given(SENSORS, PLUMBINGS, STALLS_KT, BORES_MM)
def test_any_case_has_an_answer_and_a_verdict_with_its_rule(
        sensor: Sensor, plumbing: str, stall_kt: float, bore_mm: float) -> None:
    case = case_of(sensor, plumbing=plumbing, stall_kt=stall_kt, top_kt=150.0,
                   angled_line=Line(3.0, bore_mm))
    answer = answer_for(case, case.pairs[0])
    verdict = verdict_of(case, answer)
    assert verdict.word in LEVELS
    assert verdict.word == LEVELS[max(rule.level for rule in verdict.rules)]
    assert verdict.rule in verdict.rules and verdict.dominant
    if verdict.word == "fits":
        assert all(rule.use <= rule.fits_to for rule in verdict.rules)
    found = answer_figures(case, answer)
    assert found["verdict"] == verdict.word and found["because"] == verdict.rule.text


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12)
    | st.builds("{} {}".format, st.floats(-1e4, 1e4),
                st.sampled_from(["kt", "m", "mm", "Pa", "psi", "Pa/K", "%", "%/K", "K", "ms"])),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=4), inner,
                                                                max_size=2), max_leaves=4)


@given(st.data())
def test_any_value_anywhere_is_taken_or_refused_in_one_line(data: st.DataObject) -> None:
    said = tomllib.loads(EXAMPLE)
    tables = [said, said["pitot_line"], said["settings"], said["sensor"][0], said["sensor"][3],
              said["pair"][0]]
    table = data.draw(st.sampled_from(tables))
    names = [name for name, value in table.items() if not isinstance(value, (dict, list))]
    table[data.draw(st.sampled_from(names))] = data.draw(VALUES)
    try:
        case = read(said, said["settings"])
    except UsageError as error:
        assert str(error).strip()
        return
    assert 15 <= case.stall_kt < case.top_kt <= 240
    assert len(case.pairs) == 5
