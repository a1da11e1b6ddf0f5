"""Does the warning come in time? Independent flights, pressures by formula, margins by regulation.

Limits: 14 CFR 23.207(c) (2015): the warning begins at least 5 kt above the stall speed and goes on
until the stall; 25.207(c): at least 5 % above, and on until the angle of attack is back to about
that of the onset. The seconds are the project's own promise (design: "do no worse").

The flights' lift is a table in alpha, so one stall alpha at every weight, height and bank is built
in: these sets cannot show that the ratio at the stall is the same, only that the unit is in time.
"""

import numpy as np
import pytest

from host_sim.runtimes.paths import use_firmware
from tests.external.sensed import alpha_at_lift, sense, stalls
from tests.external.truth import PLUMBINGS, Heard

use_firmware()

from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING

CLEAN, FLAP20, HIGH_WING = ("tp_stall_1g",), ("tp_stall_flap20",), ("hw_stall_1g",)
# Steady entries, level and banked, each with the set its calibration was learned from.
SLOW = (
    ("tp_stall_1g", CLEAN), ("tp_stall_1g_heavy_high", CLEAN), ("tp_stall_flap20", FLAP20),
    ("tp_turn45", CLEAN), ("tp_turn60", CLEAN), ("hw_stall_1g", HIGH_WING),
    ("hw_turn45", HIGH_WING), ("tp_capture3", CLEAN), ("tp_capture3_prompt", CLEAN),
    ("tp_capture3_flap20", FLAP20), ("tp_fast_entry", CLEAN),
)
# (noise rms in Pa, tube lag in s): perfect; a noisy sensor; noisy behind 10 ms of tube.
FELT = ((0.0, 0.0), (1.5, 0.0), (1.5, 0.010))
SOUNDING_WITHIN = 3  # ticks: the sound rises over an edge of 20 ms

every_plumbing = pytest.mark.parametrize("plumbing", PLUMBINGS)
every_feeling = pytest.mark.parametrize(("noise_pa", "tau_s"), FELT)
every_slow = pytest.mark.parametrize(("name", "learned"), SLOW, ids=[name for name, _ in SLOW])


def onset(heard: Heard, state: int, begin: float, end: float) -> float:
    """When the unit first said so in a span; it must have."""
    found = heard.first(state, begin, end)
    assert found is not None, f"never reached state {state} from {begin} to {end} s"
    return found


@every_slow
@every_plumbing
@every_feeling
def test_pressing_begins_5_kt_and_5_percent_above_the_stall(
        name: str, learned: tuple[str, ...], plumbing: str, noise_pa: float, tau_s: float) -> None:
    heard = sense(name, plumbing, learned, noise_pa, tau_s)
    for begin, stall, end in stalls(name):
        pressing = onset(heard, PRESSING, begin, end)
        assert heard.kcas(pressing) - heard.kcas(stall) >= 5.0  # 14 CFR 23.207(c)
        assert heard.kcas(pressing) / heard.kcas(stall) >= 1.05  # 14 CFR 25.207(c)
        assert stall - pressing >= 5.0  # own promise


@every_slow
@every_plumbing
@every_feeling
def test_stalling_begins_before_the_stall(
        name: str, learned: tuple[str, ...], plumbing: str, noise_pa: float, tau_s: float) -> None:
    heard = sense(name, plumbing, learned, noise_pa, tau_s)
    for begin, stall, end in stalls(name):
        assert stall - onset(heard, STALLING, begin, end) >= 1.4  # own promise


@every_plumbing
@every_feeling
def test_pull_ups_are_heard_before_the_stall(plumbing: str, noise_pa: float, tau_s: float) -> None:
    # Alpha rises 6 to 12 deg/s here. 23.207(e) gives no figure for accelerated stalls.
    heard = sense("tp_pullups", plumbing, CLEAN, noise_pa, tau_s)
    assert len(stalls("tp_pullups")) == 3
    for begin, stall, end in stalls("tp_pullups"):
        assert stall - onset(heard, PRESSING, begin, end) >= 0.6  # own promise
        assert stall - onset(heard, STALLING, begin, end) >= 0.25


