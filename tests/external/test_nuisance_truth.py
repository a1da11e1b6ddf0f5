"""Cases H10, A4: independent flights, felt through a probe computed here: no pressing and no
stalling but where the wing's true angle of attack calls for it, and never a fault. Both by the
hour and by the phase.

Limits: 14 CFR 23.207(d) (2015): no warning in normal flight; the lift share at which pressing
begins is the project's own, 0.694 of the lift at the stall (1.20 Vs). The truth is the flights'
own alpha, against the alpha at which the same wing has that share (`alpha_at_lift`).
"""

import tempfile
from collections import Counter
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from host_sim.runtimes.paths import use_firmware
from tests.external import jsbsim_plane
from tests.external.sensed import RATE_HZ, alpha_at_lift, at_unit_rate, sensor_settings, words
from tests.external.truth import PHASES, PLUMBINGS, Probe, calibration, pressures

use_firmware()

from alula.health import WORDS
from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING
from host_sim.runtimes.run import Stream, run_stream
from host_sim.runtimes.session import OUT_COLUMNS

CLEAN = "tp_stall_1g"
SEEDS = (11, 12, 13)
WINDOW = round(0.2 * RATE_HZ)  # settings.window_ms
LATE = round(0.3 * RATE_HZ)  # the window and a tenth of a second
AFTER = LATE + round(0.5 * RATE_HZ)  # settings.release_ms
HYSTERESIS = 0.020  # settings.hysteresis_pm
KNOWN_DEG = 0.15  # 1 Pa of noise on 300 Pa, smoothed: 0.08 deg; a curve of eight straight pieces
NO_ACCELEROMETER, NO_FLAP_SWITCHES = 4, -1


def learned_on(name: str) -> str:
    """The set whose stall is this wing's and this flap setting's."""
    if name.startswith("hw"):
        return "hw_stall_1g"
    return "tp_stall_flap20" if "flap20" in name else CLEAN


