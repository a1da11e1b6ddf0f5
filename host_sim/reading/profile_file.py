"""A settings file with a profile around it: named, versioned, and bound to one sensor
configuration, as `alula tune` signs it off.

    {"profile": {"name": "Rill", "version": 1, "sensors": "89abcdef", "content": "..."},
     "settings": {...}}

sensors: the fingerprint of sensors and plumbing (hardware_notes/records.md), eight hexadecimal
digits, or null where the flights did not tell. content: SHA-256 of the JSON text of name, version,
sensors and settings, keys sorted, no blanks; no date is in it, so the same content is the same
file. The board's own reader of a bare settings.json refuses the wrapper: load it with
`alula board settings load`, which unwraps it.
"""

import hashlib
import json
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.reading.json_file import read_json
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.settings import load  # noqa: E402
from alula.vault import fingerprint  # noqa: E402

_OUTER = {"profile", "settings"}
_FIELDS: dict[str, type | tuple[type, ...]] = {
    "name": str, "version": int, "sensors": (str, type(None)), "content": str}
NAME_MOST = 40


def wrap(name: str, version: int, settings: dict) -> dict:
    """Sign a settings record off. UsageError where the name or the version is no use."""
    if not name.strip() or len(name) > NAME_MOST or not name.isprintable():
        raise UsageError(f"--name {name!r}: give a name of 1 to {NAME_MOST} plain characters")
    if version < 1:
        raise UsageError(f"--version-number {version}: versions count from 1")
    head = {"name": name.strip(), "version": version, "sensors": sensors_of(settings)}
    return {"profile": {**head, "content": _content(head, settings)}, "settings": settings}


def sensors_of(record: dict) -> str | None:
    """Fingerprint of a record's sensors, None where it does not name them all."""
    settings, problems = load(record)
    if problems or settings.missing:
        return None
    return f"{fingerprint(settings):08x}"


def unwrap(path: Path, record: object) -> object:
    """The settings inside a profile; anything else as it is. UsageError where the profile is not
    whole, or its settings are not those that were signed off."""
    if not isinstance(record, dict) or "profile" not in record:
        return record
    head, settings = record["profile"], record.get("settings")
    if set(record) != _OUTER or not isinstance(settings, dict) or not _is_head(head):
        raise UsageError(f"{path}:1: settings with a profile need exactly a profile (name, "
                         "version, sensors, content) and settings; take the file as `alula tune` "
                         "wrote it")
    if head["content"] != _content(head, settings):
        raise UsageError(f"{path}:1: the profile {head['name']!r} was changed after it was signed "
                         "off: its content hash does not fit. Take the file as it was, or tune "
                         "again; a bare settings file may be edited")
    return settings


def refuse_other_sensors(path: Path, unit_record: dict) -> None:
    """UsageError where a settings file has a profile that was made with other sensors or plumbing
    than a unit's record names. A bare settings file passes."""
    record = read_json(path, "settings")
    if not isinstance(record, dict) or "profile" not in record:
        return
    unwrap(path, record)
    head, theirs = record["profile"], sensors_of(unit_record)
    if head["sensors"] is None or head["sensors"] != theirs:
        raise UsageError(f"{path}: the profile {head['name']!r} was made with "
                         f"{_named(head['sensors'])}, the unit has {_named(theirs)}: thresholds "
                         "and smoothing found with one do not hold for the other; tune on flights "
                         "of units like this one")


def _named(sensors: str | None) -> str:
    return f"sensor configuration {sensors}" if sensors else "a sensor configuration not stated"


def _is_head(head: object) -> bool:
    return (isinstance(head, dict) and set(head) == set(_FIELDS)
            and all(isinstance(head[name], kind) for name, kind in _FIELDS.items()))


def _content(head: dict, settings: dict) -> str:
    text = json.dumps({**{name: head[name] for name in ("name", "version", "sensors")},
                       "settings": settings}, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
