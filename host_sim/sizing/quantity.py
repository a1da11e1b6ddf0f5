"""Numbers with units, as a person writes them: "42 kt", "3 mm", "1 inH2O", "0.3 Pa/K".

Speeds without a unit are knots; everything else must say its unit. Factors of pressure and speed:
`host_sim.reading.csv_units`; foot and inch are exact by definition.
"""

import math
import re

from host_sim.errors import UsageError
from host_sim.reading.csv_units import PRESSURE

KT_MS = 1852.0 / 3600.0
UNITS: dict[str, dict[str, float]] = {
    "speed_kt": {"kt": 1.0, "km/h": 1.0 / 3.6 / KT_MS, "mph": 0.44704 / KT_MS,
                 "m/s": 1.0 / KT_MS},
    "length_m": {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254},
    "pressure_pa": {**PRESSURE, "mbar": 100.0},
    "volume_cm3": {"cm3": 1.0, "ml": 1.0, "mm3": 0.001},
    "time_ms": {"ms": 1.0, "s": 1000.0},
    "change_k": {"K": 1.0, "C": 1.0, "degC": 1.0},
}
_PLAIN = {"speed_kt": "kt"}  # what a number without a unit means
_FORM = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(\S*)")


def quantity(said: object, kind: str, name: str) -> float:
    """A number in the unit that `kind` ends with. said: text with a unit, or, for a speed, a
    number. name: how the user calls it, for the error. UsageError: what to write instead."""
    number, unit = _split(said, name, kind)
    unit = unit or _PLAIN.get(kind, "")
    factor = next((value for known, value in UNITS[kind].items()
                   if known.casefold() == unit.casefold()), None)
    if factor is None:
        raise UsageError(f"{name} {said!r} needs a unit: write {_example(kind)}; known: "
                         + ", ".join(UNITS[kind]))
    return number * factor


def share_or(said: object, kind: str, span: float, per: str, name: str) -> float:
    """A quantity, or a percentage of the sensor's span, both divided by `per` ("" or "/K"): a
    temperature coefficient is "0.3 Pa/K" or "0.02 %/K"."""
    number, unit = _split(said, name, kind)
    stem = unit.removesuffix(per) if per else unit
    if per and not unit.endswith(per):
        raise UsageError(f"{name} {said!r} needs a unit: write {_example(kind)[:-1]}{per}\" or "
                         f'"0.02 %{per}" (percent of the span)')
    if stem in ("%", "%FS", "%FSS"):
        return number / 100.0 * span
    return quantity(f"{number!r} {stem}", kind, name)


def plain_number(said: object, name: str) -> float:
    """A number without a unit, also as text."""
    number, unit = _split(said, name, "")
    if unit:
        raise UsageError(f"{name} {said!r} is a plain number; leave the unit {unit!r} out")
    return number


def within(value: float, least: float, most: float, unit: str, name: str) -> float:
    """The value, if it lies within the limits; UsageError otherwise."""
    if not least <= value <= most:
        raise UsageError(f"{name} is {value:.4g} {unit}; give {least:g} to {most:g} {unit}")
    return value


def _split(said: object, name: str, kind: str) -> tuple[float, str]:
    if isinstance(said, bool) or not isinstance(said, (int, float, str)):
        raise UsageError(f"{name} must be one value, e.g. {_example(kind)}, not {said!r}")
    found = _FORM.fullmatch(said.strip() if isinstance(said, str) else repr(said))
    if not found or not math.isfinite(float(found[1])):
        raise UsageError(f"{name} {said!r} is no number; write it like {_example(kind)}")
    return float(found[1]), found[2]


def _example(kind: str) -> str:
    return {"speed_kt": '"42 kt"', "length_m": '"2.5 m"', "pressure_pa": '"1 Pa"',
            "volume_cm3": '"1 cm3"', "time_ms": '"1 ms"', "change_k": '"15 K"'}.get(kind, "45")
