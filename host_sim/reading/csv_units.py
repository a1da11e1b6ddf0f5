"""What a column of a flight may hold, and in which units.

Factors: NIST SP 811, appendix B.8 (psi, and the *conventional* inch and millimetre of water: water
of exactly 1000 kg/m3 under standard gravity, so 1 mmH2O = 9.80665 Pa, 1 inH2O = 25.4 mmH2O); knot
1852 m/h and mile 1609.344 m, exact. From memory, checked in the tests from the definitions.
"""

import re

REQUIRED = ("time", "pitot", "angled")
OPTIONAL = ("nz", "flap", "speed")
ROLES = REQUIRED + OPTIONAL
PRESSURE = {"Pa": 1.0, "hPa": 100.0, "kPa": 1000.0, "psi": 6894.757293168361,
            "inH2O": 249.08891, "mmH2O": 9.80665}
# Role to its units; the factor takes a number to ms, 0.1 Pa, 1/1000 g, or mm/s.
DECIPASCAL = {unit: 10.0 * factor for unit, factor in PRESSURE.items()}
UNITS: dict[str, dict[str, float]] = {
    "time": {"s": 1000.0, "ms": 1.0, "us": 0.001},
    "pitot": DECIPASCAL,
    "angled": DECIPASCAL,
    "nz": {"g": 1000.0, "m/s2": 1000.0 / 9.80665},
    "speed": {"kt": 1852000.0 / 3600.0, "m/s": 1000.0, "km/h": 1000.0 / 3.6, "mph": 447.04},
    "flap": {"": 1.0},
}
PLAIN_UNIT = {"time": "s", "pitot": "pa", "angled": "pa", "nz": "g", "flap": "", "speed": "kt"}
_BRACKETS = re.compile(r"(.*?)\s*[\[(]([^\[\]()]*)[\])]")


def find_unit(role: str, text: str) -> str | None:
    """The unit of a role as this module writes it; None where it has no such unit. The case does
    not matter, nor a slash; both signs for micro are taken."""
    wanted = _folded(text)
    return next((unit for unit in UNITS[role] if _folded(unit) == wanted), None)


def _folded(text: str) -> str:
    return text.strip().casefold().replace("/", "").replace("\u03bc", "u")


def split_name(name: str) -> tuple[str, str | None]:
    """Stem and unit of a column's name: `pitot_hpa`, `pitot [hPa]`, `pitot (hPa)`; None: no unit
    to be seen."""
    found = _BRACKETS.fullmatch(name)
    if found:
        return found[1].strip(), found[2]
    stem, line, unit = name.rpartition("_")
    return (stem, unit) if line else (name, None)


def plain_name(role: str) -> str:
    """The name that the plain header has for a role, e.g. `pitot_pa`."""
    return role + ("_" if PLAIN_UNIT[role] else "") + PLAIN_UNIT[role]


def unit_choice(role: str) -> str:
    """The units of a role, for an error."""
    return "|".join(UNITS[role])
