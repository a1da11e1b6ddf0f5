"""Version 0 of the records: JSON files made by hand or on the desk.

Spec: hardware_notes/records.md. Read only where no record of the kind exists, and never
changed. Runs at start-up; may allocate.
"""

import json

from alula import calibration
from alula.intmath import is_whole
from alula.pressure_ratio import PLUMBINGS
from alula.record_payloads import CALIBRATION, SETTINGS, ZERO

_MARKS = "{}[]:,"
_BLANKS = " \t\r\n"
FILES = {SETTINGS: "settings.json", ZERO: "zero.json", CALIBRATION: "calibration.json"}


def value_of(kind: int, data: bytes) -> tuple:
    """(value, problem) of a JSON file's content; the value is None where there is a problem."""
    try:
        text = str(data, "utf-8")
        record = json.loads(text)
        # no name or word of ours holds a backslash, and MicroPython takes false escapes
        strict = "\\" not in text and _marks_in(text) == _marks_of(record)
    except (ValueError, RuntimeError, MemoryError):  # RuntimeError: nested too deeply
        return None, "is not JSON; copy it to the board again"
    if not strict:
        return None, ("is not strict JSON: a comma, colon, bracket or backslash is amiss, or a "
                      "name stands twice; correct it")
    if not isinstance(record, dict):
        return None, "is not a JSON object; copy it to the board again"
    if kind == ZERO:
        return _zero(record)
    return _calibration(record) if kind == CALIBRATION else (record, "")


def _marks_in(text: str) -> list:
    """How often each of _MARKS, and last a word, stands in a JSON text; a string is one word."""
    found = [0] * (len(_MARKS) + 1)
    inside = in_word = False
    for character in text:
        if inside:
            inside = character != '"'
            continue
        inside = character == '"'
        if character in _MARKS:
            found[_MARKS.find(character)] += 1
        plain = character not in _MARKS and character not in _BLANKS
        found[-1] += inside or plain and not in_word
        in_word = plain and not inside
    return found


def _marks_of(value) -> list:
    """The same for the strict JSON text of a value; ValueError for a name that is no text.

    MicroPython's reader is lenient: it takes `{"a" 1 2: 3]`, and of a name that stands twice it
    keeps the last. What the desk refuses must not mean something on the board.
    """
    found = [0] * (len(_MARKS) + 1)
    queue = [value]
    while queue:
        part = queue.pop()
        if isinstance(part, dict):
            if not all(isinstance(name, str) for name in part):
                raise ValueError("a name that is no text")
            at, parts = 0, list(part.values())
            found[4] += len(parts)
            found[-1] += len(parts)
        elif isinstance(part, list):
            at, parts = 2, part
        else:
            found[-1] += 1
            continue
        found[at] += 1
        found[at + 1] += 1
        found[5] += max(0, len(parts) - 1)
        queue += parts
    return found


def plain_calibration(value: dict) -> dict:
    """A calibration value as the mapping that `alula.calibration` checks and reads."""
    found = {"curves": [{"flap": curve["flap"], "points": curve["points"]}
                        for curve in value["curves"]]}
    if value["plumbing"] is not None:
        found["plumbing"] = value["plumbing"]
    return found


def calibration_problem(record, plumbing) -> str:
    """The first reason to refuse a calibration that `alula.calibration` finds; empty if none."""
    found = calibration.problems(record, PLUMBINGS[0] if plumbing is None else plumbing)
    return "%s %s" % found[0] if found else ""


def zero_of(record) -> tuple:
    """A stored zero: ((pitot_dpa, angled_dpa) or None, problem). {"pitot_dpa": 0, "angled_dpa": 0}
    is a zero of exactly zero; no record is no zero."""
    if record is None:
        return None, ""
    if isinstance(record, dict) and sorted(record) == ["angled_dpa", "pitot_dpa"]:
        values = (record["pitot_dpa"], record["angled_dpa"])
        if all(is_whole(v) and -5000 <= v <= 5000 for v in values):
            return values, ""
    return None, "zero must be {\"pitot_dpa\": n, \"angled_dpa\": n}, each within -5000 to 5000"


def _zero(record: dict) -> tuple:
    pair, problem = zero_of(record)
    if problem:
        return None, problem
    return {"pitot_dpa": pair[0], "angled_dpa": pair[1], "spread_pitot_dpa": None,
            "spread_angled_dpa": None, "temperature_dc": None, "count": None}, ""


def _calibration(record: dict) -> tuple:
    plumbing = record.get("plumbing")
    problem = calibration_problem(record, plumbing)
    if problem:
        return None, problem
    curves = [{"flap": flap, "method": "from-file", "entry_rate_ckt_s": None, "runs": None,
               "spread_bp": None, "points": [list(point) for point in points]}
              for flap, points in calibration.curves_of(record)]
    return {"plumbing": plumbing, "fingerprint": None, "curves": curves}, ""
