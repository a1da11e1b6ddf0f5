"""Does the guided capture find the stall where it is? Independent flights (see data/README.md).

Limits, in degrees of true alpha (plus is late): asked of these sets by their makers. With n/q
every stall within 1 s and -1.0 to +0.7 deg; from pressures alone the prompt recoveries within
-1.5 to +0.7, every other run refused or never later than +0.7. 0.7 deg is what section polars
put the Reynolds effect at between 1 g and a 60-degree turn: nothing finer could be promised.
Entry rate: 14 CFR 23.201(b) (2015) asks for 1 kt/s or less.
"""

from functools import cache

import numpy as np
import pytest

from host_sim.runtimes.capture_runs import combine
from tests.external.captured import (
    Feeling,
    alpha_deg,
    capture,
    error_deg,
    hear_with,
    record_of,
    stall_deg,
)
from tests.external.sensed import at_unit_rate, sensor_settings, stalls
from tests.external.truth import PHASES, PLUMBINGS, Probe

STALLING = 3
PRESSING = 2
EARLY_DEG, LATE_DEG = -1.0, 0.7
ALPHA_RATE_DEG_S = 1.2  # of the slow sets at their stalls; 1.3 to 1.6 in tp_capture3
CAPTURES = ("tp_capture3_prompt", "tp_capture3", "tp_capture3_flap20")
# Real heads 1.8 to 2.3, ports 40 to 60 deg below the axis, tubes 5 to 50 ms: every corner.
CORNERS = [Feeling(Probe(phi, k), tau, seed=seed) for seed, (phi, k, tau) in enumerate(
    (phi, k, tau) for phi in (40.0, 60.0) for k in (1.8, 2.3) for tau in (0.005, 0.05))]
CORNERS += [Feeling(seed=100), Feeling(Probe(50.0, 2.0), 0.02, seed=101)]

every_plumbing = pytest.mark.parametrize("plumbing", PLUMBINGS)
every_feeling = pytest.mark.parametrize("feeling", CORNERS, ids=str)
every_blind_feeling = pytest.mark.parametrize(
    "feeling", [Feeling(f.probe, f.tau_s, f.noise_pa, False, f.seed) for f in CORNERS], ids=str)


@every_plumbing
@every_feeling
@pytest.mark.parametrize("name", [*CAPTURES, "tp_stall_1g", "tp_stall_1g_heavy_high",
                                  "tp_stall_flap20", "hw_stall_1g"])
def test_with_n_every_stall_is_found_and_marked(name: str, plumbing: str, feeling: Feeling):
    runs = capture(name, plumbing, feeling).runs
    true_s = PHASES[name]["stall_times_s"]
    assert len(runs) == len(true_s)
    for run, at_s in zip(runs, true_s, strict=True):
        assert run.accepted, run
        assert run.method == "with-n"
        assert abs(run.stall_time_s - at_s) <= 1.0 or name not in CAPTURES
        # The ratio that a unit feels, in use as in the capture, is the one of tau ago.
        early = EARLY_DEG - ALPHA_RATE_DEG_S * feeling.tau_s
        assert early <= error_deg(run, stall_deg(name), plumbing, feeling.probe) <= LATE_DEG


@every_plumbing
@pytest.mark.parametrize("feeling", CORNERS[::3], ids=str)
@pytest.mark.parametrize("with_n", [True, False])
def test_a_fast_entry_is_refused(plumbing: str, feeling: Feeling, with_n: bool):
    feeling = Feeling(feeling.probe, feeling.tau_s, feeling.noise_pa, with_n, feeling.seed)
    run, = capture("tp_fast_entry", plumbing, feeling).runs
    assert (run.accepted, run.refusal) == (False, "too-fast")
    # From 1.3 Vs to the stall, in the set itself. 0.1 kt/s: half a second of means in ten.
    flight = at_unit_rate("tp_fast_entry")
    until = flight["time_s"] <= PHASES["tp_fast_entry"]["stall_times_s"][0]
    speed, time = flight["kcas"][until], flight["time_s"][until]
    since = np.flatnonzero(speed > 1.3 * speed[-1])[-1]
    rate = (speed[since] - speed[-1]) / (time[-1] - time[since])
    assert rate > 1.4 and run.entry_rate_kt_s == pytest.approx(rate, abs=0.1)


@every_plumbing
@pytest.mark.parametrize("with_n", [True, False])
@pytest.mark.parametrize("name", ["tp_ordinary", "tp_gusts"])
def test_no_run_is_seen_in_ordinary_flight_and_gusts(name: str, plumbing: str, with_n: bool):
    for feeling in CORNERS[::3]:
        feeling = Feeling(feeling.probe, feeling.tau_s, feeling.noise_pa, with_n, feeling.seed)
        assert capture(name, plumbing, feeling).runs == []


@every_plumbing
@every_blind_feeling
def test_pressures_alone_find_prompt_recoveries(plumbing: str, feeling: Feeling):
    runs = capture("tp_capture3_prompt", plumbing, feeling).runs
    assert len(runs) == 3
    for run, at_s in zip(runs, PHASES["tp_capture3_prompt"]["stall_times_s"], strict=True):
        assert run.accepted, run
        assert run.method == "pressures-only" and abs(run.stall_time_s - at_s) <= 1.0
        assert -1.5 <= error_deg(run, 16.0, plumbing, feeling.probe) <= LATE_DEG


