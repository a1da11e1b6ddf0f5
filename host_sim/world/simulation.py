"""Runs one flight step by step and writes down what the aeroplane did."""

from math import atan2, cos, degrees, exp, hypot, radians, sin

import numpy as np

from host_sim.errors import UsageError
from host_sim.world.airframe import Airframe
from host_sim.world.atmosphere import MS_PER_KT
from host_sim.world.motion import Motion
from host_sim.world.pilot import Pilot
from host_sim.world.scenario import Scenario
from host_sim.world.turbulence import LEVELS, Dryden

_PHYSICS_HZ = 200
_GROUND_LAYER_M = 10.0  # gusts fade towards the ground, which lets no air through
_WING_CHORD_M = 1.3  # a wing hardly feels eddies smaller than its chord (from memory)
_FIN_TAU_S = 0.6  # the fin turns the nose into a side gust
_SLIP_TAU_S = 0.8
_WASH_TAU_S = 1.0  # the engine speeds up and slows down
_TAXI_TURN_DEG_S = 15.0
LONGEST_FLIGHT_S = 2400.0
COLUMNS = (
    "time_s",
    "air_speed_ms",
    "path_rad",
    "height_m",
    "alpha_deg",
    "beta_deg",
    "bank_deg",
    "flap_deg",
    "cl",
    "cl_max",
    "stall_alpha_deg",
    "nz_g",
    "ground_speed_ms",
    "on_ground",
    "button",
    "wash_pa",
)


class Simulation:
    """One aeroplane, one pilot, one sky. `run` gives a row a tick and a label a tick."""

    def __init__(self, scenario: Scenario, frame: Airframe, seed: int, rate_hz: int) -> None:
        air = scenario.air
        self._wind_ms = air.wind_kt * MS_PER_KT
        self._plane = Motion(frame, scenario.elevation_m, self._wind_ms, air.temperature_offset_c)
        self._pilot = Pilot(scenario.phases, self._plane)
        self._sky = Dryden(air.turbulence, np.random.default_rng([seed, 1]))
        mean_ms = LEVELS[air.turbulence][0] * MS_PER_KT
        self._ground_share = min(1.0, self._wind_ms / mean_ms) if mean_ms else 0.0
        self._gusts = [(gust, _Travel()) for gust in air.gusts]
        self._substeps = -(-_PHYSICS_HZ // rate_hz)
        self._tick_s = 1.0 / rate_hz
        self._along = self._up = self._wing_up = 0.0
        self._fin_deg = self._slip_deg = self._beta_deg = 0.0
        self._wash_pa = self._wind_from_deg = 0.0

    def run(self) -> tuple[np.ndarray, list[str]]:
        """Fly to the end of the script. Columns as in `COLUMNS`."""
        rows: list[tuple[float, ...]] = []
        labels: list[str] = []
        while len(rows) * self._tick_s < LONGEST_FLIGHT_S:
            label = self._pilot.tick(self._tick_s)
            if label is None:
                return np.array(rows), labels
            rows.append(self._row(len(rows) * self._tick_s))
            labels.append(label)
            self._advance(len(rows) * self._tick_s)
        raise UsageError(f"the flight is longer than {LONGEST_FLIGHT_S:.0f} s; shorten its phases")

    def _row(self, time_s: float) -> tuple[float, ...]:
        plane = self._plane
        air_ms, beta_deg = self._air_at_probe()
        return (
            time_s,
            air_ms,
            plane.path_rad,
            plane.height_m,
            plane.alpha_deg,
            beta_deg,
            plane.bank_deg,
            plane.flap_deg,
            plane.cl,
            plane.shape.cl_max,
            plane.shape.stall_deg,
            plane.load_factor,
            plane.ground_speed_ms,
            plane.on_ground,
            self._pilot.presses_button,
            self._wash_pa,
        )

    def _air_at_probe(self) -> tuple[float, float]:
        """(speed in m/s, sideslip in degrees) of the air; on the ground the wind may be astern."""
        plane = self._plane
        if not self._wind_from_deg or not plane.on_ground:
            return plane.speed_ms + plane.gust_along_ms, self._beta_deg
        wind_ms = self._wind_ms + plane.gust_along_ms
        from_rad = radians(self._wind_from_deg)
        along, across = plane.ground_speed_ms + wind_ms * cos(from_rad), wind_ms * sin(from_rad)
        return hypot(along, across), degrees(atan2(across, along))

    def _advance(self, time_s: float) -> None:
        plane = self._plane
        old_along, old_up = self._along, self._up
        self._meet_air(time_s)
        dt_s = self._tick_s / self._substeps
        for step in range(1, self._substeps + 1):
            share = step / self._substeps
            plane.meet_gust(
                old_along + share * (self._along - old_along),
                old_up + share * (self._up - old_up),
            )
            plane.advance(self._pilot.controls, dt_s)

    def _meet_air(self, time_s: float) -> None:
        plane = self._plane
        above = plane.height_m - plane.field_m
        along, side, up = self._sky.step(plane.speed_ms, above, self._tick_s)
        travel = plane.speed_ms * self._tick_s
        self._wing_up += (up - self._wing_up) * (1.0 - exp(-travel / _WING_CHORD_M))
        free = min(1.0, above / _GROUND_LAYER_M)
        self._along = along * (free + (1.0 - free) * self._ground_share)
        self._up = free * (self._wing_up + self._single_gusts(time_s))
        self._slip(free * side)
        turn_deg = self._pilot.wind_from_deg - self._wind_from_deg
        most_deg = _TAXI_TURN_DEG_S * self._tick_s
        self._wind_from_deg += min(max(turn_deg, -most_deg), most_deg)
        self._wash_pa += (self._pilot.wash_pa - self._wash_pa) * (
            1.0 - exp(-self._tick_s / _WASH_TAU_S))

    def _single_gusts(self, time_s: float) -> float:
        total = 0.0
        for gust, travel in self._gusts:
            if time_s >= gust.at_s:
                travel.distance_m += self._plane.speed_ms * self._tick_s
                total += gust.up_after(travel.distance_m)
        return total

    def _slip(self, side_ms: float) -> None:
        gust_deg = side_ms / max(self._plane.speed_ms, 10.0) / radians(1.0)
        self._fin_deg += (gust_deg - self._fin_deg) * (1.0 - exp(-self._tick_s / _FIN_TAU_S))
        wish = self._pilot.controls.slip_deg
        self._slip_deg += (wish - self._slip_deg) * (1.0 - exp(-self._tick_s / _SLIP_TAU_S))
        self._beta_deg = self._slip_deg + gust_deg - self._fin_deg


class _Travel:
    def __init__(self) -> None:
        self.distance_m = 0.0


def ground_rumble_g(
    ground_speed_ms: np.ndarray, on_ground: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Shaking by a grass strip, rms 0.08 g from 15 m/s on (common practice, no source)."""
    rms = 0.08 * np.clip(ground_speed_ms / 15.0, 0.0, 1.0) * on_ground
    return rms * rng.standard_normal(len(rms))
