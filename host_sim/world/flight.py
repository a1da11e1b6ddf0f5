"""`fly`: one scenario, from the brakes to the brakes, as the sensors and the truth saw it."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from host_sim.errors import UsageError
from host_sim.world.airframe import Airframe
from host_sim.world.atmosphere import (
    GRAVITY_MS2,
    MS_PER_KT,
    cas_from_impact_ms,
    impact_from_tas_pa,
    static_pressure_pa,
)
from host_sim.world.plumbing import through_tube
from host_sim.world.probe import (
    PLUMBINGS,
    Probe,
    local_alpha_deg,
    pitot_coefficient,
    port_coefficient,
    port_in_wake,
)
from host_sim.world.prop_wash import swirl_deg, unsteady_pa
from host_sim.world.scenario import Scenario
from host_sim.world.simulation import COLUMNS, Simulation, ground_rumble_g

LINES = ("pitot", "static", "port", "other")  # other: the upper one of two opposed ports
_STALL_ARM_DEG = 1.0
_AS_FLOWN = (
    "time_s",
    "alpha_deg",
    "beta_deg",
    "stall_alpha_deg",
    "bank_deg",
    "height_m",
    "flap_deg",
    "cl",
    "cl_max",
)


@dataclass(frozen=True)
class Flight:
    """What happened, one row a tick.

    `pitot_pa`, `angled_pa`: differences at the sensors, after the tubes, signed, as plumbed.
    `nz_g`: specific force along the body's upward axis. `alpha_deg`, `beta_deg`, `kcas`, `cl`:
    truth at the wing, gusts included. `stall_alpha_deg`, `cl_max`: of the flap of the moment.
    `flap`: index of the flap setting. `height_m`: above sea level. `stalls`: seconds at which
    alpha first rises through the stall angle after having been one degree below, in the air.
    `line_pa`: absolute pressure at the sensor's end of each line, by name (`LINES`).
    """

    scenario: Scenario
    airframe: Airframe
    plumbing: str
    rate_hz: int
    time_s: np.ndarray
    pitot_pa: np.ndarray
    angled_pa: np.ndarray
    nz_g: np.ndarray
    kcas: np.ndarray
    alpha_deg: np.ndarray
    beta_deg: np.ndarray
    stall_alpha_deg: np.ndarray
    bank_deg: np.ndarray
    path_deg: np.ndarray
    height_m: np.ndarray
    flap_deg: np.ndarray
    flap: np.ndarray
    cl: np.ndarray
    cl_max: np.ndarray
    on_ground: np.ndarray
    button: np.ndarray
    static_pa: np.ndarray
    line_pa: dict[str, np.ndarray]
    phase: list[str]
    stalls: list[float]

    @property
    def lift(self) -> np.ndarray:
        """True share of the lift in use before the stall, CL/CLmax."""
        return self.cl / self.cl_max


def fly(
    scenario: Scenario, seed: int = 0, plumbing: str = "port-static", rate_hz: int = 100
) -> Flight:
    """Fly a scenario; the same arguments give the same bytes.

    `plumbing`: one of `PLUMBINGS`; `rate_hz`: rows a second, 10 to 1000. Raises UsageError.
    """
    _check(plumbing, rate_hz)
    frame = replace(Airframe(), mass_kg=scenario.mass_kg)
    rows, phase = Simulation(scenario, frame, seed, rate_hz).run()
    column = dict(zip(COLUMNS, rows.T, strict=True))
    line_pa = _at_sensors(scenario, column, 1.0 / rate_hz, np.random.default_rng([seed, 3]))
    pitot_pa, angled_pa = differences(plumbing, line_pa)
    return Flight(
        scenario=scenario, airframe=frame,
        plumbing=plumbing,
        rate_hz=rate_hz,
        pitot_pa=pitot_pa,
        angled_pa=angled_pa,
        line_pa=line_pa,
        flap=np.array([frame.slot_of(flap) for flap in column["flap_deg"].tolist()]),
        phase=phase,
        **_truth(scenario, column, np.random.default_rng([seed, 2])),
    )


def _truth(
    scenario: Scenario, column: dict[str, np.ndarray], rng: np.random.Generator
) -> dict[str, Any]:
    """The columns of a Flight that do not depend on the plumbing."""
    on_ground = column["on_ground"] > 0.5
    past_deg = column["alpha_deg"] - column["stall_alpha_deg"]
    return {
        **{name: column[name] for name in _AS_FLOWN},
        "nz_g": column["nz_g"] + ground_rumble_g(column["ground_speed_ms"], on_ground, rng),
        "kcas": cas_from_impact_ms(_impact_pa(scenario, column)) / MS_PER_KT,
        "path_deg": np.degrees(column["path_rad"]),
        "on_ground": on_ground,
        "button": column["button"] > 0.5,
        "static_pa": static_pressure_pa(column["height_m"]),
        "stalls": find_stalls(column["time_s"], past_deg, on_ground),
    }


def _impact_pa(scenario: Scenario, column: dict[str, np.ndarray]) -> np.ndarray:
    offset_k = scenario.air.temperature_offset_c
    return impact_from_tas_pa(column["air_speed_ms"], column["height_m"], offset_k)


def _check(plumbing: str, rate_hz: int) -> None:
    if plumbing not in PLUMBINGS:
        raise UsageError(f"plumbing '{plumbing}' is not known; use one of {', '.join(PLUMBINGS)}")
    if not 10 <= rate_hz <= 1000:
        raise UsageError(f"rate of {rate_hz} Hz is outside 10 to 1000; choose a value inside")


def differences(
    plumbing: str, line_pa: dict[str, np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """What the pitot and the angled sensor feel, Pa, from the pressures in the lines."""
    pitot, static, port, other = (line_pa[name] for name in LINES)
    angled = {"port-static": port - static, "pitot-port": pitot - port, "opposed": port - other}
    return pitot - static, angled[plumbing]


def _at_sensors(
    scenario: Scenario, column: dict[str, np.ndarray], dt_s: float, rng: np.random.Generator
) -> dict[str, np.ndarray]:
    probe, lines = scenario.probe, scenario.lines
    impact_pa = _impact_pa(scenario, column) + unsteady_pa(column["wash_pa"], dt_s, rng)
    static_pa = static_pressure_pa(column["height_m"])
    alpha = local_alpha_deg(probe, column["alpha_deg"], column["cl"])
    alpha = alpha + _swing_deg(probe, column, dt_s) + swirl_deg(column["wash_pa"], dt_s, rng)
    beta = column["beta_deg"]
    lower = port_in_wake(port_coefficient(probe, probe.angle_deg, alpha, beta), beta)
    upper = port_in_wake(port_coefficient(probe, -probe.angle_deg, alpha, beta), beta)
    source = static_pa + probe.static_error * impact_pa
    return {
        "pitot": through_tube(
            static_pa + pitot_coefficient(beta) * impact_pa, lines.pitot, dt_s),
        "static": through_tube(source, lines.static, dt_s),
        "port": through_tube(static_pa + lower * impact_pa, lines.angled, dt_s),
        "other": through_tube(static_pa + upper * impact_pa, lines.angled, dt_s),
    }


def _swing_deg(probe: Probe, column: dict[str, np.ndarray], dt_s: float) -> np.ndarray:
    """Extra angle at the probe when the aeroplane pitches or rolls round its centre."""
    if probe.ahead_m == 0.0 and probe.outboard_m == 0.0:
        return np.zeros(len(column["time_s"]))
    speed = np.maximum(column["air_speed_ms"], 10.0)
    level = np.cos(column["path_rad"]) * np.cos(np.radians(column["bank_deg"]))
    pitch = np.gradient(np.radians(column["alpha_deg"]), dt_s)
    pitch = pitch + GRAVITY_MS2 * (column["nz_g"] - level) / speed
    roll = np.gradient(np.radians(column["bank_deg"]), dt_s)
    swing = np.degrees((roll * probe.outboard_m - pitch * probe.ahead_m) / speed)
    return np.where(column["on_ground"] > 0.5, 0.0, swing)


def find_stalls(time_s: np.ndarray, past_deg: np.ndarray, on_ground: np.ndarray) -> list[float]:
    """Seconds at which alpha minus stall alpha rises through 0 after -1 or less, in the air."""
    stalls = []
    armed = False
    for now, past, ground in zip(time_s.tolist(), past_deg.tolist(), on_ground, strict=True):
        if past <= -_STALL_ARM_DEG:
            armed = True
        elif past >= 0.0 and armed and not ground:
            stalls.append(now)
            armed = False
    return stalls
