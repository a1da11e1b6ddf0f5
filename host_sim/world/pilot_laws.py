"""What the scripted pilot does with stick and throttle in each kind of phase.

Every law sets demands in `Controls` once a tick. They share two skills: bending the flight path
(load factor -> lift coefficient -> angle of attack) and trading path for speed (what thrust and
drag leave over climbs or accelerates). Angles in radians where the name says so.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import asin, cos, radians

from host_sim.world.airframe import alpha_for_lift_deg
from host_sim.world.atmosphere import GRAVITY_MS2, MS_PER_KT, air_density
from host_sim.world.motion import Controls, Motion

_PATH_GAIN = 0.8  # 1/s
_SPEED_GAIN = 0.25  # 1/s
_HEIGHT_GAIN = 0.25  # 1/s
_CLEAR_M = 1.5  # below this a take-off keeps the nose up, so that the wheels stay off
_GIVE_UP_LIFT = 0.93  # from this share on a stall entry pulls at a steady rate


@dataclass
class Task:
    """One phase while it runs: its parameters, and how things stood when it began."""

    values: dict[str, float]
    start_height_m: float
    start_speed_ms: float
    start_path_rad: float
    elapsed_s: float = 0.0
    tas_per_eas: float = 1.0
    dt_s: float = 0.01
    notes: dict[str, float] = field(default_factory=dict)

    def speed_ms(self, key: str = "speed_kt") -> float:
        """An airspeed of the phase as true airspeed in m/s; without one, that at its start."""
        if key not in self.values:
            return self.start_speed_ms
        return self.values[key] * MS_PER_KT * self.tas_per_eas


Law = Callable[[Task, Motion, Controls], None]


def bend_path(
    plane: Motion, controls: Controls, path_rad: float, most: float = 1.5, lift: float = 0.97
) -> None:
    """Demand the angle of attack that leads to a path; load factor 0.4 to `most`."""
    turn = _PATH_GAIN * (path_rad - plane.path_rad) * plane.speed_ms / GRAVITY_MS2
    load = (turn + cos(plane.path_rad)) / cos(radians(plane.bank_deg))
    pull(plane, controls, min(max(load, 0.4), most / cos(radians(plane.bank_deg))), lift)


def pull(plane: Motion, controls: Controls, load: float, lift: float = 0.97) -> None:
    """Demand the angle of attack for a load factor, at most for a share `lift` of CLmax."""
    density = air_density(plane.height_m, plane.offset_k)
    area = 0.5 * density * plane.speed_ms**2 * plane.frame.wing_area_m2
    cl = load * plane.frame.weight_n / area
    controls.alpha_deg = alpha_for_lift_deg(plane.shape, min(cl, lift * plane.shape.cl_max))


def path_for_accel(plane: Motion, accel_ms2: float) -> float:
    """The path on which thrust and drag of the moment leave this acceleration; radians."""
    spare = (plane.thrust_n - plane.drag_n) / plane.frame.weight_n - accel_ms2 / GRAVITY_MS2
    return asin(min(max(spare, -0.25), 0.25))


def speed_on_pitch(plane: Motion, controls: Controls, speed_ms: float, limit: float = 1.2) -> None:
    """Hold a speed with the stick; the throttle decides whether that climbs."""
    accel = min(max(_SPEED_GAIN * (speed_ms - plane.speed_ms), -limit), limit)
    bend_path(plane, controls, path_for_accel(plane, accel))


def speed_on_throttle(plane: Motion, controls: Controls, speed_ms: float, path: float) -> None:
    """Hold a speed with the throttle on a given path."""
    accel = _SPEED_GAIN * (speed_ms - plane.speed_ms)
    need = plane.drag_n + plane.frame.weight_n * (path + accel / GRAVITY_MS2)
    idle = plane.frame.idle_share * plane.full_thrust_n
    share = (need - idle) / max(plane.full_thrust_n - idle, 1.0)
    controls.throttle = min(max(share, 0.0), 1.0)


def stand(task: Task, plane: Motion, controls: Controls) -> None:
    """Parked: brakes on, engine idling."""
    controls.brake, controls.throttle = 1.0, 0.0
    controls.alpha_deg = plane.frame.ground_attitude_deg


def taxi(task: Task, plane: Motion, controls: Controls) -> None:
    """Roll at `speed_kt` over the ground."""
    gap = task.values["speed_kt"] * MS_PER_KT - plane.ground_speed_ms
    controls.throttle = min(max(0.1 + 0.15 * gap, 0.0), 0.5)
    controls.brake = 0.3 if gap < -0.5 else 0.0
    controls.alpha_deg = plane.frame.ground_attitude_deg


def take_off(task: Task, plane: Motion, controls: Controls) -> None:
    """Full throttle, lift the nose at `rotate_kt`, climb away at `speed_kt`."""
    controls.brake, controls.throttle = 0.0, 1.0
    if plane.speed_ms < task.speed_ms("rotate_kt"):
        controls.alpha_deg = plane.frame.ground_attitude_deg
    elif plane.height_m < plane.field_m + _CLEAR_M:
        pull(plane, controls, 1.12, 0.75)
        controls.alpha_deg = max(controls.alpha_deg, plane.frame.ground_attitude_deg)
    else:
        speed_on_pitch(plane, controls, task.speed_ms(), 1.5)


def climb(task: Task, plane: Motion, controls: Controls) -> None:
    """Climb or descend at `speed_kt` with the `throttle` given."""
    controls.throttle = task.values["throttle"]
    speed_on_pitch(plane, controls, task.speed_ms())


def hold_height(task: Task, plane: Motion, controls: Controls) -> None:
    """Level flight, straight or turning, at `speed_kt`, changed at `rate_kt_s`."""
    step = task.values["rate_kt_s"] * MS_PER_KT * task.elapsed_s
    gap = task.speed_ms() - task.start_speed_ms
    wish = task.start_speed_ms + min(max(gap, -step), step)
    path = _HEIGHT_GAIN * (task.start_height_m - plane.height_m) / plane.speed_ms
    path = min(max(path, -0.08), 0.08)
    speed_on_throttle(plane, controls, wish, path)
    bend_path(plane, controls, path)


def approach(task: Task, plane: Motion, controls: Controls) -> None:
    """A steady descent of `descent_deg` at `speed_kt`, straight or turning."""
    path = -radians(task.values["descent_deg"])
    speed_on_throttle(plane, controls, task.speed_ms(), path)
    bend_path(plane, controls, path)


def tighten(task: Task, plane: Motion, controls: Controls) -> None:
    """Pull `load_factor` in the turn whatever the speed does."""
    controls.throttle = task.values["throttle"]
    load = min(task.values["load_factor"], 1.0 + 0.25 * task.elapsed_s)
    pull(plane, controls, max(load, 1.0 / cos(radians(plane.bank_deg)) - 0.1))


def flare(task: Task, plane: Motion, controls: Controls) -> None:
    """Round out from `flare_m` above the ground, touch, then brake to a stop."""
    above = plane.height_m - plane.field_m
    if plane.on_ground:
        stop(task, plane, controls)
    elif above > task.values["flare_m"]:
        approach(task, plane, controls)
    else:
        sink_ms = 0.4 + (above / task.values["flare_m"]) * task.speed_ms() * radians(
            task.values["descent_deg"]
        )
        controls.throttle = task.values["throttle"]
        bend_path(plane, controls, -sink_ms / plane.speed_ms, 1.3)


def enter_stall(task: Task, plane: Motion, controls: Controls) -> None:
    """Slow down at `rate_kt_s` with the stick; near the top keep pulling at a steady rate."""
    controls.throttle = task.values["throttle"]
    rate = task.values["rate_kt_s"]
    if "pulling" not in task.notes and plane.cl < _GIVE_UP_LIFT * plane.shape.cl_max:
        wish = task.start_speed_ms - rate * MS_PER_KT * task.elapsed_s
        accel = -rate * MS_PER_KT + _SPEED_GAIN * (wish - plane.speed_ms)
        bend_path(plane, controls, path_for_accel(plane, accel))
        return
    task.notes["pulling"] = 1.0
    controls.alpha_deg += 1.2 * rate * task.dt_s


def recover(task: Task, plane: Motion, controls: Controls) -> None:
    """Unload, power on, wings level; level out once past `speed_kt`."""
    controls.throttle = task.values["throttle"]
    if plane.speed_ms >= task.speed_ms():
        task.notes["fast"] = 1.0
    if "fast" in task.notes:
        bend_path(plane, controls, 0.02, 1.35, 0.8)
    else:
        pull(plane, controls, 0.75, task.values["lift"])


def glide(task: Task, plane: Motion, controls: Controls) -> None:
    """The engine has stopped: `react_s` of surprise with the nose held up, then `speed_kt`."""
    controls.engine_runs, controls.throttle = False, 0.0
    if task.elapsed_s < task.values["react_s"]:
        bend_path(plane, controls, task.start_path_rad)
    else:
        speed_on_pitch(plane, controls, task.speed_ms(), 2.0)


def pull_up(task: Task, plane: Motion, controls: Controls) -> None:
    """Raise the angle of attack at `rate_deg_s` to `load_factor`, or on past the stall."""
    controls.throttle = task.values["throttle"]
    ramp = controls.alpha_deg + task.values["rate_deg_s"] * task.dt_s
    pull(plane, controls, task.values["load_factor"], 1.0)
    if controls.alpha_deg >= plane.shape.stall_deg:
        controls.alpha_deg = plane.shape.stall_deg + 4.0
    controls.alpha_deg = min(ramp, controls.alpha_deg)


def stop(task: Task, plane: Motion, controls: Controls) -> None:
    """Hold the nose down and brake to a stop."""
    controls.throttle, controls.brake = 0.0, 0.6
    controls.alpha_deg = plane.frame.ground_attitude_deg - 1.0
