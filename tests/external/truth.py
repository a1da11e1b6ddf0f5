"""Independent flights (see data/README.md) felt through a probe computed here, in the tests' own
code: one slip in our simulator cannot hide on both sides.

Probe formulas: sphere in potential flow, Cp = 1 - k sin^2(theta), with k = 9/4 in theory
(textbook); cos(theta) = cos(beta) cos(phi - alpha).
"""

import gzip
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from host_sim.runtimes.run import Stream, run_stream
from host_sim.runtimes.session import OUT_COLUMNS

DATA = Path(__file__).parent / "data"
PHASES = json.loads((DATA / "phases.json").read_text())
SHARES = (0.25, 0.4, 0.55, 0.694, 0.8, 0.9, 0.96, 1.0)
PLUMBINGS = ("port-static", "pitot-port", "opposed")
P0_PA, A0_KT = 101325.0, 661.4786  # ISA sea level: ICAO Doc 7488


@cache
def load(name: str) -> dict[str, np.ndarray]:
    """Columns of one set."""
    with gzip.open(DATA / f"{name}.csv.gz", "rt") as file:
        header = file.readline().strip().split(",")
        values = np.loadtxt(file, delimiter=",")
    return dict(zip(header, values.T, strict=True))


@dataclass(frozen=True)
class Probe:
    """Port angle below the axis in degrees, strength k of the head."""

    phi_deg: float = 45.0
    k: float = 2.25

    def port(self, alpha_deg, beta_deg, phi_deg):
        """Pressure coefficient of a port, referred to dynamic pressure."""
        cosine = np.cos(np.radians(beta_deg)) * np.cos(np.radians(phi_deg - alpha_deg))
        return 1 - self.k * (1 - cosine ** 2)

    def ratio(self, plumbing: str, alpha_deg, beta_deg=0.0):
        """What the unit's pressure ratio should be."""
        lower = self.port(alpha_deg, beta_deg, self.phi_deg)
        if plumbing == "opposed":
            return lower - self.port(alpha_deg, beta_deg, -self.phi_deg)
        return lower


def impact_pa(kcas):
    """Impact pressure of a calibrated airspeed: qc = p0 [(1 + 0.2 (V/a0)^2)^3.5 - 1]."""
    return P0_PA * ((1 + 0.2 * (kcas / A0_KT) ** 2) ** 3.5 - 1)


def pressures(flight: dict[str, np.ndarray], plumbing: str, probe: Probe):
    """(pitot_pa, angled_pa) as the sensors would feel them, without lag or noise."""
    pitot = impact_pa(flight["kcas"])
    port = probe.ratio(plumbing, flight["alpha_deg"], flight["beta_deg"]) * flight["qbar_pa"]
    return pitot, pitot - port if plumbing == "pitot-port" else port


def calibration(name: str, plumbing: str, probe: Probe) -> dict:
    """A calibration from the formula: the true lift curve of a slow set, the true stall angle."""
    flight, facts = load(name), PHASES[name]
    slow = (flight["time_s"] > facts["phases"][0][0] + 4) & (
        flight["time_s"] <= facts["stall_times_s"][0])
    alpha, cl = flight["alpha_deg"][slow], flight["cl"][slow]
    order = np.argsort(alpha)
    stall = facts["stall_alpha_deg"]
    lift = cl[order] / np.interp(stall, alpha[order], cl[order])
    # The settled part has no low lift: carry its straight line on downwards (Cl linear in alpha).
    slope, offset = np.polyfit(alpha[order][:200], lift[:200], 1)
    points = []
    for share in SHARES:
        at = stall if share == 1 else float(np.interp(share, lift, alpha[order]))
        if share < lift[0]:
            at = (share - offset) / slope
        points.append([round(10000 * float(probe.ratio(plumbing, at))), round(1000 * share)])
    return {"plumbing": plumbing, "points": points}


def stream(pitot, angled, time_s, plumbing: str, record: dict | None, **settings) -> Stream:
    """Pressures in Pa as a stream of 0.1 Pa words."""
    rows = np.zeros((len(time_s), 9), np.int32)
    rows[:, 0] = np.rint((time_s - time_s[0]) * 1000)
    rows[:, 2], rows[:, 4] = np.rint(pitot * 10), np.rint(angled * 10)
    rows[:, 5] = 4  # no accelerometer
    base = {"plumbing": plumbing, **settings}
    for channel in ("pitot", "angled"):
        base |= {f"{channel}_output": "direct", f"{channel}_low_dpa": -100000,
                 f"{channel}_high_dpa": 100000}
    return Stream(rows, base, record, {"pitot_dpa": 0, "angled_dpa": 0})


@dataclass(frozen=True)
class Heard:
    """A replay: the unit's columns by name, beside the truth of the same rows."""

    truth: dict[str, np.ndarray]
    unit: dict[str, np.ndarray]

    def first(self, state: int, from_s: float, to_s: float) -> float | None:
        """When the unit first said `state` or more (warnings only) in a span, s."""
        time = self.truth["time_s"]
        warned = (self.unit["state"] >= state) & (self.unit["state"] <= 3)
        at = np.flatnonzero(warned & (time >= from_s) & (time <= to_s))
        return float(time[at[0]]) if len(at) else None

    def kcas(self, at_s: float) -> float:
        """True calibrated airspeed at a time."""
        return float(np.interp(at_s, self.truth["time_s"], self.truth["kcas"]))


def hear(name: str, plumbing: str = "port-static", probe: Probe | None = None,
         learned_from: str = "tp_stall_1g", noise_pa: float = 0.0, **settings) -> Heard:
    """Replay a set with a calibration made by formula from another."""
    probe = probe or Probe()
    flight = load(name)
    pitot, angled = pressures(flight, plumbing, probe)
    if noise_pa:
        rng = np.random.default_rng(5)
        pitot = pitot + noise_pa * rng.standard_normal(len(pitot))
        angled = angled + noise_pa * rng.standard_normal(len(angled))
    out = run_stream(stream(pitot, angled, flight["time_s"], plumbing,
                            calibration(learned_from, plumbing, probe), **settings))
    return Heard(flight, dict(zip(OUT_COLUMNS, out.T, strict=True)))
