"""Refuses a scenario file that is not exactly right, with the file, the key and the remedy."""

from collections.abc import Mapping
from math import isfinite
from typing import Any, NamedTuple, NoReturn

from host_sim.errors import UsageError
from host_sim.world.pilot import BESIDES, ENDS, VERBS, Phase
from host_sim.world.plumbing import Line
from host_sim.world.sensors import OUTPUT_TYPES
from host_sim.world.turbulence import LEVELS


class Between(NamedTuple):
    """A number from `low` to `high`."""

    low: float
    high: float


class OneOf(NamedTuple):
    """One of these words."""

    words: tuple[str, ...]


class Text(NamedTuple):
    """Any text."""


Rule = Between | OneOf | Text

_TOP = ("title", "setting", "field", "air", "aeroplane", "probe", "lines", "sensors", "phases")
_FIELD: dict[str, Rule] = {"name": Text(), "elevation_m": Between(-400.0, 4000.0)}
_AIR: dict[str, Rule] = {
    "temperature_offset_c": Between(-40.0, 40.0),
    "wind_kt": Between(0.0, 25.0),
    "turbulence": OneOf(tuple(LEVELS)),
}
_GUST: dict[str, Rule] = {
    "at_s": Between(0.0, 3600.0),
    "up_ms": Between(-20.0, 20.0),
    "length_m": Between(1.0, 1000.0),
}
_AEROPLANE: dict[str, Rule] = {"mass_kg": Between(450.0, 750.0)}
_PROBE: dict[str, Rule] = {
    "angle_deg": Between(20.0, 70.0),
    "strength": Between(1.0, 3.0),
    "static_error": Between(-0.2, 0.2),
    "upwash_deg_per_cl": Between(0.0, 6.0),
    "ahead_m": Between(-5.0, 5.0),
    "outboard_m": Between(-8.0, 8.0),
}
_LINE: dict[str, Rule] = {
    "length_m": Between(0.1, 20.0),
    "bore_mm": Between(0.5, 10.0),
    "volume_cm3": Between(0.0, 500.0),
}
_SENSOR: dict[str, Rule] = {
    "output": OneOf(OUTPUT_TYPES),
    "range_pa": Between(100.0, 20000.0),
    "noise_pa": Between(0.0, 200.0),
    "zero_error_pa": Between(-500.0, 500.0),
}
_PHASE: dict[str, Between] = {
    "seconds": Between(0.1, 240.0),
    "until_height_m": Between(0.0, 4000.0),
    "until_speed_kt": Between(0.0, 140.0),
    "until_turned_deg": Between(1.0, 1080.0),
    "until_past_stall_deg": Between(-5.0, 10.0),
    "until_lift": Between(0.1, 1.0),
    "speed_kt": Between(1.0, 130.0),
    "rotate_kt": Between(30.0, 80.0),
    "bank_deg": Between(-70.0, 70.0),
    "flap_deg": Between(0.0, 35.0),
    "slip_deg": Between(-15.0, 15.0),
    "throttle": Between(0.0, 1.0),
    "rate_kt_s": Between(0.1, 8.0),
    "rate_deg_s": Between(0.5, 20.0),
    "descent_deg": Between(0.5, 10.0),
    "load_factor": Between(0.2, 4.0),
    "flare_m": Between(1.0, 20.0),
    "lift": Between(0.1, 0.95),
    "react_s": Between(0.0, 20.0),
    "button_s": Between(0.0, 20.0),
    "wash_pa": Between(0.0, 600.0),
    "wind_from_deg": Between(0.0, 180.0),
}
PARK_S = 6.0


def check_file(file: str, table: Mapping[str, Any]) -> dict[str, Any]:
    """The checked parts of a scenario; `lines` and `phases` already built. Raises UsageError."""
    _known(file, "the file", table, _TOP)
    title, setting = (_text(file, table, key) for key in ("title", "setting"))
    air = dict(_table(file, table, "air"))
    gusts = _list(file, "[air] gusts", air.pop("gusts", []))
    sensors = _table(file, table, "sensors")
    _known(file, "[sensors]", sensors, ("pitot", "angled"))
    return {
        "title": title,
        "setting": setting,
        "field": _checked(file, "[field]", _table(file, table, "field"), _FIELD),
        "air": _checked(file, "[air]", air, _AIR),
        "gusts": [_gust(file, number, row) for number, row in enumerate(gusts, 1)],
        "aeroplane": _checked(file, "[aeroplane]", _table(file, table, "aeroplane"), _AEROPLANE),
        "probe": _checked(file, "[probe]", _table(file, table, "probe"), _PROBE),
        "lines": _lines(file, _table(file, table, "lines")),
        "pitot": _sensor(file, sensors, "pitot"),
        "angled": _sensor(file, sensors, "angled"),
        "phases": _phases(file, table),
    }


