"""How the aeroplane moves: a point mass with bank, and an angle of attack that follows the stick.

Speeds are through still air; wind only shifts the ground under the wheels. Angle of attack
follows the demand as a second-order system. A vertical gust changes it at once by atan(w/V); then
the same dynamics turn the nose into the new flow, as the tail of a stable aeroplane does.
Integrated semi-implicitly: rates first, then angles and speed, then height.
"""

from dataclasses import dataclass
from math import atan2, cos, degrees, exp, radians, sin

from host_sim.world.airframe import Airframe, drag_coefficient, lift_coefficient
from host_sim.world.atmosphere import GRAVITY_MS2, air_density

_ALPHA_FREQUENCY = 3.0  # rad/s
_ALPHA_DAMPING = 0.7
_ROLL_RATE_DEG_S = 20.0
_ROLL_GAIN = 2.5  # 1/s, eases into the target
_FLAP_RATE_DEG_S = 8.0
_ENGINE_TAU_S = 0.5
_GUST_SPEED_MS = 10.0  # below this the angle of a gust means nothing
_ELEVATOR_SPEED_MS = 12.0  # below this the elevator cannot lift the nose wheel
_OLEO_S = 0.15  # a landing leg takes this long to stop the sink


@dataclass(slots=True)
class Controls:
    """What the pilot asks for; throttle and brake 0 to 1."""

    alpha_deg: float = 3.0
    bank_deg: float = 0.0
    throttle: float = 0.0
    flap_deg: float = 0.0
    brake: float = 1.0
    slip_deg: float = 0.0
    engine_runs: bool = True


