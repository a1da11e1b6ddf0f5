"""Case H1 for any input: how often a band may change, how late it may begin, and what must not
change it at all.

The bound, derived: a band ends only after its release time below its end, so two ends lie at least
so far apart; between two ends a band can begin once. In 10 s that makes ceil(10 000 / release_ms)
ends of one band and one beginning more: 41 changes at release_ms 500, 11 at calm_release_ms 2000.
"""

from math import pi, sin
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from alula.cues import Cues
from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING
from tests.both.core_rig import CRUISE_DPA, Rig, airborne, angled_for, settings_with
from tests.both.test_core_chatter import (
    FINE_DPA,
    LIMIT_PM,
    PLUMBINGS,
    PSI_DPA,
    WIDE_DPA,
    steps_changes,
)
from tests.both.test_core_chatter import Rig as RawRig

BANDS = st.sampled_from([CALM, PRESSING, STALLING])
TICKS_MS = st.sampled_from([5, 8, 10, 20])
LEVELS = st.lists(st.tuples(st.integers(0, 1500), st.integers(1, 120)), min_size=1, max_size=40)
WINDOW_MS = 200  # settings.window_ms


def changes(found) -> int:
    return sum(1 for a, b in zip(found, found[1:], strict=False) if a != b)


def bands(cues: Cues, levels, tick_ms: int, resolution_pm: int = 0) -> list[tuple[int, int]]:
    """(lift, band) at each tick."""
    found = []
    for lift_pm, ticks in levels:
        for _ in range(ticks):
            cues.step(tick_ms, lift_pm, resolution_pm, True)
            found.append((lift_pm, cues.band))
    return found


