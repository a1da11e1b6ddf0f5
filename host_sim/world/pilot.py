"""The scripted pilot: walks through the phases of a scenario, one law at a time."""

from collections.abc import Sequence
from dataclasses import dataclass

from host_sim.errors import UsageError
from host_sim.world import pilot_laws as laws
from host_sim.world.atmosphere import DENSITY_SEA, air_density
from host_sim.world.motion import Controls, Motion
from host_sim.world.pilot_laws import Law, Task

LONGEST_PHASE_S = 240.0
_STOPPED_MS = 0.3


@dataclass(frozen=True)
class Verb:
    """What a phase of this kind does, which parameters it takes, and their defaults.

    A default of None means: the phase must give it.
    """

    law: Law
    defaults: dict[str, float | None]
    ends: str = ""  # the verb's own end; "" means that the phase must name one


_SPEED: dict[str, float | None] = {"speed_kt": None}
# on the ground: the propeller blows so hard over the probe; the wind comes from here off the nose
_STANDING: dict[str, float | None] = {"wash_pa": 0.0, "wind_from_deg": 0.0}
VERBS: dict[str, Verb] = {
    "park": Verb(laws.stand, _STANDING),
    "taxi": Verb(laws.taxi, {"speed_kt": 10.0, **_STANDING}),
    "take_off": Verb(laws.take_off, {**_SPEED, "rotate_kt": 55.0, "until_height_m": 15.0}),
    "climb": Verb(laws.climb, {**_SPEED, "throttle": 1.0}),
    "cruise": Verb(laws.hold_height, {**_SPEED, "rate_kt_s": 3.0}),
    "turn": Verb(laws.hold_height, {**_SPEED, "bank_deg": None, "rate_kt_s": 1.0}),
    "steep_turn": Verb(laws.hold_height, {**_SPEED, "bank_deg": 45.0, "rate_kt_s": 1.0}),
    "tighten": Verb(laws.tighten, {"bank_deg": None, "load_factor": None, "throttle": 0.0}),
    "approach": Verb(laws.approach, {**_SPEED, "descent_deg": 4.0}),
    "flare_land": Verb(
        laws.flare,
        {**_SPEED, "descent_deg": 4.0, "flare_m": 4.0, "throttle": 0.1},
        "stopped",
    ),
    "slow_to": Verb(laws.hold_height, {**_SPEED, "rate_kt_s": 1.0}, "slow"),
    "slow_to_stall": Verb(
        laws.enter_stall, {"rate_kt_s": 1.0, "throttle": 0.0, "until_past_stall_deg": 0.5}
    ),
    "recover": Verb(laws.recover, {**_SPEED, "throttle": 1.0, "lift": 0.5}, "level"),
    "engine_failure_glide": Verb(laws.glide, {**_SPEED, "react_s": 3.0}),
    "pull_up": Verb(laws.pull_up, {"rate_deg_s": None, "load_factor": None, "throttle": 0.5}),
    "roll_out": Verb(laws.stop, {}, "stopped"),
}
# what any phase may carry: how it ends, and what goes on beside the law
ENDS = (
    "seconds",
    "until_height_m",
    "until_speed_kt",
    "until_turned_deg",
    "until_past_stall_deg",
    "until_lift",
)
BESIDES = ("flap_deg", "bank_deg", "slip_deg", "button_s")


@dataclass(frozen=True)
class Phase:
    """One line of the script. `values` holds every parameter, defaults filled in."""

    do: str
    values: dict[str, float]
    label: str = ""
    where: str = ""  # file and number, for messages

    @property
    def name(self) -> str:
        """What the trace of the flight is labelled with."""
        return self.label or self.do


class Pilot:
    """Flies `phases` in order; `tick` returns the label of the phase, or None at the end."""

    def __init__(self, phases: Sequence[Phase], plane: Motion) -> None:
        self._phases = phases
        self._plane = plane
        self._index = -1
        self.controls = Controls()
        self._turned_from = 0.0
        self._next_phase()

    @property
    def presses_button(self) -> bool:
        """Whether the pilot's thumb is on the unit's button now."""
        return self._task.elapsed_s < self._task.values.get("button_s", 0.0)

    @property
    def wash_pa(self) -> float:
        """How hard the propeller should blow over the probe now; only on the ground."""
        return self._task.values.get("wash_pa", 0.0)

    @property
    def wind_from_deg(self) -> float:
        """Where the wind should come from now, 0 ahead to 180 astern; only on the ground."""
        return self._task.values.get("wind_from_deg", 0.0)

    def tick(self, dt_s: float) -> str | None:
        """Set the controls for the next `dt_s`. Raises UsageError for a phase without end."""
        while self._ended():
            if self._index + 1 == len(self._phases):
                return None
            self._next_phase()
        phase = self._phases[self._index]
        if self._task.elapsed_s > LONGEST_PHASE_S:
            raise UsageError(
                f"{phase.where}: '{phase.do}' did not reach its end in {LONGEST_PHASE_S:.0f} s; "
                "give it 'seconds' or an end that this aeroplane can reach"
            )
        self._task.dt_s = dt_s
        self._task.tas_per_eas = self._thin_air()
        VERBS[phase.do].law(self._task, self._plane, self.controls)
        self._task.elapsed_s += dt_s
        return phase.name

    def _thin_air(self) -> float:
        density = air_density(self._plane.height_m, self._plane.offset_k)
        return (DENSITY_SEA / density) ** 0.5

    def _next_phase(self) -> None:
        self._index += 1
        values = self._phases[self._index].values
        plane = self._plane
        self._task = Task(values, plane.height_m, plane.speed_ms, plane.path_rad)
        self._task.tas_per_eas = self._thin_air()
        self._turned_from = plane.turned_deg
        self._from_below = plane.height_m - plane.field_m < values.get("until_height_m", 0.0)
        self._from_slow = plane.speed_ms < self._task.speed_ms("until_speed_kt")
        self.controls.bank_deg = values.get("bank_deg", 0.0)
        self.controls.slip_deg = values.get("slip_deg", 0.0)
        self.controls.flap_deg = values.get("flap_deg", self.controls.flap_deg)

    def _ended(self) -> bool:
        values = self._task.values
        if self._task.elapsed_s >= values.get("seconds", LONGEST_PHASE_S + 1.0):
            return True
        return self._reached(values) or self._done(VERBS[self._phases[self._index].do].ends)

    def _reached(self, values: dict[str, float]) -> bool:
        plane = self._plane
        above = plane.height_m - plane.field_m
        wish_ms = self._task.speed_ms("until_speed_kt")
        turned = abs(plane.turned_deg - self._turned_from)
        return (
            ("until_height_m" in values and (above < values["until_height_m"]) != self._from_below)
            or ("until_speed_kt" in values and (plane.speed_ms < wish_ms) != self._from_slow)
            or turned >= values.get("until_turned_deg", 1e9)
            or plane.alpha_deg >= plane.shape.stall_deg + values.get("until_past_stall_deg", 1e9)
            or plane.cl >= values.get("until_lift", 1e9) * plane.shape.cl_max
        )

    def _done(self, ends: str) -> bool:
        plane = self._plane
        if ends == "stopped":
            return plane.on_ground and plane.ground_speed_ms < _STOPPED_MS
        if ends == "slow":
            return plane.speed_ms <= self._task.speed_ms() + 0.3
        if ends == "level":
            return plane.speed_ms >= self._task.speed_ms() and plane.path_rad >= 0.0
        return False