class Motion:
    """State and forces of the aeroplane; parked at `field_m` until the engine moves it."""

    def __init__(
        self, frame: Airframe, field_m: float, wind_ms: float = 0.0, offset_k: float = 0.0
    ) -> None:
        self.frame = frame
        self.field_m = field_m
        self.wind_ms = wind_ms
        self.offset_k = offset_k
        self.speed_ms = max(wind_ms, 0.0)
        self.path_rad = 0.0
        self.height_m = field_m
        self.alpha_deg = frame.ground_attitude_deg
        self.alpha_rate = 0.0
        self.bank_deg = 0.0
        self.flap_deg = 0.0
        self.throttle = 0.0
        self.turned_deg = 0.0
        self.on_ground = True
        self.gust_along_ms = 0.0
        self._gust_deg = 0.0
        self._bump_g = 0.0
        self.shape = frame.shape_at(0.0)
        self.cl = self.lift_n = self.drag_n = self.thrust_n = self.full_thrust_n = 0.0
        self.wheel_load_n = frame.weight_n
        self._feel_forces(Controls())

    @property
    def ground_speed_ms(self) -> float:
        """Speed over the ground into the wind."""
        return self.speed_ms * cos(self.path_rad) - self.wind_ms

    @property
    def load_factor(self) -> float:
        """Specific force along the body's upward axis, in g; 1 in level flight."""
        alpha = radians(self.alpha_deg)
        up = self.lift_n * cos(alpha) + self.drag_n * sin(alpha)
        if self.on_ground:
            up += self.wheel_load_n * cos(alpha)
        return up / self.frame.weight_n + self._bump_g

    def meet_gust(self, along_ms: float, up_ms: float) -> None:
        """Set the gust of this moment: headwind and updraught in m/s."""
        self.gust_along_ms = along_ms
        angle = degrees(atan2(up_ms, max(self.speed_ms, _GUST_SPEED_MS)))
        self.alpha_deg += angle - self._gust_deg
        self._gust_deg = angle

    def advance(self, controls: Controls, dt_s: float) -> None:
        """One step of `dt_s` (5 ms or less) under the controls given."""
        self._move_controls(controls, dt_s)
        self._turn_nose(controls, dt_s)
        self._feel_forces(controls)
        self._bump_g *= exp(-dt_s / _OLEO_S)
        if self.on_ground:
            self._roll(controls, dt_s)
        else:
            self._fly(dt_s)

    def _move_controls(self, controls: Controls, dt_s: float) -> None:
        self.throttle += (controls.throttle - self.throttle) * dt_s / _ENGINE_TAU_S
        rate = _ROLL_GAIN * (controls.bank_deg - self.bank_deg)
        rate = min(max(rate, -_ROLL_RATE_DEG_S), _ROLL_RATE_DEG_S)
        self.bank_deg = 0.0 if self.on_ground else self.bank_deg + rate * dt_s
        if controls.flap_deg != self.flap_deg:
            step = _FLAP_RATE_DEG_S * dt_s
            wish = controls.flap_deg - self.flap_deg
            self.flap_deg += min(max(wish, -step), step)
            self.shape = self.frame.shape_at(self.flap_deg)

    def _turn_nose(self, controls: Controls, dt_s: float) -> None:
        demand = controls.alpha_deg
        if self.on_ground:
            rest = self.frame.ground_attitude_deg
            demand = max(demand, rest) if self.speed_ms > _ELEVATOR_SPEED_MS else rest
        pull = _ALPHA_FREQUENCY * (demand - self.alpha_deg)
        self.alpha_rate += (
            _ALPHA_FREQUENCY * (pull - 2.0 * _ALPHA_DAMPING * self.alpha_rate) * dt_s
        )
        self.alpha_deg += self.alpha_rate * dt_s

    def _feel_forces(self, controls: Controls) -> None:
        frame = self.frame
        density = air_density(self.height_m, self.offset_k)
        air_ms = max(self.speed_ms + self.gust_along_ms, 0.0)
        area = 0.5 * density * air_ms * air_ms * frame.wing_area_m2
        self.cl = lift_coefficient(self.shape, self.alpha_deg)
        self.lift_n = area * self.cl
        drag = drag_coefficient(frame, self.shape, self.alpha_deg, self.cl)
        self.full_thrust_n = frame.max_thrust_n(self.speed_ms, density)
        if controls.engine_runs:
            share = frame.idle_share + (1.0 - frame.idle_share) * self.throttle
            self.thrust_n = share * self.full_thrust_n
        else:
            self.thrust_n = 0.0
            drag += frame.windmill_cd
        self.drag_n = area * drag

    def _fly(self, dt_s: float) -> None:
        frame = self.frame
        alpha = radians(self.alpha_deg)
        bank = radians(self.bank_deg)
        along = (self.thrust_n * cos(alpha) - self.drag_n) / frame.mass_kg
        across = (self.lift_n + self.thrust_n * sin(alpha)) / frame.mass_kg
        bend = across * cos(bank) - GRAVITY_MS2 * cos(self.path_rad)
        self.speed_ms += (along - GRAVITY_MS2 * sin(self.path_rad)) * dt_s
        self.path_rad += bend / self.speed_ms * dt_s
        self.turned_deg += degrees(across * sin(bank) / self.speed_ms) * dt_s
        self.height_m += self.speed_ms * sin(self.path_rad) * dt_s
        if self.height_m <= self.field_m and self.path_rad <= 0.0:
            self._touch()

    def _touch(self) -> None:
        sink_ms = -self.speed_ms * sin(self.path_rad)
        self._bump_g = sink_ms / (GRAVITY_MS2 * _OLEO_S)
        self.height_m = self.field_m
        self.path_rad = 0.0
        self.on_ground = True

    def _roll(self, controls: Controls, dt_s: float) -> None:
        frame = self.frame
        alpha = radians(self.alpha_deg)
        carried = self.lift_n + self.thrust_n * sin(alpha)
        self.wheel_load_n = max(0.0, frame.weight_n - carried)
        grip = frame.rolling_friction + frame.braking_friction * controls.brake
        push = self.thrust_n * cos(alpha) - self.drag_n
        slow = grip * self.wheel_load_n
        if self.ground_speed_ms <= 0.0 and push <= slow:
            self.speed_ms = self.wind_ms
        else:
            self.speed_ms = max(self.wind_ms, self.speed_ms + (push - slow) / frame.mass_kg * dt_s)
        # a pilot who holds the nose down after touching keeps the wheels on the ground
        if self.wheel_load_n == 0.0 and controls.alpha_deg >= frame.ground_attitude_deg:
            self.on_ground = False
