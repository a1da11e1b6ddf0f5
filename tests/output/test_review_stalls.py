"""Stalls of a review against independent flights (JSBSim sets, see tests/external): the true
angle of attack says when the wing stalled, the true airspeed how fast."""

import numpy as np
import pytest

from host_sim.output.review_flight import ReviewFlight
from host_sim.output.review_stalls import Stall, find_stalls
from host_sim.runtimes.run import Stream, run_stream
from tests.external.truth import PHASES, Probe, calibration, load, pressures, stream

PRESSING, STALLING = 2, 3  # urgency of the states, as the README lists them


def review(name: str, learned: str = "tp_stall_1g", with_n: bool = True) -> ReviewFlight:
    """A set, sensed by formula, with the calibration that the formula gives for another."""
    flight = load(name)
    pitot, angled = pressures(flight, "port-static", Probe())
    made = stream(pitot, angled, flight["time_s"], "port-static",
                  calibration(learned, "port-static", Probe()))
    rows = made.rows.copy()
    if with_n:
        rows[:, 5], rows[:, 6] = 0, np.rint(flight["nz_g"] * 1000)
    made = Stream(rows, made.settings, made.calibration, made.zero)
    return ReviewFlight(name, made, run_stream(made), round(1000 * flight["time_s"][0]))


def kcas(name: str, at_s: float) -> float:
    flight = load(name)
    return float(np.interp(at_s, flight["time_s"], flight["kcas"]))


def at_s(flight: ReviewFlight, tick: int) -> float:
    return float(flight.time_s[tick])


@pytest.mark.parametrize(("name", "learned", "within_s"), [
    # 0.3 degrees, asked of these sets by their makers, at 1.2 degrees a second and faster
    ("tp_stall_1g", "tp_stall_1g", 0.3), ("tp_stall_1g_heavy_high", "tp_stall_1g", 0.3),
    ("tp_stall_flap20", "tp_stall_flap20", 0.3), ("tp_turn45", "tp_stall_1g", 0.3),
    ("tp_turn60", "tp_stall_1g", 0.3), ("hw_stall_1g", "hw_stall_1g", 0.3),
    ("hw_turn45", "hw_stall_1g", 0.3),
    # 1.5 degrees in pull-ups of 6 to 12 degrees a second
    ("tp_pullups", "tp_stall_1g", 0.3)])  # 1.5 / 6 s
def test_every_stall_is_found_and_none_more(name: str, learned: str, within_s: float) -> None:
    flight = review(name, learned)
    truth_s = PHASES[name]["stall_times_s"]
    marks_s = [stall.ratio_s for stall in find_stalls(flight)]
    assert marks_s == pytest.approx(truth_s, abs=within_s)


@pytest.mark.parametrize("name", ["tp_ordinary", "tp_gusts"])
def test_no_stall_where_there_was_none(name: str) -> None:
    assert find_stalls(review(name)) == []


def only(stalls: list[Stall]) -> Stall:
    assert len(stalls) == 1
    return stalls[0]


@pytest.mark.parametrize(("name", "learned"), [
    ("tp_stall_1g", "tp_stall_1g"), ("tp_stall_flap20", "tp_stall_flap20"),
    ("tp_turn45", "tp_stall_1g"), ("hw_turn45", "hw_stall_1g")])
def test_lead_is_time_and_true_speed_between_sound_and_stall(name: str, learned: str) -> None:
    flight = review(name, learned, with_n=False)
    stall = only(find_stalls(flight))
    # the sound's start, looked up in the unit's states here: the last tick that was quieter
    until = int(np.searchsorted(flight.time_s, stall.ratio_s))
    for lead, state in ((stall.pressing, PRESSING), (stall.stalling, STALLING)):
        assert lead is not None
        begin_s = at_s(flight, int(np.flatnonzero(flight.state[:until] < state)[-1]) + 1)
        assert lead.seconds == pytest.approx(stall.ratio_s - begin_s, abs=0.021)
        knots = kcas(name, begin_s) - kcas(name, stall.ratio_s)
        assert lead.knots == pytest.approx(knots, abs=0.3)  # 0.1 s of smoothing at 3 kt/s
        assert lead.share == pytest.approx(knots / kcas(name, stall.ratio_s), abs=0.01)
    assert stall.ias_kt == pytest.approx(kcas(name, stall.ratio_s), abs=0.3)


def true_entry_kt_s(name: str, stall_s: float) -> float:
    """Mean loss of true calibrated airspeed from 1.3 times its value at the stall."""
    flight, stall_kt = load(name), kcas(name, stall_s)
    before = flight["time_s"] < stall_s
    start = np.flatnonzero(before & (flight["kcas"] >= 1.3 * stall_kt))[-1]
    return (flight["kcas"][start] - stall_kt) / (stall_s - flight["time_s"][start])


