"""Each measure on decisions made by hand, with the answer worked out by hand."""

import numpy as np
import pytest

from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING
from host_sim.tuning.measuring.measures import entry_rate_kt_s, see
from host_sim.tuning.measuring.reference import centred_mean, widened
from tests.tuning.made import decisions, reference

STALL = 4000  # 40 s: 60 kt


def test_lead_margin_and_pulses_of_a_stall_that_is_warned_of():
    """Pressing from 52 kt over the stall's 40... here: onset at 34 s (66 kt), warble at 38 s,
    stall at 40 s (60 kt): 6 s, 6 kt, 10 %; 3 s at 2 Hz and 1 s at 4 Hz are 10 pulses."""
    found = see(reference(stalls=[STALL]), decisions(
        (0, QUIET, 0), (3000, CALM, 1000), (3400, PRESSING, 2000), (3700, PRESSING, 4000),
        (3800, STALLING, 8000), (4200, QUIET, 0)))
    (stall,) = found.stalls
    assert found.misses == 0
    assert (stall.lead_s, stall.warble_s) == (6.0, 2.0)
    assert stall.lead_kt == pytest.approx(6.0)
    assert stall.margin_kt == pytest.approx(6.0)
    assert stall.margin_share == pytest.approx(0.10)
    assert stall.pulses == pytest.approx(3 * 2 + 1 * 4)


def test_a_warning_that_had_a_break_counts_from_the_break():
    found = see(reference(stalls=[STALL]), decisions(
        (0, QUIET, 0), (3000, PRESSING, 2000), (3500, CALM, 0), (3600, PRESSING, 2000)))
    assert found.stalls[0].lead_s == 4.0


@pytest.mark.parametrize("state", [QUIET, CALM, FAULT])
def test_a_stall_without_a_warning_is_a_miss(state):
    """A fault sound says that the unit does not know; it is no stall warning."""
    found = see(reference(stalls=[STALL]), decisions((0, QUIET, 0), (3000, PRESSING, 2000),
                                                     (3990, state, 0)))
    assert found.misses == 1
    assert found.stalls[0].lead_s is None


def test_margin_is_scaled_to_the_load_factor_of_the_onset():
    """At onset 66 kt and 1.21 g, at the stall 60 kt and 1 g: with 1.21 g it would stall at
    60 x 1.1 = 66 kt, so nothing is left."""
    flown = reference(stalls=[STALL])
    flown.load[:3500] = 1.21
    found = see(flown, decisions((0, QUIET, 0), (3400, PRESSING, 2000)))
    assert found.stalls[0].margin_kt == pytest.approx(0.0, abs=1e-9)
    assert found.stalls[0].lead_kt == pytest.approx(6.0)


def test_a_fast_entry_has_no_margin_to_judge():
    """14 CFR 23.201(b): 1 kt/s; a capture takes up to 1.4."""
    flown = reference(stalls=[STALL])
    assert entry_rate_kt_s(flown, STALL) == pytest.approx(1.0)
    flown.speed_kt[:] = 100.0 - np.arange(6000) * 0.015
    assert entry_rate_kt_s(flown, STALL) == pytest.approx(1.5)
    found = see(flown, decisions((0, QUIET, 0), (3400, PRESSING, 2000)))
    assert found.stalls[0].lead_s == 6.0
    assert found.stalls[0].margin_kt is None


def test_nuisance_is_what_begins_outside_slow_flight():
    """Two beginnings in a minute, one of them in slow flight; from pressing to stalling is no
    new beginning."""
    found = see(reference(slow=[(2900, 3500)]), decisions(
        (0, QUIET, 0), (1000, PRESSING, 2000), (1100, STALLING, 8000), (1200, CALM, 0),
        (3000, PRESSING, 2000), (3100, QUIET, 0)))
    assert found.nuisance == 1
    assert found.hours == pytest.approx(1 / 60)


def test_changes_in_gusts_and_of_the_calm_band():
    masks = {name: np.zeros(6000, bool) for name in ("rough", "approach")}
    masks["rough"][1000:4000] = True
    masks["approach"][2000:5000] = True
    found = see(reference(**masks), decisions(
        (0, QUIET, 0), (500, CALM, 0), (1500, QUIET, 0), (2500, CALM, 0), (3000, PRESSING, 2000),
        (3050, PRESSING, 2100), (3500, CALM, 0), (4500, QUIET, 0), (5500, CALM, 0)))
    assert (found.gust_changes, found.gust_minutes) == (4, pytest.approx(0.5))
    assert (found.calm_changes, found.calm_minutes) == (2, pytest.approx(0.5))


def test_time_in_fault_counts_in_flight_only():
    flown = reference()
    flown.flying[:2000] = False
    found = see(flown, decisions((0, FAULT, 0), (3000, QUIET, 0), (5000, FAULT, 0)))
    assert found.fault_s == pytest.approx(10.0 + 10.0)


def test_centred_mean_has_no_delay_and_passes_gaps_over():
    ramp = np.arange(100.0)
    assert centred_mean(ramp, 20)[10:90] == pytest.approx(ramp[10:90])
    ramp[40:60] = np.nan
    assert np.isnan(centred_mean(ramp, 10)[50])
    assert centred_mean(ramp, 60)[50] == pytest.approx(np.nanmean(ramp[20:81]))


def test_widened_reaches_both_ways():
    mask = np.zeros(20, bool)
    mask[10] = True
    assert np.flatnonzero(widened(mask, 2)).tolist() == [8, 9, 10, 11, 12]
    assert not widened(np.zeros(5, bool), 3).any()


def test_overstay_runs_from_the_last_cause_to_the_end_of_the_sound():
    """The lift is at 0.70 from 10 s to 12 s; pressing from 10 s to 13.5 s outlasts it by 1.51 s
    (the last tick of the cause is at 11.99 s). A burst at 20 s of 0.4 s had no cause at all. One
    that the data cut off counts for nothing."""
    lift = np.full(6000, 500.0)
    lift[1000:1200] = 700.0
    found = see(reference(lift_pm=lift), decisions(
        (0, QUIET, 0), (1000, PRESSING, 2000), (1100, STALLING, 8000), (1350, CALM, 0),
        (2000, PRESSING, 2000), (2040, QUIET, 0), (5900, PRESSING, 2000)))
    assert found.warnings == 2
    assert found.overstay_s == pytest.approx(1.51 + 0.4)


def test_a_warning_that_a_fault_ends_does_not_overstay():
    found = see(reference(), decisions((0, QUIET, 0), (1000, PRESSING, 2000), (1350, FAULT, 0)))
    assert (found.warnings, found.overstay_s) == (0, 0.0)
