"""`alula size`: its closed forms against the firmware, run over words with noise.

Tolerances follow from the number of independent windows: a variance from M of them is right to
sqrt(2/M), one sigma; four sigma are allowed. Seeds are fixed.
"""

from dataclasses import replace

import numpy as np
import pytest

from alula.conditioning import channel_of
from alula.cues import Cues
from alula.sample import FRESH
from host_sim.sizing.answer import answer_for
from host_sim.sizing.case import Case, Pair, Sensor
from host_sim.sizing.false_changes import MINUTES, bound, false_changes
from host_sim.sizing.lag import delay_of, mismatch_ms, tube_ms
from host_sim.sizing.late import late_by
from host_sim.sizing.noise import line_shape, noise_at
from host_sim.sizing.noise_gain import channel_covariances, line_weights
from host_sim.sizing.through_firmware import (
    CHANNELS,
    band_changes,
    half_rise_ms,
    noisy_words,
    ratios_bp,
)
from host_sim.sizing.unit_settings import flying_q_dpa, settings_of
from host_sim.sizing.verdict import verdict_of
from host_sim.sizing.wing import Reader, Wing, impact_pa
from host_sim.sizing.zeroing import zeroing
from host_sim.world.plumbing import Line, through_tube
from tests.sizing.rig import PSI_PA, SENSOR, case_of

PLUMBINGS = ("port-static", "pitot-port", "opposed")
SHAPES = [{}, {"window_ms": 80}, {"window_ms": 400, "lead_ms": 60}, {"sample_rate_hz": 50}]
QUIET = Sensor("quiet", -3000.0, 3000.0, "direct", 1.0, 2.0, 0.1, 0.1)


def parts(case: Case):
    pair = case.pairs[0]
    wing = Wing(case)
    return pair, Reader(wing, wing.curve()), settings_of(case, pair)


@pytest.mark.parametrize("record", SHAPES)
@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_noise_of_the_ratio(plumbing: str, record: dict) -> None:
    pair, reader, settings = parts(case_of(QUIET, plumbing=plumbing, record=record))
    expected = noise_at(reader, pair, settings, 1.0)
    slots = line_shape(settings)[0]
    windows = 400
    words = noisy_words(pair, reader.wing.pressures_pa(1.0), windows * (slots + 2), seed=3)
    found = ratios_bp(settings, *words)[::slots + 2] / 10000.0
    assert found.std() == pytest.approx(expected.ratio, rel=4 * (0.5 / len(found)) ** 0.5)


