"""Which faults are laid over which moments of which flights."""

import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from host_sim.world.faults import FAULTS
from host_sim.world.flight import Flight
from host_sim.world.probe import PLUMBINGS

SEEDS = (1, 2)
WHOLE = "whole flight"
AFTER_S = 25.0  # the flight is watched for so long after the fault
_HOLD_S, _HOLD_GROUND_S, _HOLD_SLOW_S = 30.0, 75.0, 90.0
_HOLD_PARKED_S = 210.0  # from the stand to the tightened turn
_SLOW = ("angled-frozen", "angled-blocked", "static-blocked", "pitot-blocked", "pitot-leak",
         "angled-leak", "pitot-angled-leak")
_WHOLE_FLIGHT = ("zero-drift", "zero-drifted")
_FIRST_S = 2.0
_AFTER_ZERO_S = 10.0  # taxying: the zero has been taken


@dataclass(frozen=True)
class Moment:
    """A phase of flight: a label of a scenario, on the ground or in the air, or both (None).

    last_s: only so many seconds at its end; 0 for all of it."""

    phase: str
    scenario: str
    label: str
    on_ground: bool | None = None
    last_s: float = 0.0


MOMENTS = (
    Moment("parked", "tightened-turn", "park"),
    Moment("taxi", "ordinary", "taxi"),
    Moment("take-off roll", "ordinary", "take_off", True),
    Moment("climb", "stall-straight", "climb"),
    Moment("engine failure", "engine-failure", "engine fails"),
    Moment("cruise", "ordinary", "downwind"),
    Moment("turn", "steep-turns", "turn 45"),
    Moment("steep turn", "steep-turns", "turn 60 slow"),
    Moment("slow flight", "slow-flight-gusts", "slow flight 54"),
    Moment("final", "ordinary", "final"),
    Moment("flare", "ordinary", "flare_land", False),
    Moment("turn tightened", "tightened-turn", "tightened turn"),
    Moment("before a stall", "stall-straight", "steady"),
    Moment("into a stall", "stall-straight", "slow_to_stall", None, 6.0),
    Moment("recovery", "stall-straight", "recover", None),
    Moment("after landing", "ordinary", "flare_land", True),
)
SCENARIOS = tuple(dict.fromkeys(moment.scenario for moment in MOMENTS))
_GROUND_PHASES = ("taxi", "take-off roll")


@dataclass(frozen=True)
class Case:
    """One flight of the campaign before its time is known."""

    scenario: str
    plumbing: str
    seed: int
    fault: str
    phase: str

    @property
    def base(self) -> tuple[str, str, int]:
        """The flight without the fault."""
        return self.scenario, self.plumbing, self.seed


def cases(seeds: tuple[int, ...] = SEEDS) -> Iterator[Case]:
    """Every fault x moment x plumbing x seed."""
    for seed in seeds:
        for plumbing in PLUMBINGS:
            for fault in FAULTS:
                if whole(fault):
                    for scenario in SCENARIOS:
                        yield Case(scenario, plumbing, seed, fault, WHOLE)
                    continue
                for moment in MOMENTS:
                    yield Case(moment.scenario, plumbing, seed, fault, moment.phase)


def thin(every: list[Case], count: int) -> list[Case]:
    """About `count` cases, spread over faults, phases and plumbings, always the same ones."""
    order = sorted(every, key=lambda case: zlib.crc32(repr(case).encode()))
    return order[:count]


def whole(fault: str) -> bool:
    """Whether a fault is there from the start of a flight to its end."""
    return FAULTS[fault].from_start or fault in _WHOLE_FLIGHT


def wanted_of(case: Case, flight: Flight) -> str:
    """NAME@TIME+SECONDS of a case, as `alula fly --fault` takes it."""
    end_s = float(flight.time_s[-1])
    if whole(case.fault):
        at_s = 0.0 if FAULTS[case.fault].from_start else _AFTER_ZERO_S
        return f"{case.fault}@{at_s:.1f}+{end_s - at_s:.1f}"
    low_s, high_s = _interval(case, flight)
    rng = np.random.default_rng([case.seed, zlib.crc32(f"{case.fault}/{case.phase}".encode())])
    at_s = min(max(rng.uniform(low_s, high_s), _FIRST_S), end_s - 0.5)
    return f"{case.fault}@{at_s:.1f}+{hold_s(case):.1f}"


def hold_s(case: Case) -> float:
    """How long the fault lasts: its own time; longer where it shows late."""
    if FAULTS[case.fault].seconds:
        return FAULTS[case.fault].seconds
    if case.phase == "parked":
        return _HOLD_PARKED_S
    long_s = _HOLD_GROUND_S if case.phase in _GROUND_PHASES else _HOLD_S
    if case.fault in _SLOW:
        long_s = _HOLD_SLOW_S
    icing = case.fault.rpartition("-iced-")[2]
    return max(long_s, float(icing) + 15.0) if icing.isdigit() else long_s


def _interval(case: Case, flight: Flight) -> tuple[float, float]:
    moment = next(m for m in MOMENTS if m.phase == case.phase)
    chosen = np.array(flight.phase) == moment.label
    if moment.on_ground is not None:
        chosen &= flight.on_ground == moment.on_ground
    times = flight.time_s[chosen]
    high_s = float(times[-1])
    return (high_s - moment.last_s if moment.last_s else float(times[0])), high_s
