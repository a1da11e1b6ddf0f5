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

_TABLES, _WORDS = ("columns", "units"), ("separator", "decimal")
_PLACE = re.compile(r" \(at line (\d+), column \d+\)$")


def read_mapping(path: Path) -> dict[str, Any]:
    """The file's content: only names that are known, tables of text to text, and words.
    UsageError otherwise; what the names and words mean is not looked at."""
    try:
        said = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise UsageError(f"{path}: mapping cannot be read ({error.strerror}); "
                         "check the name") from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: mapping is not text; name a TOML file") from error
    except tomllib.TOMLDecodeError as error:
        found = _PLACE.search(str(error))
        line = f"{found[1]}" if found else "1"
        raise UsageError(f"{path}:{line}: mapping is not valid TOML "
                         f"({_PLACE.sub('', str(error))}); correct that line") from error
    except (RecursionError, ValueError) as error:
        raise UsageError(f"{path}: mapping holds a number too long, or brackets too deep, to be "
                         "read; correct the file") from error
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