@pytest.mark.parametrize("record", SHAPES)
def test_neighbouring_ticks_are_as_like_as_said(record: dict) -> None:
    # What decides the crossings: the mean square step is 2 (variance - covariance).
    pair, reader, settings = parts(case_of(QUIET, record=record))
    variance, next_one = channel_covariances(*line_shape(settings))
    rng = np.random.default_rng(5)
    channel = channel_of(settings, "pitot")
    found = []
    for word in np.rint(20000 + 1000 * rng.standard_normal(20000)).astype(int).tolist():
        channel.step(1000 // settings.sample_rate_hz, FRESH, word)
        if channel.ready:
            found.append(channel.dpa / 1000.0)
    steps = np.diff(found)
    # steps share words over a window: at least len/slots are independent
    independent = len(steps) / (line_shape(settings)[0] + 2)
    assert (steps ** 2).mean() == pytest.approx(
        2 * (variance - next_one), rel=4 * (2 / independent) ** 0.5)


@pytest.mark.parametrize("lift", [1.0, 0.907, 0.694])
def test_noise_of_the_lift_is_what_the_firmware_shows(lift: float) -> None:
    pair, reader, settings = parts(case_of(QUIET))
    expected = noise_at(reader, pair, settings, lift)
    slots, windows = line_shape(settings)[0], 400
    words = noisy_words(pair, reader.wing.pressures_pa(lift), windows * (slots + 2), seed=9)
    lifts = np.array([reader.curve.lift_pm(ratio)
                      for ratio in ratios_bp(settings, *words)[::slots + 2].tolist()])
    # the slope is the steeper one where two lines of the curve meet: never less than measured
    rms = np.hypot(expected.lift_pm, 1 / 12 ** 0.5)  # a lift is a whole per mille
    slack = 4 * (0.5 / len(lifts)) ** 0.5
    assert lifts.std() < rms * (1 + slack)
    if lift != 1.0:  # not at a point of the curve
        assert lifts.std() > rms * (1 - slack)


@pytest.mark.parametrize("sensor", [
    SENSOR, QUIET, Sensor("coarse", -PSI_PA, PSI_PA, "hsc-a", 0.5, 1.0, 0.2, 5.0)])
def test_a_zero_leaves_less_than_half_a_step_and_the_noise(sensor: Sensor) -> None:
    # The zero is a mean over zero_ms of values whose noise is the channel's; half a step if the
    # words stand still, and the mean is rounded to 0.1 Pa.
    case = case_of(sensor)
    pair, _, settings = parts(case)
    zeros = zeroing(case, pair, settings)
    assert zeros.first_taken
    step = max(sensor.resolution_pa, 2 * PSI_PA / 13107 if sensor.output != "direct" else 0.1)
    words = settings.zero_ms * settings.sample_rate_hz // 1000
    # a mean of a moving line weighs no word more than its neighbours, but for the ends: at most
    # twice the variance of a plain mean
    noise = 4 * sensor.noise_pa * (2 / words) ** 0.5
    assert max(zeros.left_pa) <= step / 2 + noise + 0.05


def test_the_warm_zero_takes_the_drift_or_is_refused() -> None:
    slow, fast = replace(SENSOR, drift_pa_per_k=0.3), replace(SENSOR, drift_pa_per_k=0.8)
    for sensor, second in ((slow, True), (fast, False)):  # 10 K: 3 and 8 Pa; the limit is 5 Pa
        case = case_of(sensor)
        pair, _, settings = parts(case)
        zeros = zeroing(case, pair, settings)
        assert (zeros.first_taken, zeros.second_taken) == (True, second)
        assert zeros.drift_left_pa[0] == pytest.approx(
            sensor.drift_pa_per_k * (15 if second else 25))


def test_a_band_beyond_the_first_zero_is_refused() -> None:
    # zero_first_dpa 1500: 150 Pa; 2 % of 2 psi is 276 Pa
    case = case_of(replace(SENSOR, band_pc=2.0))
    answer = answer_for(case, case.pairs[0])
    assert not answer.zeroing.first_taken
    assert verdict_of(case, answer).word == "does not fit"
    raised = replace(case, record={"zero_first_dpa": 3000})
    assert answer_for(raised, case.pairs[0]).zeroing.first_taken


@pytest.mark.parametrize("record", SHAPES)
def test_half_rise_is_where_the_weights_reach_half(record: dict) -> None:
    case = case_of(record=record)
    _, _, settings = parts(case)
    slots, horizon = line_shape(settings)
    period_ms = 1000 // settings.sample_rate_hz
    rise = np.cumsum(line_weights(slots, horizon)[::-1])
    medians = int(np.argmax(rise >= 0.5)) + 1  # new medians that are needed
    # the median of three shows a new value with the second word of it
    assert half_rise_ms(settings) == medians * period_ms


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_a_pull_up_is_shown_within_the_total_delay(plumbing: str) -> None:
    # Angle rises by 10 deg/s at a constant speed (independent pull-ups: 6 to 12), through tubes,
    # words, channels: the firmware's ratio passes that of the stall after at most the total
    # less the sound's edge, which is not in it.
    case = case_of(QUIET, plumbing=plumbing, pitot_line=Line(4.0, 2.0), angled_line=Line(4.0, 2.0),
                   height_m=0.0)
    pair, reader, settings = parts(case)
    wing, dt_s = reader.wing, 0.001
    time_s = np.arange(0.0, 2.5, dt_s)
    alpha = np.clip(3.0 + 10.0 * (time_s - 0.8), 3.0, 25.0)
    impact = impact_pa(55.0)
    angled = through_tube(np.array([wing.angled_pa(impact, a) for a in alpha]),
                          case.angled_line, dt_s)
    every = 1000 // settings.sample_rate_hz
    words = np.rint(10 * angled[::every]).astype(int)
    ratios = ratios_bp(settings, np.full(len(words), round(10 * impact)), words)
    first = len(words) - len(ratios)
    passed_s = (first + int(np.argmax(ratios >= reader.curve.stall_bp))) * every / 1000.0
    true_s = 0.8 + (case.stall_deg - 3.0) / 10.0
    delay = delay_of(case, pair, settings)
    late_ms = 1000.0 * (passed_s - true_s)
    assert 0.5 * tube_ms(case.angled_line, 0.0) < late_ms < delay.total_ms - delay.sound_ms


def test_mismatch_is_what_two_tubes_do() -> None:
    # Slow-down of 5 kt/s at 1 g into the stall, a long thin angled line, next to no pitot line:
    # the world's tubes, step by step, against the answer's "pressure of so long ago". At a round
    # lift top the angle runs away like a root; the mean of a root over an exponential lag is
    # Gamma(3/2) = 0.886 of the root of the mean lag (textbook), of a straight line 1.
    case = case_of(QUIET, pitot_line=Line(0.05, 5.0), angled_line=Line(8.0, 1.5), height_m=0.0)
    pair, reader, _ = parts(case)
    answer = answer_for(case, pair)
    wing, dt_s = reader.wing, 0.002
    time_s = np.arange(0.0, 4.0, dt_s)
    speed = case.stall_kt + 5.0 * (4.0 - dt_s - time_s)
    pitot, angled = np.array([wing.pressures_pa(float((case.stall_kt / one) ** 2))
                              for one in speed]).T
    read = reader.lift_pm(through_tube(pitot, case.pitot_line, dt_s)[-1],
                          through_tube(angled, case.angled_line, dt_s)[-1])
    missing = reader.lift_pm(pitot[-1], angled[-1]) - read
    said = answer.fast_mismatch.lift_pm
    assert said > 20
    assert 0.886 * said - 1 <= missing <= said + 1  # the sound's delay is none of the exponential


@pytest.mark.parametrize(("pitot_m", "angled_m"), [(3.0, 3.0), (2.0, 6.0), (6.0, 2.0)])
def test_mismatch_in_time(pitot_m: float, angled_m: float) -> None:
    case = case_of(pitot_line=Line(pitot_m, 2.0), angled_line=Line(angled_m, 2.0), height_m=0.0)
    apart_s = (case.angled_line.tau_s - case.pitot_line.tau_s + (angled_m - pitot_m) / 340.294)
    assert mismatch_ms(case) == pytest.approx(1000 * apart_s, rel=1e-5, abs=1e-9)


def test_errors_in_the_pressures_come_out_as_the_worst_of_four() -> None:
    # By hand: dr = (da + r dq)/q in the worst case, times the curve's slope near the stall.
    pair, reader, _ = parts(case_of())
    pitot, angled = reader.wing.pressures_pa(1.0)
    late = late_by(reader, 1.0, 2.0, 3.0)
    by_hand = (3.0 + angled / pitot * 2.0) / pitot * reader.slope_pm(1.0)
    assert late.lift_pm == pytest.approx(by_hand, abs=1.5)
    assert late.speed_kt == pytest.approx(
        42.0 / (1 - late.lift_pm / 1000) ** 0.5 - 42.0, rel=1e-9)


@pytest.mark.parametrize("noise_pa", [2.0, 4.0, 8.0])
def test_false_changes_stay_below_the_bound(noise_pa: float) -> None:
    case = case_of(replace(QUIET, noise_pa=noise_pa))
    pair, reader, settings = parts(case)
    found = false_changes(reader, pair, settings)
    # A count scatters by its root; the bound is a mean. One for a count that has just begun.
    most = found.bound_per_h * MINUTES / 60.0
    assert found.seen <= most + 4 * (most ** 0.5 + 1)
    if noise_pa == 8.0:
        assert found.seen > 0
    if noise_pa == 2.0:
        assert found.seen == 0


def test_a_run_that_is_left_out_would_have_shown_nothing() -> None:
    # The short way (no band can begin and end) against the cues themselves.
    _, reader, settings = parts(case_of(QUIET))
    rng = np.random.default_rng(11)
    for spread in (20, 200, 800):
        at = reader.ratio_bp(*reader.wing.pressures_pa(0.694))
        ratios = np.rint(at + spread * rng.standard_normal(4000).cumsum() / 40).astype(int)
        cues, ends, band = Cues(settings), 0, 0
        for ratio in ratios.tolist():
            cues.step(10, reader.curve.lift_pm(ratio), 0, True)
            ends += cues.band < band
            band = cues.band
        assert band_changes(settings, reader.curve, ratios, 0) == 2 * ends


def test_no_bound_without_noise_and_more_with_a_shorter_release() -> None:
    pair, reader, settings = parts(case_of(QUIET))
    noise = noise_at(reader, pair, settings, 0.694)
    assert bound(replace(noise, lift_pm=0.0), 20, settings)[0] == 0.0
    louder = replace(noise, lift_pm=6.0)
    settings.release_ms = 0
    most = bound(louder, 20, settings)[0]
    settings.release_ms = 500
    assert bound(louder, 20, settings)[0] < most


def test_the_advised_setting_is_nine_tenths_of_the_stall() -> None:
    # settings reference: "flying_q_dpa: 0.9 of the least stall q"; 42 kt: 286.2 Pa (computed)
    assert flying_q_dpa(case_of()) == pytest.approx(0.9 * 2862, abs=1.5)
    _, _, settings = parts(case_of())
    assert settings.flying_q_dpa == flying_q_dpa(case_of())
    assert CHANNELS == ("pitot", "angled")


def test_two_types_are_judged_each_by_its_own_line() -> None:
    wide, fine = SENSOR, Sensor("fine", -700.0, 700.0, "hsc-a", 1.0, 0.1, 0.05)
    case = case_of(pairs=(Pair(wide, fine), Pair(fine, wide)))
    good, bad = (answer_for(case, pair) for pair in case.pairs)
    assert good.reach[0].share < 1.0 and good.reach[1].share < 1.0
    assert bad.reach[0].share > 1.0  # 120 kt is 2354 Pa
    assert good.pair.name == "1 psi + fine"
