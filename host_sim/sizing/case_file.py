"""A case as a TOML file: only names that are known, each of the right kind. Meaning: `reading`."""

import re
import tomllib
from pathlib import Path
from typing import Any

from host_sim.errors import UsageError
from host_sim.reading.text_file import read_text, too_much

PLAIN = ("stall", "top", "height", "plumbing", "probe_angle", "stall_angle", "zero_lift_angle",
         "limit_load", "overspeed_pc", "sideslip", "warm_up", "change")
LINES = ("pitot_line", "angled_line")
LINE_NAMES = ("length", "bore", "volume")
SENSOR_NAMES = ("name", "range", "low", "high", "output", "bits", "resolution", "band_pc", "noise",
                "drift", "response")
PAIR_NAMES = ("pitot", "angled")
_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
Said = dict[str, Any]


def read_case(path: Path) -> Said:
    """The file's content. UsageError names the file, the name in it and what may stand there."""
    text = read_text(path, "case", "TOML")
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _PLACE.search(str(error))
        line = (found and found[1]) or str(1 + text.rstrip("\n").count("\n") if found else 1)
        raise UsageError(f"{path}:{line}: case is not valid TOML ({_PLACE.sub('', str(error))}); "
                         "correct that line") from error
    except (RecursionError, ValueError) as error:
        raise too_much(path, "case") from error
    _check_names(said, (*PLAIN, *LINES, "settings", "sensor", "pair"), f"{path}:")
    for name in (*LINES, "settings"):
        if not isinstance(said.get(name, {}), dict):
            raise UsageError(f"{path}: {name} must be a table: [{name}]")
    for name in LINES:
        _check_names(said.get(name, {}), LINE_NAMES, f"{path}: [{name}]")
    for name, known in (("sensor", SENSOR_NAMES), ("pair", PAIR_NAMES)):
        _check_list(said.get(name, []), name, known, path)
    return said


def _check_list(found: object, name: str, known: tuple[str, ...], path: Path) -> None:
    if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
        raise UsageError(f"{path}: {name} must be written as [[{name}]], once for each {name}")
    for one in found:
        _check_names(one, known, f"{path}: [[{name}]]")


def _check_names(table: Said, known: tuple[str, ...], where: str) -> None:
    for name in table:
        if name not in known:
            raise UsageError(f"{where} {name!r} is not known here; known: " + ", ".join(known))