@given(LEVELS, TICKS_MS, st.integers(50, 2000), st.integers(50, 10000))
def test_h1_two_ends_of_a_band_lie_a_release_time_apart(levels, tick_ms, release, calm_release):
    cues = Cues(settings_with(release_ms=release, calm_release_ms=calm_release))
    found = [band for _, band in bands(cues, levels, tick_ms)]
    ends = [(at, found[at - 1]) for at in range(1, len(found)) if found[at] < found[at - 1]]
    for (at, _), (later, band) in zip(ends, ends[1:], strict=False):
        assert (later - at) * tick_ms >= (calm_release if band == CALM else release)
    for band in (CALM, PRESSING, STALLING):
        above = [one >= band for one in found]
        least = min(release, calm_release) if band == CALM else release
        turns = [at * tick_ms for at in range(1, len(above)) if above[at] != above[at - 1]]
        for begin in turns:
            within = sum(1 for turn in turns if begin <= turn < begin + 10000)
            assert within <= 2 * -(-10000 // least) + 1


@given(LEVELS, TICKS_MS, st.integers(0, 60))
def test_h1_a_band_begins_in_the_tick_that_reaches_it_whatever_went_before(
        levels, tick_ms, resolution):
    """Early is better than quiet: hysteresis and release hold up the end only."""
    for lift_pm, band in bands(Cues(settings_with()), levels, tick_ms, resolution):
        assert band >= sum(1 for limit in LIMIT_PM[1:] if lift_pm >= limit)


@given(BANDS, st.lists(st.integers(-1000, 1000), min_size=1, max_size=300), st.integers(5, 100),
       st.integers(0, 60))
def test_h1_nothing_inside_the_hysteresis_or_two_steps_ends_a_band(
        band, walk, hysteresis, resolution):
    cues = Cues(settings_with(hysteresis_pm=hysteresis, release_ms=0, calm_release_ms=0))
    slack = max(hysteresis, 2 * resolution)
    start = LIMIT_PM[band]
    top = (LIMIT_PM + (1501,))[band + 1] - 1 - start
    lifts = [start] + [start + (part * slack if part < 0 else part * min(slack, top)) // 1000
                       for part in walk]
    assert {one for _, one in bands(cues, [(lift, 1) for lift in lifts], 10, resolution)} == {band}


@settings(max_examples=40)
@given(BANDS, st.floats(0.2, 5.0), st.floats(0.0, 2 * pi), st.sampled_from([-1, 1]),
       st.floats(0.0, 0.005))
def test_h1_half_a_percent_of_sine_changes_the_state_once_at_most(band, hz, phase, side, share):
    """0.2 to 5 Hz, at the limit, reached from below and from above, through the whole unit."""
    limit = LIMIT_PM[band]
    rig = airborne(limit - 30 * side, 1500)
    begin = len(rig.heard) - 1
    for at in range(1200):
        lift = limit * (1 + share * sin(2 * pi * hz * at / 100 + phase))
        rig.feel(CRUISE_DPA, round((lift - 200) / 1000 * CRUISE_DPA))
    found = [row[1] for row in rig.heard[begin:]]
    assert changes(found) <= 1 and found[-1] in (band - 1, band)


@settings(max_examples=25)
@given(BANDS, st.integers(0, 1 << 30), st.sampled_from([-1, 1]))
def test_h1_half_a_percent_of_white_noise_changes_the_state_once_at_most(band, seed, side):
    """On both pressures, independent; 0.5 % rms."""
    dice = Random(seed)
    limit = LIMIT_PM[band]
    rig = airborne(limit - 30 * side, 1500)
    begin = len(rig.heard) - 1
    sigma = CRUISE_DPA * 0.005
    for _ in range(1200):
        rig.feel(CRUISE_DPA + round(dice.gauss(0, sigma)),
                 angled_for(limit, CRUISE_DPA) + round(dice.gauss(0, sigma)))
    assert changes([row[1] for row in rig.heard[begin:]]) <= 1


@settings(max_examples=40)
@given(BANDS, st.floats(10, 1500), st.integers(660, 30000))
def test_h1_a_ramp_through_a_limit_is_heard_within_the_window(band, per_s, q_dpa):
    limit = LIMIT_PM[band]
    q_dpa = max(q_dpa, 1400)
    rig = Rig()
    rig.fly(limit - 60, 1500, q_dpa)
    begin = len(rig.heard)
    while rig.unit.state < band:
        lift = limit - 60 + per_s * (len(rig.heard) - begin) / 100
        rig.feel(q_dpa, round((lift - 200) / 1000 * q_dpa))
        passed_s = (lift - limit - 10000 // q_dpa) / per_s  # a pressure is whole tenths of a Pa
        assert passed_s <= WINDOW_MS / 1000, (lift, rig.unit.lift_pm)
    # a ramp upwards passes each state once
    found = [row[1] for row in rig.heard[begin:]]
    assert found == sorted(found) and FAULT not in found


DWELLS = st.lists(st.integers(1, 400), min_size=2, max_size=30)


@settings(max_examples=60)
@given(BANDS, st.sampled_from(PLUMBINGS), st.sampled_from([PSI_DPA, WIDE_DPA, FINE_DPA]),
       st.sampled_from([PSI_DPA, WIDE_DPA, FINE_DPA]), st.integers(700, 3000),
       st.sampled_from([5, 20]), st.integers(-20, 20), DWELLS, DWELLS)
def test_h1_one_code_step_of_either_sensor_cannot_chatter(
        band, plumbing, pitot_half, angled_half, q_dpa, hysteresis, off, pitot_dwells,
        angled_dwells):
    """However long each word stays, at 21 to 43 kt; the approach makes two changes at most."""
    rig = RawRig(plumbing, pitot_half, angled_half, hysteresis_pm=hysteresis)
    begin_pm = LIMIT_PM[band] - 60
    rig.fly(begin_pm, 1000, 3000)
    rig.fly(begin_pm, 3000, lambda at: 3000 + (q_dpa - 3000) * at // 3000)

    def toggles(dwells):
        found = []
        for i, ticks in enumerate(dwells):
            found += [i & 1] * ticks
        return found

    pitot, angled = toggles(pitot_dwells), toggles(angled_dwells)
    found = steps_changes(rig, LIMIT_PM[band] + off, q_dpa,
                          lambda i, dice: (pitot[i % len(pitot)], angled[i % len(angled)]), 15000)
    assert found <= 2


@settings(max_examples=60)
@given(st.lists(st.tuples(st.integers(-400, 6000), st.integers(1, 150)), min_size=1, max_size=25))
def test_h1_the_phase_of_flight_changes_seldom_and_on_the_ground_no_margin_sounds(steps):
    """flying_ms 500 above flying_q to begin: 41 changes in 10 s at most, by the same count."""
    rig = Rig()
    rig.feel(0, 0, 1000)
    flying = []
    for q_dpa, ticks in steps:
        for _ in range(ticks):
            rig.feel(q_dpa, 15 * q_dpa // 100)
            flying.append(rig.unit.phase.flying)
            if not flying[-1]:
                assert rig.unit.state in (QUIET, FAULT)
    turns = [at * 10 for at in range(1, len(flying)) if flying[at] != flying[at - 1]]
    for begin in turns:
        assert sum(1 for turn in turns if begin <= turn < begin + 10000) <= 41
