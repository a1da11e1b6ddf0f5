"""Flights and candidates to begin with; a test changes what it is about."""

import numpy as np

from host_sim.tuning.candidates import candidate
from host_sim.tuning.engine.decisions import Decisions
from host_sim.tuning.fleet.flights import TuneFlight, pack
from host_sim.tuning.measuring.bench_signals import Wing
from host_sim.tuning.measuring.judged import Judged
from host_sim.tuning.measuring.reference import Reference

POINTS = [[-1250, 200], [700, 400], [2600, 694], [3600, 850], [4700, 1000]]
CURVE = {"plumbing": "port-static", "flap": 0, "points": POINTS}
SETTINGS = {"plumbing": "port-static", "sample_rate_hz": 50, "accelerometer": "lis3dh",
            **{f"{side}_{what}": value for side in ("pitot", "angled") for what, value in (
                ("output", "direct"), ("low_dpa", -100000), ("high_dpa", 100000))}}
WING = Wing(CURVE, SETTINGS, 2500.0, (5.0, 5.0))


def slowing(seconds=70, seed=1, level=0.0, name="slowing") -> TuneFlight:
    """A minute from 60 to 38 kt with a stall at lift 1.0, some noise, 50 samples a second; then
    fast again. level: more ratio on all of it, as a probe that is off would give."""
    rng = np.random.default_rng(seed)
    time_ms = np.arange(0, seconds * 1000, 20)
    lift = np.interp(time_ms, [0, 8000, 48000, 50000, 55000, seconds * 1000],
                     [0.4, 0.4, 1.02, 1.02, 0.4, 0.4]) + level
    q_dpa = 2500.0 / lift
    ratio = np.interp(1000 * lift, [p[1] for p in POINTS], [p[0] for p in POINTS]) / 1e4
    rows = np.zeros((len(time_ms), 9), np.int32)
    rows[:, 0] = time_ms
    rows[:, 2] = np.rint(q_dpa + rng.normal(0, 5, len(rows)))
    rows[:, 4] = np.rint(q_dpa * ratio + rng.normal(0, 5, len(rows)))
    rows[:, 6] = 1000
    rows[:, 7] = -1
    stall = int(time_ms[np.argmax(lift >= 1.0)])
    return TuneFlight(name, pack(rows), SETTINGS, CURVE, {"pitot_dpa": 0, "angled_dpa": 0},
                      (stall,), "the test")


def reference(seconds=60.0, stalls=(), slow=(), lift_pm=None, **masks) -> Reference:
    """100 rows a second, flying all the time; speed falls by 1 kt/s from 100 kt."""
    count = round(seconds * 100)
    found = {name: np.zeros(count, bool) for name in ("slow", "rough", "approach")}
    for first, after in slow:
        found["slow"][first:after] = True
    return Reference(np.arange(count) * 10, np.ones(count, bool), **{**found, **masks},
                     speed_kt=100.0 - np.arange(count) / 100.0, load=np.ones(count),
                     lift_pm=np.full(count, 500.0) if lift_pm is None else lift_pm,
                     every_ms=10.0, stalls=tuple(stalls))


def decisions(*changes) -> Decisions:
    """(row, state, pulse_millihz) as they come."""
    rows, state, pulse = (np.array(column) for column in zip(*changes, strict=True))
    return Decisions(rows, state, np.zeros(len(rows), int), pulse, np.zeros(len(rows), int))


def seen(lead_s=5.0, margin_kt=8.0, nuisance=0, hours=1.0, gusts=0, fault_s=0.0,
         warble_s=1.0) -> dict:
    """One flight with one stall, as JSON holds it; lead_s None: a miss."""
    missed = lead_s is None
    return {"stalls": [{"lead_s": lead_s, "lead_kt": None if missed else 2 * lead_s,
                        "margin_kt": None if missed else margin_kt,
                        "margin_share": None if missed else margin_kt / 50,
                        "warble_s": None if missed else warble_s,
                        "pulses": None if missed else 9.0}],
            "nuisance": nuisance, "hours": hours, "gust_changes": gusts, "gust_minutes": 1.0,
            "calm_changes": 0, "calm_minutes": 1.0, "overstay_s": 0.0, "warnings": 1,
            "fault_s": fault_s}


def judged(delay_s=0.03, noise_pm=2.0, flights=None, **values) -> Judged:
    """A candidate with numbers that were made up."""
    return Judged(candidate(values), (delay_s,) * 3, (noise_pm,) * 3,
                  tuple(flights or (seen(),)))
