"""JSON files from users, with errors that name file, line and remedy."""

import json
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.reading.text_file import read_text, too_much

WHOLE = "file"  # the loaders' name for a problem of the whole
_SHOWN_MOST = 300  # characters; the firmware's own remedies are shorter


class _StandsTwice(Exception):
    """A name that an object holds twice; `json` alone would keep the last without a word."""


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = {}
    for name, value in pairs:
        if name in found:
            raise _StandsTwice(name)
        found[name] = value
    return found


def read_json(path: Path, what: str) -> object:
    """The content of a JSON file. what: its name in the error, e.g. "calibration"."""
    text = read_text(path, what, "JSON")
    try:
        return json.loads(text, object_pairs_hook=_once)
    except _StandsTwice as error:
        name = str(error)
        raise UsageError(f"{path}:{line_of(path, name)}: {what} field {_one_line(name)} stands "
                         "twice; keep one") from error
    except json.JSONDecodeError as error:
        raise UsageError(f"{path}:{error.lineno}: {what} is not valid JSON "
                         f"({error.msg}, column {error.colno}); correct that line") from error
    except (ValueError, RecursionError) as error:
        raise too_much(path, what) from error


def line_of(path: Path, field: str) -> int:
    """The line on which a field first stands in a JSON file, 1 where it does not."""
    key = f'"{field.split("[")[0]}"'
    for number, line in enumerate(path.read_text(encoding="utf-8-sig").splitlines(), start=1):
        if key in line:
            return number
    return 1


def refuse_problems(path: Path, what: str, problems: list[tuple[str, str]]) -> None:
    """Raise UsageError for the first of the problems that a firmware loader found, if any."""
    if problems:
        field, text = problems[0]
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        where = what if field == WHOLE else f"{what} field {_one_line(field)}"
        raise UsageError(f"{path}:{line_of(path, field)}: {where} {_one_line(text)}{more}")


def _one_line(text: str) -> str:
    """Text from a user's file, with line breaks and the like written out; its start only."""
    if len(text) > _SHOWN_MOST:
        text = text[:_SHOWN_MOST] + "..."
    return text if text.isprintable() else repr(text)