@every_plumbing
@pytest.mark.parametrize("name", sorted(set(PHASES) - {"tp_capture3_prompt"}))
def test_pressures_alone_are_refused_or_never_late(name: str, plumbing: str):
    for corner in CORNERS:
        feeling = Feeling(corner.probe, corner.tau_s, corner.noise_pa, False, corner.seed)
        for run in capture(name, plumbing, feeling).runs:
            assert not run.accepted or error_deg(
                run, stall_deg(name), plumbing, feeling.probe) <= LATE_DEG, run


@pytest.mark.parametrize("name", ["tp_turb_sev4_stall", "tp_pullups", "tp_turn45", "tp_turn60"])
def test_with_n_rough_and_fast_sets_are_refused_or_right(name: str):
    for feeling in CORNERS:
        for run in capture(name, "port-static", feeling).runs:
            assert not run.accepted or EARLY_DEG <= error_deg(
                run, stall_deg(name), "port-static", feeling.probe) <= LATE_DEG, run


@cache
def learned(name: str, plumbing: str, with_n: bool = True) -> dict:
    """The calibration that three stalls of a set make, by the firmware's own rule of agreement."""
    feeling = Feeling(with_n=with_n)
    record, reason = combine([capture(name, plumbing, feeling)], sensor_settings(plumbing))
    assert record is not None, reason
    return record


@cache
def learned_from_one(name: str, plumbing: str) -> dict:
    """The calibration of a set with a single run."""
    run, = capture(name, plumbing, Feeling()).runs
    return record_of(run, plumbing)


@every_plumbing
@pytest.mark.parametrize("with_n", [True, False])
@pytest.mark.parametrize("name", ["tp_stall_1g", "tp_stall_1g_heavy_high", "tp_turn45",
                                  "tp_turn60"])
def test_a_learned_calibration_warns_before_every_clean_stall(
        name: str, plumbing: str, with_n: bool):
    heard = hear_with(learned("tp_capture3_prompt", plumbing, with_n), name, plumbing,
                      Feeling(seed=7))
    for begin, stall, end in stalls(name):
        stalling = heard.first(STALLING, begin, end)
        assert stalling is not None and stalling < stall
        # 14 CFR 23.207(c) (2015): 5 kt above the stall
        pressing = heard.first(PRESSING, begin, end)
        assert pressing is not None and heard.kcas(pressing) - heard.kcas(stall) >= 5.0


@every_plumbing
def test_a_curve_learned_in_level_flight_warns_in_the_turn_of_the_other_wing(plumbing: str):
    heard = hear_with(learned_from_one("hw_stall_1g", plumbing), "hw_turn45", plumbing, Feeling())
    (begin, stall, end), = stalls("hw_turn45")
    stalling = heard.first(STALLING, begin, end)
    assert stalling is not None and stalling < stall


def believed_deg(record: dict, plumbing: str) -> float:
    """Alpha, by the probe formula, at which a record says lift 1000."""
    return alpha_deg(record["points"][-1][0], plumbing, Probe())


@every_plumbing
def test_flap_20_needs_a_curve_of_its_own(plumbing: str):
    # The flap lowers the stall alpha from 16.0 to 14.0 deg by design of the invented aeroplane.
    # The miss is asserted, too: nobody shall take one curve for enough.
    clean, own = (learned(name, plumbing) for name in (CAPTURES[0], CAPTURES[2]))
    miss, hit = (believed_deg(record, plumbing) - 14.0 for record in (clean, own))
    assert miss == pytest.approx(2.0, abs=LATE_DEG)
    assert EARLY_DEG <= hit <= LATE_DEG
    (begin, stall, end), = stalls("tp_stall_flap20")
    late, good = (hear_with(record, "tp_stall_flap20", plumbing, Feeling())
                  for record in (clean, own))
    first_good = good.first(STALLING, begin, end)
    first_late = late.first(STALLING, begin, end)
    assert first_good is not None and stall - first_good >= 1.4
    assert first_late is None or stall - first_late < 1.4


@every_plumbing
@pytest.mark.parametrize(("name", "source", "within"), [
    ("tp_stall_1g", "tp_capture3_prompt", 0.05), ("tp_stall_1g_heavy_high", "tp_capture3_prompt",
                                                  0.05),
    ("tp_ordinary", "tp_capture3_prompt", 0.05), ("tp_stall_flap20", "tp_capture3_flap20", 0.05),
    ("tp_turn45", "tp_capture3_prompt", 0.08), ("tp_turn60", "tp_capture3_prompt", 0.08)])
def test_learned_lift_is_cl_over_clmax(name: str, source: str, within: float, plumbing: str):
    # cl of the sets is total lift over qbar S; CLmax: cl of the slow run at its true stall.
    heard = hear_with(learned(source, plumbing), name, plumbing, Feeling(noise_pa=0.0))
    truth, slow = heard.truth, at_unit_rate(source)
    cl_max = np.interp(stalls(source)[0][1], slow["time_s"], slow["cl"])
    share = truth["cl"] / cl_max
    until = stalls(name)[0][1] if stalls(name) else np.inf
    counted = ((share >= 0.3) & (share <= 1.0) & (truth["time_s"] < until)
               & (abs(truth["pitch_rate_dps"]) < 30) & (abs(truth["beta_deg"]) < 3)
               & (truth["time_s"] > truth["time_s"][0] + 0.5))
    assert counted.sum() > 800
    assert abs(heard.unit["lift_pm"] / 1000 - share)[counted].max() <= within
