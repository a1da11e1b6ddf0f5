"""The three plumbings with the same faults, in lift share and knots.

The invented Lark 2 slows down at 1 g. Its pressures come from `host_sim.world`, faults of hoses
from `world.line_faults`, and the ratio from the firmware's own `ratio_bp`. A healthy run gives
the curve from ratio to lift; each fault is then read through that curve, as the unit would.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from host_sim.runtimes.paths import use_firmware
from host_sim.world.airframe import Airframe, lift_coefficient
from host_sim.world.atmosphere import MS_PER_KT, PRESSURE_SEA_PA, impact_from_cas_pa
from host_sim.world.flight import differences
from host_sim.world.line_faults import LinePressures, When, leaking, off
from host_sim.world.probe import PLUMBINGS, Probe, port_coefficient, port_in_wake

use_firmware()

from alula.pressure_ratio import ratio_bp  # noqa: E402

STALLING = 0.907  # default of the settings table: 1.05 Vs
LIMIT_DPA = 100_000
MIN_Q_PA = 65.0  # min_q_dpa: below it the unit judges no ratio
_FROM_DEG, _STEP_DEG = 2.0, 0.01
_PAST_DEG = 4.0  # the curve is known a little past the stall, too
_LEAK_TENTH_S = 5.0 / 3.0  # `leaking` opens to 0.3 in 5 s: a tenth is reached after this
LIFT_LEAST, LIFT_MOST = 0.0, 1.5
Change = Callable[[LinePressures], None]


@dataclass(frozen=True)
class Slowdown:
    """One slow-down at 1 g: arrays over angle of attack, rising to a little past the stall."""

    alpha_deg: np.ndarray
    lift: np.ndarray
    speed_kt: np.ndarray
    stall_kt: float
    impact_pa: np.ndarray


def slow_down(frame: Airframe | None = None) -> Slowdown:
    """Angle by angle. Past the stall lift goes on rising on paper: the order is what counts."""
    frame = frame or Airframe()
    shape = frame.shape_at(0.0)
    alpha = np.arange(_FROM_DEG, shape.stall_deg + _PAST_DEG, _STEP_DEG)
    cl = np.array([lift_coefficient(shape, min(a, shape.stall_deg)) for a in alpha.tolist()])
    lift = cl / shape.cl_max
    past = np.maximum(alpha - shape.stall_deg, 0.0)
    stall_kt = frame.stall_speed_kt()
    speed_kt = stall_kt / np.sqrt(lift)
    return Slowdown(alpha, lift + 0.02 * past, speed_kt, stall_kt,
                    impact_from_cas_pa(speed_kt * MS_PER_KT))


def line_pressures(run: Slowdown, probe: Probe, beta_deg: float = 0.0) -> LinePressures:
    """Absolute pressure in each line, Pa, at sea level."""
    beta = np.full(len(run.alpha_deg), beta_deg)

    def port(angle_deg: float) -> np.ndarray:
        ideal = port_coefficient(probe, angle_deg, run.alpha_deg, beta)
        return PRESSURE_SEA_PA + port_in_wake(ideal, beta) * run.impact_pa

    return {"pitot": PRESSURE_SEA_PA + run.impact_pa,
            "static": PRESSURE_SEA_PA + probe.static_error * run.impact_pa,
            "port": port(probe.angle_deg), "other": port(-probe.angle_deg)}


def ratios(plumbing: str, lines: LinePressures, zero_pa: tuple[float, float]) -> np.ndarray:
    """The firmware's ratio, 1/10 000; zero_pa is added to the pitot and the angled sensor."""
    pitot_pa, angled_pa = differences(plumbing, lines)
    kind = PLUMBINGS.index(plumbing)

    def words(pressure_pa: np.ndarray, error_pa: float) -> list[int]:
        dpa = np.rint(10.0 * (pressure_pa + error_pa))
        return np.clip(dpa, -LIMIT_DPA, LIMIT_DPA).astype(int).tolist()

    pairs = zip(words(pitot_pa, zero_pa[0]), words(angled_pa, zero_pa[1]), strict=True)
    return np.array([ratio_bp(kind, max(pitot, 1), angled) for pitot, angled in pairs])


@dataclass(frozen=True)
class Fault:
    """Something that is wrong with everything else as calibrated."""

    text: str
    change: Change | None = None
    beta_deg: float = 0.0
    static_error: float = 0.0
    zero_pa: tuple[float, float] = (0.0, 0.0)


def _at_once(kind: Callable, elapsed_s: float = 1e3) -> Change:
    def change(lines: LinePressures) -> None:
        count = len(lines["static"])
        kind(lines, When(slice(0, count), np.full(count, elapsed_s)), np.random.default_rng(0))
    return change


def _leak(name: str) -> Change:
    return _at_once(leaking(name), _LEAK_TENTH_S)


FAULTS = (
    Fault("nothing"),
    Fault("static reads 5 % of q too high", static_error=0.05),
    Fault("static reads 5 % of q too low", static_error=-0.05),
    Fault("a tenth of the angled line leaks into the cabin", _leak("port")),
    Fault("a tenth of the pitot line leaks into the cabin", _leak("pitot")),
    Fault("slip of 10 degrees", beta_deg=10.0),
    Fault("slip of 17 degrees", beta_deg=17.0),
    Fault("angled sensor 10 Pa too high", zero_pa=(0.0, 10.0)),
    Fault("angled sensor 10 Pa too low", zero_pa=(0.0, -10.0)),
    Fault("pitot sensor 10 Pa too high", zero_pa=(10.0, 0.0)),
    Fault("angled (lower) line off", _at_once(off("port"))),
    Fault("upper line off", _at_once(off("other"))),
    Fault("pitot line off", _at_once(off("pitot"))),
    Fault("static line off", _at_once(off("static"))),
)
HAS_NO_UPPER = ("port-static", "pitot-port")


