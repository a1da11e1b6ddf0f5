"""Which column of a file holds what, and in which unit: stated, never guessed."""

import csv
from dataclasses import dataclass

from host_sim.errors import UsageError
from host_sim.reading.csv_choice import Choice
from host_sim.reading.csv_error import line_error, shown
from host_sim.reading.csv_units import (
    OPTIONAL,
    PLAIN_UNIT,
    REQUIRED,
    ROLES,
    UNITS,
    find_unit,
    plain_name,
    split_name,
    unit_choice,
)

_WANTED = ",".join(plain_name(role) for role in REQUIRED) + "".join(
    f"[,{plain_name(role)}]" for role in OPTIONAL)
_LISTED_MOST = 12
_NAME_MOST = 40
_SEPARATOR_WORDS = {",": "comma", ";": "semicolon", "\t": "tab"}


@dataclass(frozen=True)
class Column:
    """One column in use. name: as it is shown. factor: from the file's number to the reader's
    (see csv_units.UNITS)."""

    role: str
    name: str
    at: int
    unit: str
    factor: float


@dataclass(frozen=True)
class Layout:
    """How a file is laid out. width: cells up to the last named one. unused: names passed over."""

    header: str
    separator: str
    columns: dict[str, Column]
    width: int
    unused: list[str]


def split_cells(text: str, separator: str) -> list[str]:
    """The cells of one line; csv.Error where a quote is not closed."""
    if '"' not in text:
        return text.split(separator)
    return next(csv.reader([text], delimiter=separator, strict=True))


def read_layout(where: str, line: int, header: str, choice: Choice) -> Layout:
    """The layout that a header states. UsageError where anything is missing or ambiguous."""
    separator = choice.separator or _separator(where, line, header)
    try:
        names = [name.strip() for name in split_cells(header, separator)]
    except csv.Error as error:
        raise line_error(where, line, f"the header is not CSV ({error}); "
                         "export it as plain CSV") from error
    while names and not names[-1]:
        names.pop()
    columns = {role: column for role in ROLES
               if (column := _column(where, line, role, names, choice)) is not None}
    used = {column.at for column in columns.values()}
    if len(used) < len(columns):
        raise line_error(where, line, "one column is named for two roles; name another")
    return Layout(header, separator, columns, len(names),
                  [name for i, name in enumerate(names) if name and i not in used])


def _separator(where: str, line: int, header: str) -> str:
    """What stands between the names, where only one thing can."""
    bare = "".join(header.split('"')[::2])  # without what stands in quotes
    found = [separator for separator in _SEPARATOR_WORDS if separator in bare]
    if len(found) > 1:
        raise line_error(where, line, "the header holds " + " and ".join(
            _SEPARATOR_WORDS[one] for one in found) + "; say which stands between columns: "
            "--separator " + "|".join(_SEPARATOR_WORDS[one] for one in found))
    return found[0] if found else ","


def _column(where: str, line: int, role: str, names: list[str], choice: Choice) -> Column | None:
    if role in choice.columns:
        wanted = choice.columns[role]
        found = [i for i, name in enumerate(names) if name == wanted]
        if not found:
            raise line_error(where, line, f"there is no column {shown(wanted)} for {role}; "
                             f"the header has {_listed(names)}")
    else:
        found = _own_names(where, line, role, names, choice)
    if len(found) > 1:
        raise line_error(where, line, f"{role} could be " + " or ".join(
            shown(names[i]) for i in found) + f": it stands twice; keep one, or say "
            f"--columns {role}=NAME")
    if not found and role in REQUIRED:
        raise line_error(where, line, f"column {plain_name(role)} is missing; name it in the "
                         f"header ({_WANTED}) or by --columns {role}=NAME; "
                         f"the header has {_listed(names)}")
    if not found:
        return None
    name = names[found[0]]
    unit = _unit(where, line, role, name, choice)
    label = name if name.isprintable() and len(name) <= _NAME_MOST else shown(name)
    return Column(role, label, found[0], unit, UNITS[role][unit])


def _own_names(where: str, line: int, role: str, names: list[str], choice: Choice) -> list[int]:
    """Columns named as in the plain header; of several those with a unit that the role has."""
    found = [i for i, name in enumerate(names)
             if name.casefold() == role or split_name(name)[0].casefold() == role]
    good = [i for i in found if _unit_in_name(role, names[i]) is not None]
    if good or role in choice.units or len(found) != 1 or role == "flap":
        return good or found
    _unit(where, line, role, names[found[0]], choice)  # raises: it has none
    return found


def _unit_in_name(role: str, name: str) -> str | None:
    if role == "flap":
        return "" if split_name(name)[1] is None or name.casefold() == role else None
    unit = split_name(name)[1]
    return None if unit is None else find_unit(role, unit)


def _unit(where: str, line: int, role: str, name: str, choice: Choice) -> str:
    if not PLAIN_UNIT[role]:
        return ""
    said, stands = choice.units.get(role), _unit_in_name(role, name)
    if said is not None and stands is not None and said != stands:
        raise line_error(where, line, f"column {shown(name)} names {stands}, but --units (or the "
                         f"mapping) says {said}; make them agree")
    unit = said or stands
    if unit is None:
        raise _no_unit(where, line, role, name)
    return unit


def _no_unit(where: str, line: int, role: str, name: str) -> UsageError:
    return line_error(where, line, f"column {shown(name)} has no unit known for {role}; call it "
                      f"{plain_name(role)} (or with the unit it has), or say --units {role}="
                      + unit_choice(role))


def _listed(names: list[str]) -> str:
    more = f" and {len(names) - _LISTED_MOST} more" if len(names) > _LISTED_MOST else ""
    return ", ".join(shown(name) for name in names[:_LISTED_MOST]) + more
