"""How much of the sensors' range flight needs, both signs.

Looked at, for both channels: every speed from the stall to the top speed, and the same with the
overspeed margin; at each, load factors from 0 to the limit load (or what the wing can give), ball
in the middle and in the stated sideslip either way.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.sizing.case import Pair, Sensor
from host_sim.sizing.sensor_words import usable_pa
from host_sim.sizing.wing import Wing, impact_pa

_SPEEDS, _BEYOND, _LOADS = 16, 3, 10


@dataclass(frozen=True)
class Reach:
    """Lowest and highest pressure that one sensor feels, Pa; share: the larger part of its range
    used, 1 at an end (infinite where the range has no such sign at all)."""

    low_pa: float
    high_pa: float
    share: float


def reach(wing: Wing, pair: Pair, with_margin: bool) -> tuple[Reach, Reach]:
    """(pitot, angled), with or without the overspeed and sideslip margin."""
    case = wing.case
    slips_deg = (0.0, case.sideslip_deg) if with_margin else (0.0,)
    speeds_kt = _speeds_kt(wing, with_margin)
    felt = [wing.angled_pa(impact_pa(speed), wing.alpha_deg(lift), slip)
            for speed in speeds_kt for lift in _lifts(wing, speed) for slip in slips_deg]
    return (_reach(0.0, impact_pa(max(speeds_kt)), pair.pitot),
            _reach(min(0.0, *felt), max(0.0, *felt), pair.angled))


def _speeds_kt(wing: Wing, with_margin: bool) -> list[float]:
    """Stall to top speed, the speed at which the wing just gives the limit load among them."""
    case = wing.case
    found = list(np.linspace(case.stall_kt, case.top_kt, _SPEEDS))
    found.append(min(case.top_kt, case.stall_kt * case.limit_load_g ** 0.5))
    if with_margin:
        found += list(np.linspace(case.top_kt, case.top_kt * (1.0 + case.overspeed_pc / 100.0),
                                  _BEYOND))
    return [float(speed) for speed in found]


def _lifts(wing: Wing, speed_kt: float) -> list[float]:
    """Lift shares from no load to the limit load at a speed, but at most the wing's."""
    one_g = impact_pa(wing.case.stall_kt) / impact_pa(speed_kt)
    most = min(1.0, wing.case.limit_load_g * one_g)
    return [float(lift) for lift in np.linspace(0.0, most, _LOADS)]


def _reach(low_pa: float, high_pa: float, sensor: Sensor) -> Reach:
    low_end, high_end = usable_pa(sensor)
    shares = [_share(-low_pa, -low_end), _share(high_pa, high_end)]
    return Reach(low_pa, high_pa, max(shares))


def _share(need_pa: float, end_pa: float) -> float:
    if need_pa <= 0.0:
        return 0.0
    return need_pa / end_pa if end_pa > 0.0 else float("inf")
