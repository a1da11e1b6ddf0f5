"""Candidates: values for the settings that a kit maker may tune, each within the unit's rules.

A grid file is TOML, one setting a line: a list of values, or from, to and step:

    window_ms = {from = 120, to = 280, step = 40}
    pressing_pm = [680, 694, 710]

A list is looked at as it stands; between `from` and `to` the budgeted search may look at every
step. Settings that are not named stay as shipped.
"""

import itertools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.reading.text_file import read_text
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.intmath import is_whole  # noqa: E402
from alula.settings import TABLE, load  # noqa: E402

# What each does stands in the settings table; the rest of it describes the unit, guards against
# faults, or was set by rules that flights cannot teach.
TUNABLE = ("window_ms", "lead_ms", "gap_ms", "calm_pm", "pressing_pm", "stalling_pm",
           "hysteresis_pm", "release_ms", "calm_release_ms", "pulse_low_millihz",
           "pulse_high_millihz", "urgency_pm")
ROWS = {row[0]: row for row in TABLE}
SHIPPED = {name: ROWS[name][1] for name in TUNABLE}
MOST = 200_000  # candidates in one grid; more is a slip of the pen
# Fine enough that a neighbour differs by less than the noise of a flight; by judgement.
STEPS = {"window_ms": 10, "lead_ms": 5, "gap_ms": 10, "calm_pm": 5, "pressing_pm": 5,
         "stalling_pm": 5, "hysteresis_pm": 2, "release_ms": 50, "calm_release_ms": 250,
         "pulse_low_millihz": 100, "pulse_high_millihz": 250, "urgency_pm": 50}
Candidate = tuple[tuple[str, int], ...]  # (name, value), in the order of TUNABLE


@dataclass(frozen=True)
class Axis:
    """One setting of a grid. step: of the budgeted search, 0 where only `values` are allowed.
    wide: the search may go on past the ends of the grid, as far as the unit's own limits."""

    name: str
    values: tuple[int, ...]
    step: int = 0
    wide: bool = False

    @property
    def ends(self) -> tuple[int, int]:
        """Least and most that may be looked at."""
        return ROWS[self.name][2:4] if self.wide else (self.values[0], self.values[-1])


# Pressing is not sought below 664, 1.23 Vs: nothing but nuisance, which few flights show, speaks
# against it, and at 1.3 Vs no warning may sound (14 CFR 23.207(d)).
DEFAULT = (Axis("window_ms", (120, 160, 200, 240, 300), 10, True),
           Axis("lead_ms", (0, 20, 40), 5, True),
           Axis("pressing_pm", (664, 694, 724), 5),
           Axis("hysteresis_pm", (10, 20, 40), 2, True),
           Axis("release_ms", (250, 500, 1000), 50, True))


def candidate(values: Mapping[str, int]) -> Candidate:
    """Values by name as a candidate; all of TUNABLE, shipped where not given."""
    full = {**SHIPPED, **values}
    return tuple((name, full[name]) for name in TUNABLE)


def record_of(base: Mapping, values: Candidate) -> dict:
    """A unit's settings record with a candidate's values in it."""
    return {**base, **dict(values)}


def problem(base: Mapping, values: Candidate) -> tuple[str, str] | None:
    """What the firmware's loader says against it, (setting, text), or None."""
    found = load(record_of(base, values))[1]
    return found[0] if found else None


def read_grid(path: Path | None) -> tuple[Axis, ...]:
    """The axes of a grid file; DEFAULT without one. UsageError names setting and limits."""
    if path is None:
        return DEFAULT
    try:
        said = tomllib.loads(read_text(path, "grid", "TOML"))
    except tomllib.TOMLDecodeError as error:
        raise UsageError(f"{path}: grid is not valid TOML ({error}); correct that line") from error
    if not said:
        raise UsageError(f"{path}: the grid is empty; name at least one setting, for example "
                         "window_ms = {from = 120, to = 280, step = 40}")
    return tuple(_axis(path, name, said[name]) for name in sorted(said))


def _axis(path: Path, name: str, said: object) -> Axis:
    if name not in TUNABLE:
        why = "is no setting" if name not in ROWS else "is not for tuning"
        raise UsageError(f"{path}: {name} {why}; a grid may name: {', '.join(TUNABLE)}")
    step = 0
    if isinstance(said, dict):
        values, step = _steps(path, name, said)
    elif isinstance(said, list):
        values = tuple(said)
    else:
        raise UsageError(f"{path}: {name} must be a list of values, or "
                         "{from = ..., to = ..., step = ...}")
    if not values:
        raise UsageError(f"{path}: {name} is an empty list; give at least one value")
    _, _, least, most, unit, _ = ROWS[name]
    for value in values:
        if not is_whole(value) or not least <= value <= most:
            raise UsageError(f"{path}: {name} = {value!r} is outside the legal range: a whole "
                             f"number from {least} to {most} ({unit})")
    return Axis(name, tuple(sorted(set(values))), step)


def _steps(path: Path, name: str, said: dict) -> tuple[tuple[int, ...], int]:
    """Values and step of a table {from, to, step}."""
    if set(said) != {"from", "to", "step"} or not all(is_whole(v) for v in said.values()):
        raise UsageError(f"{path}: {name} needs from, to and step, three whole numbers")
    first, last, step = said["from"], said["to"], said["step"]
    if step < 1 or last < first:
        raise UsageError(f"{path}: {name} runs from {first} to {last} in steps of {step}: that "
                         "holds no value; let it rise")
    if (last - first) // step >= MOST:
        raise UsageError(f"{path}: {name} has more than {MOST} values; take a larger step")
    return tuple(range(first, last + 1, step)), min(step, STEPS[name])


def full_grid(axes: tuple[Axis, ...], base: Mapping) -> tuple[list[Candidate], int]:
    """(every combination that keeps the firmware's rules, how many do not). UsageError where
    there are too many, or none is left."""
    size = 1
    for axis in axes:
        size *= len(axis.values)
    if size > MOST:
        raise UsageError(f"the grid holds {size} candidates, more than {MOST}; take larger steps")
    found, refused, why = [], 0, None
    for values in itertools.product(*(axis.values for axis in axes)):
        one = candidate(dict(zip((axis.name for axis in axes), values, strict=True)))
        wrong = problem(base, one)
        if wrong is None:
            found.append(one)
        else:
            refused, why = refused + 1, wrong
    if not found:
        assert why is not None
        raise UsageError(f"the grid holds no legal candidate: {why[0]} {why[1]}")
    return found, refused
