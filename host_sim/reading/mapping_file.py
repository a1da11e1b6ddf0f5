"""The mapping file: how to read a CSV from elsewhere, as TOML.

    separator = "semicolon"     # comma, semicolon or tab; may be left out
    decimal = "comma"           # point or comma; may be left out
    [columns]
    time = "T"
    [units]
    time = "ms"
"""

import re
import tomllib
from pathlib import Path
from typing import Any

from host_sim.errors import UsageError
from host_sim.reading.text_file import read_text, too_much

_TABLES, _WORDS = ("columns", "units"), ("separator", "decimal")
_PLACE = re.compile(r" \(at line (\d+), column \d+\)$")


def read_mapping(path: Path) -> dict[str, Any]:
    """The file's content: only names that are known, tables of text to text, and words.
    UsageError otherwise; what the names and words mean is not looked at."""
    text = read_text(path, "mapping", "TOML")
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _PLACE.search(str(error))
        line = f"{found[1]}" if found else "1"
        raise UsageError(f"{path}:{line}: mapping is not valid TOML "
                         f"({_PLACE.sub('', str(error))}); correct that line") from error
    except (RecursionError, ValueError) as error:
        raise too_much(path, "mapping") from error
    _check(path, said)
    return said


def _check(path: Path, said: dict[str, Any]) -> None:
    for name, value in said.items():
        if name in _TABLES and isinstance(value, dict):
            for role, text in value.items():
                if not isinstance(text, str):
                    raise UsageError(f"{path}: [{name}] {role} must be text in quotes")
        elif name not in _WORDS or not isinstance(value, str):
            raise UsageError(f"{path}: {name!r} does not belong in a mapping; it may hold the "
                             "tables [columns] and [units], and separator and decimal as text")
