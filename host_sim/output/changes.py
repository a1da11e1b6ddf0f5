"""Every change of the unit's state in a run, for people and for machines."""

from dataclasses import asdict, dataclass

import numpy as np

from host_sim.output.trace import column, time_text
from host_sim.runtimes.paths import use_firmware
from host_sim.world.atmosphere import cas_from_impact_ms

use_firmware()

from alula import health, states  # noqa: E402
from host_sim.runtimes.session import UNKNOWN  # noqa: E402

KT_MS = 1852 / 3600  # the international knot, exact


@dataclass(frozen=True)
class Change:
    """A tick in which the state differs from the tick before. None where the unit knew none."""

    time_s: float
    state: str
    health: str
    ratio_bp: int | None
    lift_pm: int | None
    ias_kt: float | None


def speeds_kt(out: np.ndarray) -> np.ndarray:
    """Indicated airspeed of every tick from pitot pressure, kt; NaN where unknown or below 0."""
    pitot = column(out, "pitot_dpa")
    usable = (pitot != UNKNOWN) & (pitot >= 0)
    return np.where(usable, cas_from_impact_ms(np.where(usable, pitot, 0) / 10) / KT_MS, np.nan)


def changes(out: np.ndarray, first_ms: int = 0) -> list[Change]:
    """The first tick's state and every change after it."""
    state = column(out, "state")
    at = np.flatnonzero(np.r_[True, state[1:] != state[:-1]]) if len(out) else np.array([], int)
    speed = speeds_kt(out)
    return [Change(float(time_text(int(column(out, "now_ms")[i]) + first_ms)),
                   states.WORDS[state[i]], health.WORDS[column(out, "health")[i]],
                   _or_none(column(out, "ratio_bp")[i]), _or_none(column(out, "lift_pm")[i]),
                   None if np.isnan(speed[i]) else round(float(speed[i]), 1)) for i in at]


def as_json(found: list[Change]) -> list[dict]:
    """Changes as plain mappings."""
    return [asdict(change) for change in found]


def seconds_in_states(out: np.ndarray) -> dict[str, float]:
    """How long the unit was in each state, s; each tick lasts until the next."""
    steps = np.diff(column(out, "now_ms"), append=column(out, "now_ms")[-1:])
    state = column(out, "state")
    return {word: round(float(steps[state == i].sum()) / 1000, 3)
            for i, word in enumerate(states.WORDS) if (state == i).any()}


def table(found: list[Change], most: int = 40) -> list[str]:
    """Lines for people: time, state, speed, lift and the speed margin it means."""
    lines = ["   time s  state         IAS kt   lift   V/Vs  remark"]
    for change in found[:most]:
        speed = "-" if change.ias_kt is None else f"{change.ias_kt:.0f}"
        lift = "-" if change.lift_pm is None else f"{change.lift_pm / 1000:.2f}"
        margin = f"{(1000 / change.lift_pm) ** 0.5:.2f}" if change.lift_pm else "-"
        lines.append(f"{change.time_s:9.2f}  {change.state:<12} {speed:>7} {lift:>6} {margin:>6}  "
                     f"{'' if change.health == 'ok' else change.health}".rstrip())
    if len(found) > most:
        lines.append(f"  ... and {len(found) - most} more changes; --json has them all")
    return lines


def _or_none(value: int) -> int | None:
    return None if value == UNKNOWN else int(value)