@dataclass(frozen=True)
class Reading:
    """What the unit makes of a fault.

    shown: lift share shown where the true one is STALLING. begins_kt: true airspeed margin
    over the stall, kt, at which the stalling sound begins in the slow-down; None if it does not
    begin before the stall; infinite if it sounds already at 1.3 Vs. judged: false where the
    unit forms no ratio, because there is too little dynamic pressure.
    """

    shown: float
    begins_kt: float | None
    judged: bool = True


def _through_curve(ratio: np.ndarray, healthy: np.ndarray, lift: np.ndarray) -> np.ndarray:
    """Lift for each ratio on the healthy curve; straight on past its ends, clamped."""
    low = (lift[100] - lift[0]) / (healthy[100] - healthy[0])
    high = (lift[-1] - lift[-101]) / (healthy[-1] - healthy[-101])
    shown = np.interp(ratio, healthy, lift)
    shown = np.where(ratio < healthy[0], lift[0] + low * (ratio - healthy[0]), shown)
    shown = np.where(ratio > healthy[-1], lift[-1] + high * (ratio - healthy[-1]), shown)
    return np.clip(shown, LIFT_LEAST, LIFT_MOST)


def read(fault: Fault, plumbing: str, run: Slowdown | None = None) -> Reading:
    """One fault in one plumbing."""
    run = run or slow_down()
    healthy = ratios(plumbing, line_pressures(run, Probe()), (0.0, 0.0))
    lines = line_pressures(run, Probe(static_error=fault.static_error), fault.beta_deg)
    if fault.change:
        fault.change(lines)
    if (lines["pitot"] - lines["static"]).max() < MIN_Q_PA:
        return Reading(0.0, None, judged=False)
    shown = _through_curve(ratios(plumbing, lines, fault.zero_pa), healthy, run.lift)
    at = int(np.searchsorted(run.lift, STALLING))
    sounding = np.flatnonzero((shown >= STALLING) & (run.speed_kt <= 1.3 * run.stall_kt))
    before = sounding[run.lift[sounding] < 1.0]
    first = int(before[0]) if len(before) else None
    if first is None:
        return Reading(float(shown[at]), None)
    begun = run.speed_kt[first] >= 1.295 * run.stall_kt
    margin = np.inf if begun else run.speed_kt[first] - run.stall_kt
    return Reading(float(shown[at]), float(margin))


def cell(reading: Reading) -> str:
    """One cell of the table."""
    if not reading.judged:
        return "no dynamic pressure, no ratio: the fault sound"
    if reading.begins_kt is None:
        return f"{reading.shown:.2f}; **not before the stall**"
    if np.isinf(reading.begins_kt):
        return f"{reading.shown:.2f}; sounds at 1.3 Vs already"
    return f"{reading.shown:.2f}; from {reading.begins_kt:.1f} kt above the stall"


def table() -> list[str]:
    """The table of plumbings.md."""
    run = slow_down()
    lines = ["| what is wrong | " + " | ".join(f"`{name}`" for name in PLUMBINGS) + " |",
             "|---|" + "---|" * len(PLUMBINGS)]
    for fault in FAULTS:
        cells = ["no such line" if fault.text.startswith("upper") and name in HAS_NO_UPPER
                 else cell(read(fault, name, run)) for name in PLUMBINGS]
        lines.append(f"| {fault.text} | " + " | ".join(cells) + " |")
    return lines


def signals() -> list[str]:
    """How much pressure there is to measure: at the stall and at three times its speed."""
    run = slow_down()
    lines = ["| | " + " | ".join(f"`{name}`" for name in PLUMBINGS) + " |",
             "|---|" + "---|" * len(PLUMBINGS)]
    at = int(np.searchsorted(run.lift, 1.0))
    felt = {name: differences(name, line_pressures(run, Probe()))[1] for name in PLUMBINGS}
    below = at - round(1.0 / _STEP_DEG)  # one degree
    ratio = {name: ratios(name, line_pressures(run, Probe()), (0.0, 0.0)) for name in PLUMBINGS}
    slope = {name: (ratio[name][at] - ratio[name][below]) / 1e4 for name in PLUMBINGS}
    rows = [("angled sensor at the stall, Pa", [f"{felt[n][at]:+.0f}" for n in PLUMBINGS]),
            ("ratio for one degree near the stall", [f"{slope[n]:.3f}" for n in PLUMBINGS]),
            ("pressure for one degree there, Pa",
             [f"{slope[n] * run.impact_pa[at]:.0f}" for n in PLUMBINGS])]
    lines = [f"It stalls at {run.stall_kt:.1f} kt, where q is {run.impact_pa[at]:.0f} Pa.", "",
             *lines]
    return lines + [f"| {text} | " + " | ".join(cells) + " |" for text, cells in rows]


if __name__ == "__main__":
    print("\n".join(table() + [""] + signals()))