@pytest.mark.parametrize("name", ["tp_stall_1g", "tp_stall_1g_heavy_high", "tp_fast_entry"])
def test_entry_rate_is_the_true_loss_of_speed_from_1_3_vs(name: str) -> None:
    stall = only(find_stalls(review(name)))
    rate = true_entry_kt_s(name, PHASES[name]["stall_times_s"][0])
    # By the lift "1.3 Vs" is where the wing carries 1/1.69; a stall's own n is not 1, so the two
    # starts differ, and with them the mean: a tenth.
    assert stall.entry_kt_s == pytest.approx(rate, rel=0.1)


def test_asked_margins_are_judged_in_slow_entries_only() -> None:
    # 14 CFR 23.201(b), 23.207(c): 5 kt, 5 % at 1 kt/s; the set at 4 kt/s is another test.
    assert only(find_stalls(review("tp_stall_1g"))).enough is True
    assert only(find_stalls(review("tp_fast_entry"))).enough is None


def test_late_sound_is_told_as_not_enough() -> None:
    flight = review("tp_stall_1g")
    settings = {**flight.stream.settings, "pressing_pm": 900, "stalling_pm": 960}
    made = Stream(flight.stream.rows, settings, flight.stream.calibration, flight.stream.zero)
    late = ReviewFlight("late", made, run_stream(made), flight.first_ms)
    # 1/sqrt(0.9) = 1.054: 5.4 % above, but of some 48 kt that is 2.6 kt
    stall = only(find_stalls(late))
    assert stall.pressing is not None and stall.pressing.knots < 5
    assert stall.enough is False


def test_lift_peak_finds_the_stall_that_a_wrong_calibration_hides() -> None:
    # Flap 20 flown with the curve for flaps up fires 2.0 degrees late (phases.json: 14.0, 16.0).
    # The peak of n/q does not rest on a calibration.
    name = "tp_capture3_flap20"
    flight = review(name, "tp_stall_1g")
    stalls = find_stalls(flight)
    truth_s = PHASES[name]["stall_times_s"]
    assert len(stalls) == len(truth_s)
    for stall, true_s in zip(stalls, truth_s, strict=True):
        assert stall.peak_s == pytest.approx(true_s, abs=1.0)  # asked of the capture sets
        assert stall.ratio_s is None or stall.ratio_s > stall.peak_s + 0.5
        # ... and the lead is counted to the mark that comes first
        assert at_s(flight, stall.at) == pytest.approx(stall.peak_s, abs=0.021)
        assert stall.pressing is not None
        begin_s = stall.peak_s - stall.pressing.seconds
        assert stall.pressing.knots == pytest.approx(
            kcas(name, begin_s) - kcas(name, stall.peak_s), abs=0.3)
    assert any(stall.ratio_s is not None for stall in stalls)


def test_marks_of_the_same_stall_are_one_row() -> None:
    name = "tp_capture3_prompt"
    stalls = find_stalls(review(name))
    assert [min(s.ratio_s or 1e9, s.peak_s or 1e9) for s in stalls] == pytest.approx(
        PHASES[name]["stall_times_s"], abs=1.0)
    assert all(stall.peak_s is not None for stall in stalls)


def test_without_a_calibration_the_lift_peak_alone_marks_and_no_warning_is_claimed() -> None:
    flight = review("tp_capture3_prompt")
    made = Stream(flight.stream.rows, flight.stream.settings, None, flight.stream.zero)
    bare = ReviewFlight("bare", made, run_stream(made), flight.first_ms)
    stalls = find_stalls(bare)
    assert [stall.peak_s for stall in stalls] == pytest.approx(
        PHASES["tp_capture3_prompt"]["stall_times_s"], abs=1.0)
    assert all(stall.ratio_s is None and stall.pressing is None for stall in stalls)
    # entry rate by airspeed where the lift is not known
    assert [stall.entry_kt_s for stall in stalls] == pytest.approx(
        [true_entry_kt_s("tp_capture3_prompt", stall_s)
         for stall_s in PHASES["tp_capture3_prompt"]["stall_times_s"]], rel=0.1)
    assert all(stall.enough is False for stall in stalls)


def test_greatest_load_factor_before_a_banked_stall() -> None:
    # n = 1/cos(bank) is 2 at 60 degrees; at the peak of lift 1.86 was seen (facts of these sets)
    stall = only(find_stalls(review("tp_turn60")))
    assert stall.load_most == pytest.approx(1.93, abs=0.12)