def decisions(flight: dict[str, np.ndarray], plumbing: str, learned: str,
              seed: int) -> dict[str, np.ndarray]:
    """The unit's columns over a flight at RATE_HZ, from noisy 14-bit words."""
    probe, rng = Probe(), np.random.default_rng(seed)
    felt = [p + rng.standard_normal(len(p)) for p in pressures(flight, plumbing, probe)]
    rows = np.zeros((len(felt[0]), 9), np.int32)
    rows[:, 0] = np.arange(len(rows)) * (1000 // RATE_HZ)
    rows[:, 2], rows[:, 4] = words(felt[0]), words(felt[1])
    rows[:, 5], rows[:, 7] = NO_ACCELEROMETER, NO_FLAP_SWITCHES
    out = run_stream(Stream(rows, sensor_settings(plumbing),
                            calibration(learned, plumbing, probe),
                            {"pitot_dpa": 0, "angled_dpa": 0}))
    return dict(zip(OUT_COLUMNS, out.T, strict=True))


def felt_deg(alpha_deg: np.ndarray) -> np.ndarray:
    """Alpha, or the straight line through 0.2 s up to the tick before, read now, by which the unit
    looks ahead (least squares, numpy.polyfit): the larger of the two."""
    shares = np.array([np.polyval(np.polyfit(np.arange(WINDOW), unit, 1), WINDOW)
                       for unit in np.eye(WINDOW)])
    before = np.concatenate([np.full(WINDOW, alpha_deg[0]), alpha_deg])[:-1]
    line = np.lib.stride_tricks.sliding_window_view(before, WINDOW) @ shares
    return np.maximum(alpha_deg, line) + KNOWN_DEG


def most_of_late(values: np.ndarray, rows: int) -> np.ndarray:
    """The most there was in the last so many ticks, at each tick."""
    padded = np.concatenate([np.full(rows, -90.0), values])
    return np.lib.stride_tricks.sliding_window_view(padded, rows + 1).max(axis=1)


def uncalled_for(alpha_deg: np.ndarray, said: np.ndarray, learned: str,
                 share: float) -> np.ndarray:
    """Ticks at which a warning begins, or still goes on, without alpha at its limit before."""
    felt = felt_deg(alpha_deg)
    begins = said & ~np.concatenate([[False], said[:-1]])
    early = begins & (most_of_late(felt, LATE) < alpha_at_lift(learned, share))
    long = said & (most_of_late(felt, AFTER) < alpha_at_lift(learned, share - HYSTERESIS))
    return np.flatnonzero(early | long)


def table(unit: dict[str, np.ndarray], labels: list[str]) -> str:
    """Sounds by phase and an hour."""
    hours = len(labels) / RATE_HZ / 3600
    lines = []
    for state, word in ((PRESSING, "pressing"), (STALLING, "stalling"), (FAULT, "fault")):
        said = unit["state"] == state
        begun = np.flatnonzero(said[1:] & ~said[:-1]) + 1
        found = Counter(labels[at] for at in begun.tolist())
        lines.append(f"{word:<9}{sum(found.values()) / hours:7.1f} an hour  {dict(found)}")
    faults = {WORDS[code] for code in unit["health"][unit["state"] == FAULT]}
    return "\n".join([*lines, f"fault words {sorted(faults)}"])


def phase_labels(name: str) -> list[str]:
    """The label of every tick of a set."""
    time, phases = at_unit_rate(name)["time_s"], PHASES[name]["phases"]
    at = np.searchsorted([begin for begin, _ in phases], time, side="right") - 1
    return [phases[max(i, 0)][1] for i in at.tolist()]


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_h10_ordinary_flight_is_silent_whatever_the_noise(plumbing: str):
    flight = at_unit_rate("tp_ordinary")
    assert flight["alpha_deg"].max() < alpha_at_lift(CLEAN, 0.51)  # not even calm, by the truth
    for seed in SEEDS:
        unit = decisions(flight, plumbing, CLEAN, seed)
        assert set(unit["state"]) == {QUIET}, table(unit, phase_labels("tp_ordinary"))


@pytest.mark.parametrize("plumbing", PLUMBINGS)
@pytest.mark.parametrize("name", sorted(PHASES))
def test_h10_no_set_warns_where_the_truth_does_not(name: str, plumbing: str):
    """Gusts, turns, pull-ups, stalls and their recoveries: before and after it is silent."""
    flight, learned = at_unit_rate(name), learned_on(name)
    for seed in SEEDS:
        unit = decisions(flight, plumbing, learned, seed)
        state = unit["state"]
        for least, share in ((PRESSING, 0.694), (STALLING, 0.907)):
            wrong = uncalled_for(flight["alpha_deg"], state >= least, learned, share)
            assert not wrong.size, (least, wrong / RATE_HZ, table(unit, phase_labels(name)))
        assert (state < FAULT).all(), table(unit, phase_labels(name))


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_h10_gusts_leave_nothing_latched(plumbing: str):
    flight = at_unit_rate("tp_gusts")
    last = np.flatnonzero(flight["alpha_deg"] > alpha_at_lift(CLEAN, 0.694))[-1]
    unit = decisions(flight, plumbing, CLEAN, SEEDS[0])
    assert (unit["state"][last + AFTER:] <= CALM).all(), table(unit, phase_labels("tp_gusts"))


@cache
def bumpy_minutes(seed: int) -> dict[str, np.ndarray]:
    """Four minutes of live level flight at 1.8 Vs in the library's own Dryden turbulence."""
    asked = jsbsim_plane.Flight(severity=jsbsim_plane.LIGHT + 1, seed=seed)
    rows, thrust_lb, alpha = [], 150.0, 4.5
    with tempfile.TemporaryDirectory() as root:
        plane, pilot = jsbsim_plane._start(asked, Path(root)), jsbsim_plane._Pilot()
        wanted_kt = 1.2 * plane["velocities/vc-kts"]  # it starts at 1.5 Vs
        while plane["simulation/sim-time-sec"] < 270.0:
            alpha, thrust_lb = jsbsim_plane._command(
                plane, asked, alpha, thrust_lb, wanted_kt, None)
            plane["external_reactions/prop/magnitude"] = thrust_lb
            pilot.step(plane, alpha, 0.0)
            plane.run()
            rows.append(jsbsim_plane._row(plane))
    columns = dict(zip(jsbsim_plane.COLUMNS, np.array(rows).T, strict=True))
    kept = columns["time_s"] > 30.0  # until it has the speed
    return {name: values[kept] for name, values in columns.items()}


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_h10_a_live_bumpy_cruise_never_presses(plumbing: str):
    for seed in (1, 2):
        flight = bumpy_minutes(seed)
        alpha = flight["alpha_deg"]
        assert np.ptp(flight["nz_g"]) > 0.8  # it is bumpy
        assert alpha.max() < alpha_at_lift(CLEAN, 0.694)  # and the wing has enough left
        unit = decisions(flight, plumbing, CLEAN, seed)
        assert (unit["state"] <= CALM).all(), table(unit, ["cruise"] * len(alpha))
