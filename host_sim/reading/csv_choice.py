"""What a user says about a flight's CSV: on the command line, or in a mapping file."""

import argparse
from dataclasses import dataclass, field, replace
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.reading.csv_units import ROLES, find_unit, unit_choice
from host_sim.reading.mapping_file import read_mapping

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
DECIMALS = {"point": ".", "comma": ","}


@dataclass(frozen=True)
class Choice:
    """columns: role to the column's name. units: role to unit, as `csv_units.UNITS` spells it.
    separator, decimal: the character, or None to find it in the file. session: 1 and up, or None
    for all. believe_units: no check of the units' plausibility."""

    columns: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    separator: str | None = None
    decimal: str | None = None
    session: int | None = None
    believe_units: bool = False


def add_csv_arguments(parser: argparse.ArgumentParser, one_file: bool = True) -> None:
    """The arguments that say how a CSV is to be read. one_file: a session can be chosen too."""
    group = parser.add_argument_group("reading a CSV from elsewhere")
    group.add_argument("--columns", metavar="ROLE=NAME,...", help="names of the columns, e.g. "
                       "time=T,pitot=q,angled=dp; roles: " + ", ".join(ROLES))
    group.add_argument("--units", metavar="ROLE=UNIT,...", help="their units, e.g. "
                       "time=ms,pitot=hPa,angled=hPa; not needed where the name ends in one")
    group.add_argument("--map", type=Path, metavar="FILE", help="the same in a TOML file, tables "
                       "[columns] and [units]")
    group.add_argument("--separator", choices=SEPARATORS, help="what stands between columns")
    group.add_argument("--decimal", choices=DECIMALS, help="what stands before the fraction")
    group.add_argument("--believe-units", action="store_true",
                       help="take the units as stated, even where the numbers speak against them")
    if one_file:
        group.add_argument("--session", type=int, metavar="N", help="only this session of the "
                           "file, from 1; default: all, with a fresh unit each")


def choice_from(arguments: argparse.Namespace) -> Choice:
    """The choice on the command line, with that of the mapping file; UsageError where a word is
    not known, or the two contradict each other."""
    choice = Choice(
        _pairs("--columns", arguments.columns), _pairs("--units", arguments.units),
        SEPARATORS.get(arguments.separator), DECIMALS.get(arguments.decimal),
        getattr(arguments, "session", None), arguments.believe_units)
    _check_units("--units", choice.units)
    if choice.session is not None and choice.session < 1:
        raise UsageError(f"--session is {choice.session}; sessions count from 1")
    if arguments.map:
        choice = _merged(choice, arguments.map)
    return choice


def _pairs(option: str, text: str | None) -> dict[str, str]:
    found: dict[str, str] = {}
    for part in text.split(",") if text is not None else []:
        role, sign, value = (piece.strip() for piece in part.partition("="))
        if not sign or not value:
            raise UsageError(f"{option}: {part.strip()!r} is not ROLE=...; write for example "
                             f"{option} time=... (a name with a comma in it goes into --map FILE)")
        _check_role(option, role)
        if role in found:
            raise UsageError(f"{option}: {role} stands twice; keep one")
        found[role] = value
    return found


def _check_role(where: str, role: str) -> None:
    if role not in ROLES:
        raise UsageError(f"{where}: {role!r} is no role of a column; use " + ", ".join(ROLES))


def _check_units(where: str, units: dict[str, str]) -> None:
    """Units of known roles become spelt as in the table."""
    for role, text in units.items():
        _check_role(where, role)
        unit = find_unit(role, text)
        if role == "flap" or unit is None:
            raise UsageError(f"{where}: {role} cannot be in {text!r}; " + (
                "flap settings have no unit" if role == "flap" else f"use {unit_choice(role)}"))
        units[role] = unit


def _merged(choice: Choice, path: Path) -> Choice:
    said = read_mapping(path)
    columns, units = said.pop("columns", {}), said.pop("units", {})
    _check_units(f"{path}: [units]", units)
    for role in columns:
        _check_role(f"{path}: [columns]", role)
    for key, words in (("separator", SEPARATORS), ("decimal", DECIMALS)):
        if key in said and said[key] not in words:
            raise UsageError(f"{path}: {key} is {said[key]!r}; use " + " or ".join(words))
    _refuse_contradiction(path, "--columns", columns, choice.columns)
    _refuse_contradiction(path, "--units", units, choice.units)
    merged = {"separator": SEPARATORS.get(said.get("separator", "")),
              "decimal": DECIMALS.get(said.get("decimal", ""))}
    line = {"separator": choice.separator, "decimal": choice.decimal}
    for key, value in line.items():
        if value is not None and merged[key] not in (None, value):
            raise UsageError(f"{path}: {key} differs from --{key}; make them agree")
    return replace(choice, columns={**columns, **choice.columns}, units={**units, **choice.units},
                   separator=line["separator"] or merged["separator"],
                   decimal=line["decimal"] or merged["decimal"])


def _refuse_contradiction(path: Path, option: str, there: dict[str, str],
                          here: dict[str, str]) -> None:
    for role in there.keys() & here.keys():
        if there[role] != here[role]:
            raise UsageError(f"{path}: {role} is {there[role]!r}, but {here[role]!r} in {option}; "
                             "make them agree")
