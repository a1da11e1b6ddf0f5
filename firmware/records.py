"""The small JSON files on the board that tell the unit what it is and what it has learned."""

import json

SETTINGS = "settings.json"
CALIBRATION = "calibration.json"
ZERO = "zero.json"


def read(path: str) -> tuple:
    """What a record file holds: (value, problem). No file: (None, ""). Runs at start-up only."""
    try:
        with open(path) as file:
            text = file.read()
    except OSError:
        return None, ""
    try:
        return json.loads(text), ""
    except ValueError:
        return None, path + " is not JSON; copy it to the board again"


def zero_of(record) -> tuple:
    """A stored zero: ((pitot_dpa, angled_dpa) or None, problem). {"pitot_dpa": 0, "angled_dpa": 0}
    is a zero of exactly zero; no record is no zero."""
    if record is None:
        return None, ""
    if isinstance(record, dict) and sorted(record) == ["angled_dpa", "pitot_dpa"]:
        values = (record["pitot_dpa"], record["angled_dpa"])
        if all(isinstance(v, int) and not isinstance(v, bool) and -5000 <= v <= 5000
               for v in values):
            return values, ""
    return None, "zero must be {\"pitot_dpa\": n, \"angled_dpa\": n}, each within -5000 to 5000"