def _refuse(file: str, where: str, what: str) -> NoReturn:
    raise UsageError(f"{file}: {where}: {what}")


def _known(file: str, where: str, table: Mapping[str, Any], keys: tuple[str, ...]) -> None:
    for key in table:
        if key not in keys:
            _refuse(file, where, f"unknown key '{key}'; known are {', '.join(keys)}")


def _table(file: str, table: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    found = table.get(key, {})
    if not isinstance(found, Mapping):
        _refuse(file, f"'{key}'", f"must be a table; write [{key}] on a line of its own")
    return found


def _list(file: str, where: str, found: Any) -> list[Mapping[str, Any]]:
    if not isinstance(found, list) or not all(isinstance(row, Mapping) for row in found):
        _refuse(file, where, "must be a list of tables; start each with [[...]]")
    return found


def _text(file: str, table: Mapping[str, Any], key: str) -> str:
    found = table.get(key)
    if not isinstance(found, str) or not found.strip():
        _refuse(file, f"'{key}'", f'missing or not text; add {key} = "..." at the top')
    return found.strip()


def _checked(
    file: str, where: str, table: Mapping[str, Any], rules: Mapping[str, Rule]
) -> dict[str, Any]:
    _known(file, where, table, tuple(rules))
    return {key: _value(file, f"{where} {key}", table[key], rules[key]) for key in table}


def _value(file: str, where: str, found: Any, rule: Rule) -> Any:
    if isinstance(rule, Text):
        if not isinstance(found, str):
            _refuse(file, where, f"{found!r} is not text; put it in quotes")
        return found
    if isinstance(rule, OneOf):
        if found not in rule.words:
            _refuse(file, where, f"{found!r} is not known; use one of {', '.join(rule.words)}")
        return found
    if isinstance(found, bool) or not isinstance(found, int | float) or not isfinite(found):
        _refuse(file, where, f"{found!r} is not a number; write a plain number")
    low, high = rule
    if not low <= found <= high:
        _refuse(file, where, f"{found} is outside {low:g} to {high:g}; choose a value inside")
    return float(found)


def _gust(file: str, number: int, row: Mapping[str, Any]) -> dict[str, Any]:
    where = f"gust {number}"
    values = _checked(file, where, row, _GUST)
    for key in _GUST:
        if key not in values:
            _refuse(file, where, f"'{key}' is missing; a gust needs {', '.join(_GUST)}")
    return values


def _lines(file: str, table: Mapping[str, Any]) -> dict[str, Line]:
    _known(file, "[lines]", table, ("pitot", "angled", "static"))
    return {
        key: Line(**_checked(file, f"[lines.{key}]", _table(file, table, key), _LINE))
        for key in table
    }


def _sensor(file: str, sensors: Mapping[str, Any], key: str) -> dict[str, Any]:
    return _checked(file, f"[sensors.{key}]", _table(file, sensors, key), _SENSOR)


def _phases(file: str, table: Mapping[str, Any]) -> list[Phase]:
    rows = _list(file, "phases", table.get("phases", []))
    phases = [_phase(file, number, row) for number, row in enumerate(rows, 1)]
    if not phases or phases[0].do != "park" or phases[0].values.get("seconds", 0.0) < PARK_S:
        _refuse(
            file,
            "phase 1",
            f'must be do = "park" with seconds of {PARK_S:.0f} or more: '
            "the unit takes its zero there",
        )
    return phases


def _phase(file: str, number: int, row: Mapping[str, Any]) -> Phase:
    where = f"phase {number}"
    do = row.get("do")
    if do not in VERBS:
        _refuse(file, where, f"do = {do!r} is not known; use one of {', '.join(VERBS)}")
    where = f"{where} ({do})"
    verb = VERBS[do]
    keys = tuple(dict.fromkeys((*verb.defaults, *ENDS, *BESIDES)))
    given = {key: row[key] for key in row if key not in ("do", "label")}
    values = _checked(file, where, given, {key: _PHASE[key] for key in keys})
    for key, usual in verb.defaults.items():
        if key not in values and usual is None:
            _refuse(file, where, f"'{key}' is missing; add it")
        values.setdefault(key, usual)
    if not verb.ends and not any(key in values for key in ENDS):
        _refuse(file, where, f"has no end; add one of {', '.join(ENDS)}")
    label = row.get("label", "")
    return Phase(
        do, values, _value(file, f"{where} label", label, Text()), f"{file}: phase {number}"
    )