@pytest.mark.parametrize(("name", "learned"), (*SLOW, ("tp_pullups", CLEAN)))
@every_plumbing
@every_feeling
def test_the_warning_lasts_through_the_stall(
        name: str, learned: tuple[str, ...], plumbing: str, noise_pa: float, tau_s: float) -> None:
    # 25.207(c). Past the stall CL falls while alpha still rises, so "recovered" is told by the
    # true alpha: where, on the way up, the wing had 0.907 (onset) and 0.85 of its lift.
    heard = sense(name, plumbing, learned, noise_pa, tau_s)
    time, alpha = heard.truth["time_s"], heard.truth["alpha_deg"]
    for begin, stall, end in stalls(name):
        at = np.searchsorted(time, onset(heard, STALLING, begin, end))
        at_onset, safe = (
            np.flatnonzero((time > stall) & (alpha < alpha_at_lift(learned[0], share)))[0]
            for share in (0.907, 0.85))
        assert (heard.unit["state"][at:at_onset] == STALLING).all()
        assert np.isin(heard.unit["state"][at:safe], (PRESSING, STALLING)).all()
        assert (heard.unit["voice_level"][at + SOUNDING_WITHIN:safe] > 0).all()


@every_plumbing
@every_feeling
def test_stalls_in_heavy_turbulence_are_all_warned_of(
        plumbing: str, noise_pa: float, tau_s: float) -> None:
    # Gusts carry alpha to and fro across the stall: where it rises through, the warning sounds.
    heard = sense("tp_turb_sev4_stall", plumbing, CLEAN, noise_pa, tau_s)
    time = heard.truth["time_s"]
    true_stalls = [51.72, 54.04, 55.36]  # phases.json: alpha rises through 16 deg
    for stall in true_stalls:
        around = (time >= stall) & (time <= stall + 0.3)
        assert (heard.unit["state"][around] == STALLING).all()
        assert (heard.unit["voice_level"][around] > 0).all()
    first = onset(heard, PRESSING, 18.0, true_stalls[0])
    assert heard.kcas(first) - heard.kcas(true_stalls[0]) >= 5.0
    assert (heard.unit["state"] < FAULT).all()


@every_plumbing
@every_feeling
def test_ordinary_flight_never_presses(plumbing: str, noise_pa: float, tau_s: float) -> None:
    # 23.207(d): no warning in normal flight. Turns, climb, descent, 10-degree slips at 80 kt.
    heard = sense("tp_ordinary", plumbing, CLEAN, noise_pa, tau_s)
    assert np.isin(heard.unit["state"], (QUIET, CALM)).all()


@every_plumbing
@every_feeling
def test_gusts_leave_nothing_latched(plumbing: str, noise_pa: float, tau_s: float) -> None:
    heard = sense("tp_gusts", plumbing, CLEAN, noise_pa, tau_s)
    time, alpha = heard.truth["time_s"], heard.truth["alpha_deg"]
    above = alpha > alpha_at_lift("tp_stall_1g", 0.694)
    ends = time[1:][above[:-1] & ~above[1:]]
    assert len(ends) == 5  # each of the five gusts lifts alpha past the pressing threshold
    for end in ends:
        after = (time >= end + 2.0) & (time < end + 5.0)
        assert np.isin(heard.unit["state"][after], (QUIET, CALM)).all()
    assert (heard.unit["state"] < FAULT).all()


@every_plumbing
def test_flap_20_on_the_clean_curve_is_2_degrees_late(plumbing: str) -> None:
    # The flap lowers the stall alpha from 16.0 to 14.0 deg by design of the invented aeroplane;
    # the docs warn of it. The miss is asserted so that nobody takes one curve for enough.
    late = sense("tp_stall_flap20", plumbing, CLEAN)
    own = sense("tp_stall_flap20", plumbing, FLAP20)
    (begin, stall, end), = stalls("tp_stall_flap20")
    # Where the unit believes the stall to be, against where it is.
    for heard, expected_deg in ((late, 16.0), (own, 14.0)):
        rising = (heard.truth["time_s"] > begin) & (heard.truth["time_s"] < stall + 3.0)
        believed = np.flatnonzero(rising & (heard.unit["lift_pm"] >= 1000))[0]
        # 0.3 deg: the least the references ask of a marked stall
        assert heard.truth["alpha_deg"][believed] == pytest.approx(expected_deg, abs=0.3)
    assert stall - onset(late, STALLING, begin, end) < 1.4  # it does not keep the promise


@every_plumbing
@pytest.mark.parametrize("flap_switches", [True, False])
@pytest.mark.parametrize("name", ["tp_stall_1g", "tp_stall_flap20"])
def test_with_a_curve_a_flap_setting_no_setting_is_late(
        plumbing: str, flap_switches: bool, name: str) -> None:
    # Without switches the most cautious curve serves for both.
    heard = sense(name, plumbing, CLEAN + FLAP20, flap_switches=flap_switches)
    (begin, stall, end), = stalls(name)
    assert heard.kcas(onset(heard, PRESSING, begin, end)) - heard.kcas(stall) >= 5.0
    assert stall - onset(heard, STALLING, begin, end) >= 1.4
