"""Truth flights as a real unit would sense them: 100 samples a second, 14-bit words, noise, tubes.

All of it is computed here, from published transfer functions and formulas, not by our simulator.
"""

from functools import cache

import numpy as np

from host_sim.runtimes.run import Stream, run_stream
from host_sim.runtimes.session import OUT_COLUMNS
from tests.external.truth import PHASES, Heard, Probe, calibration, load, pressures

RATE_HZ = 100
PSI_PA = 6894.757  # pound-force per square inch, exact to the digits given
# 14-bit output of type A, 10..90 % of 2^14 counts: data sheet 50099148 by way of the Linux driver
# hsc030pa (secondary source). A sensor of +-1 psi.
TYPE_A_LOW, TYPE_A_HIGH = 1638, 14746
NO_ACCELEROMETER, NO_FLAP_SWITCHES = 4, -1  # status and flap words of a sample


@cache
def at_unit_rate(name: str) -> dict[str, np.ndarray]:
    """A 50 Hz set laid on the unit's own 100 Hz, by straight lines."""
    flight = load(name)
    old = flight["time_s"]
    new = np.arange(round(old[0] * RATE_HZ), round(old[-1] * RATE_HZ) + 1) / RATE_HZ
    return {key: np.interp(new, old, values) for key, values in flight.items()}


def through_tube(pressure: np.ndarray, tau_s: float) -> np.ndarray:
    """A first-order lag (laminar tube and sensor volume), exact for values held over a step."""
    if not tau_s:
        return pressure
    share = 1 - np.exp(-1 / (RATE_HZ * tau_s))
    felt = np.empty_like(pressure)
    level = pressure[0]
    for i, value in enumerate(pressure):
        level += share * (value - level)
        felt[i] = level
    return felt


def words(pressure_pa: np.ndarray) -> np.ndarray:
    """Counts of a +-1 psi sensor of type A."""
    share = (pressure_pa + PSI_PA) / (2 * PSI_PA)
    counts = TYPE_A_LOW + share * (TYPE_A_HIGH - TYPE_A_LOW)
    return np.clip(np.rint(counts), 0, 16383).astype(np.int32)


def sensor_settings(plumbing: str) -> dict:
    """Settings of a unit with two +-1 psi sensors of type A."""
    record: dict = {"plumbing": plumbing}
    for channel in ("pitot", "angled"):
        record |= {f"{channel}_output": "hsc-a", f"{channel}_low_dpa": -68948,
                   f"{channel}_high_dpa": 68948}
    return record


@cache
def sense(name: str, plumbing: str, learned_from: tuple[str, ...], noise_pa: float = 0.0,
          tau_s: float = 0.0, flap_switches: bool = False) -> Heard:
    """Replay a set at 100 Hz through 14-bit sensors, with default settings, a calibration made by
    formula from each of the sets named, and zeros that are exactly right."""
    probe = Probe()
    flight = at_unit_rate(name)
    rng = np.random.default_rng([7, *name.encode()])
    felt = [through_tube(p, tau_s) + noise_pa * rng.standard_normal(len(p))
            for p in pressures(flight, plumbing, probe)]
    rows = np.zeros((len(flight["time_s"]), 9), np.int32)
    rows[:, 0] = np.rint((flight["time_s"] - flight["time_s"][0]) * 1000)
    rows[:, 2], rows[:, 4] = words(felt[0]), words(felt[1])
    rows[:, 5] = NO_ACCELEROMETER
    rows[:, 7] = np.rint(flight["flap"]) if flap_switches else NO_FLAP_SWITCHES
    curves = [{"flap": flap_of(source), "points": calibration(source, plumbing, probe)["points"]}
              for source in learned_from]
    out = run_stream(Stream(rows, sensor_settings(plumbing), {"curves": curves},
                            {"pitot_dpa": 0, "angled_dpa": 0}))
    return Heard(flight, dict(zip(OUT_COLUMNS, out.T, strict=True)))


def flap_of(name: str) -> int:
    """The flap setting, in degrees, that a set was flown with."""
    return int(load(name)["flap"][0])


def stalls(name: str) -> list[tuple[float, float, float]]:
    """(from_s, stall_s, to_s) of every entry in a set: from the settled start of its slowing or
    pulling to the start of what comes after its recovery."""
    facts = PHASES[name]
    phases = facts["phases"]
    spans = []
    for i, (begin, label) in enumerate(phases):
        if not label.startswith(("decel", "pull")):
            continue
        recover = next(p[0] for p in phases[i:] if p[1] == "recover")
        later = [p[0] for p in phases[i:] if p[0] > recover]
        end = later[0] if later else float(load(name)["time_s"][-1])
        stall = next(t for t in facts["stall_times_s"] if begin < t < end)
        spans.append((begin, stall, end))
    return spans


def alpha_at_lift(learned_from: str, share: float) -> float:
    """True angle of attack, deg, at which a slow set has `share` of the lift it has at its stall,
    on the way up to the stall."""
    flight, facts = load(learned_from), PHASES[learned_from]
    slow = (flight["time_s"] > facts["phases"][0][0] + 4) & (
        flight["time_s"] <= facts["stall_times_s"][0])
    alpha, cl = flight["alpha_deg"][slow], flight["cl"][slow]
    order = np.argsort(alpha)
    top = np.interp(facts["stall_alpha_deg"], alpha[order], cl[order])
    return float(np.interp(share, cl[order] / top, alpha[order]))
