"""The kinds of record, value to payload and back. Spec: hardware_notes/records.md.

A value is a mapping, as from JSON, and a whole number for the reference; what was never set is
None. Encoders raise ValueError for what does not fit its field: the board's
`struct.pack` would wrap it without a word.
"""

import json
import struct

from alula.record_checks import decode_checks, encode_checks
from alula.record_fields import (
    SMALL,
    flags_of,
    mapping_with,
    optional,
    same_again,
    shown,
    unpack,
    whole_in,
)

SETTINGS, ZERO, CALIBRATION, REFERENCE, STOP, STARTS, ANCHOR, CHECKS = 1, 2, 3, 4, 5, 6, 7, 8
NAMES = {SETTINGS: "settings", ZERO: "zero", CALIBRATION: "calibration", REFERENCE: "reference",
         STOP: "stop", STARTS: "starts", ANCHOR: "anchor", CHECKS: "checks"}
VERSIONS = {SETTINGS: 1, ZERO: 1, CALIBRATION: 1, REFERENCE: 1, STOP: 1, STARTS: 1,
            ANCHOR: 1, CHECKS: 1}
START_WORDS = ("power", "watchdog", "restart")
STOP_MOST = 1200  # characters

PLUMBING_NUMBERS = {None: 0, "port-static": 1, "pitot-port": 2, "opposed": 3}
METHOD_NUMBERS = {"with-n": 1, "pressures-only": 2, "marked-by-hand": 3, "from-file": 4}
PRESSURE_LIMIT_DPA = 100000
LIFT_MOST_PM = 1500
CURVES_MOST = 4
POINTS_LEAST, POINTS_MOST = 2, 8

_ZERO = "<BiiHHhH"
_HEAD = "<BBIB"
_CURVE = "<bBBHBHB"
_POINT = "<hH"
_REFERENCE = "<BH"
_STARTS = "<BHHHH"
_START_FIELDS = START_WORDS + ("in_air",)
_ZERO_FIELDS = ("pitot_dpa", "angled_dpa", "spread_pitot_dpa", "spread_angled_dpa",
                "temperature_dc", "count")
_CALIBRATION_FIELDS = ("plumbing", "fingerprint", "curves")
_CURVE_FIELDS = ("flap", "method", "entry_rate_ckt_s", "runs", "spread_bp", "points")


def _plain(text, name: str) -> str:
    if not isinstance(text, str) or not all(" " <= c <= "~" and c not in '"\\' for c in text):
        raise ValueError("%s must be printable ASCII without quotes" % name)
    return text


def encode_settings(value) -> bytes:
    """Settings as JSON text; the same bytes from every interpreter."""
    if not isinstance(value, dict):
        raise ValueError("settings must be an object of names and values")
    for name in value:
        _plain(name, "a setting's name")
    lines = []
    for name in sorted(value):
        word = value[name]
        text = ('"%s"' % _plain(word, name) if isinstance(word, str)
                else "%d" % whole_in(word, name, -SMALL, SMALL - 1))
        lines.append('"%s": %s' % (name, text))
    return ("{\n" + ",\n".join(lines) + "\n}\n").encode()


def decode_settings(payload: bytes) -> dict:
    """Settings from their JSON text, if it is written as `encode_settings` writes it."""
    try:
        value = json.loads(str(payload, "utf-8"))
    except (ValueError, RuntimeError, MemoryError):  # RuntimeError: nested too deeply
        raise ValueError("is not JSON text") from None
    return same_again(encode_settings, value, payload)


def encode_zero(value) -> bytes:
    """The zero of both sensors."""
    mapping_with(value, _ZERO_FIELDS, "zero")
    pressures = [whole_in(value[name], name, -PRESSURE_LIMIT_DPA, PRESSURE_LIMIT_DPA)
                 for name in _ZERO_FIELDS[:2]]
    rest = [value[name] for name in _ZERO_FIELDS[2:]]
    limits = ((0, 65535), (0, 65535), (-32768, 32767), (0, 65535))
    numbers = [optional(rest[i], _ZERO_FIELDS[2 + i], limits[i][0], limits[i][1])
               for i in range(4)]
    return struct.pack(_ZERO, flags_of(rest), pressures[0], pressures[1], numbers[0], numbers[1],
                       numbers[2], numbers[3])


def decode_zero(payload: bytes) -> dict:
    """The zero of both sensors; 0 is a zero, None is not set."""
    fields, _ = unpack(_ZERO, payload)
    value = {}
    for i in range(len(_ZERO_FIELDS)):
        number = fields[1 + i]
        value[_ZERO_FIELDS[i]] = number if i < 2 else shown(fields[0], i - 2, number)
    return same_again(encode_zero, value, payload)


def encode_calibration(value) -> bytes:
    """Every curve, with how it was made and for which sensors."""
    mapping_with(value, _CALIBRATION_FIELDS, "calibration")
    mark, curves = value["fingerprint"], value["curves"]
    plumbing = _number_of(PLUMBING_NUMBERS, value["plumbing"], "plumbing")
    if not isinstance(curves, (list, tuple)) or not 1 <= len(curves) <= CURVES_MOST:
        raise ValueError("curves must be a list of 1 to %d curves" % CURVES_MOST)
    found = struct.pack(_HEAD, plumbing, flags_of((mark,)),
                        optional(mark, "fingerprint", 0, 0xFFFFFFFF), len(curves))
    for i in range(len(curves)):
        found += _encode_curve(curves[i], "curves[%d]" % i)
    return found


def _encode_curve(curve, where: str) -> bytes:
    mapping_with(curve, _CURVE_FIELDS, where)
    method = _number_of(METHOD_NUMBERS, curve["method"], where + ".method")
    points = curve["points"]
    if not isinstance(points, (list, tuple)) or not POINTS_LEAST <= len(points) <= POINTS_MOST:
        raise ValueError("%s.points must be a list of %d to %d pairs"
                         % (where, POINTS_LEAST, POINTS_MOST))
    rate, runs, spread = curve["entry_rate_ckt_s"], curve["runs"], curve["spread_bp"]
    found = struct.pack(
        _CURVE, whole_in(curve["flap"], where + ".flap", -128, 127), method,
        flags_of((rate, runs, spread)), optional(rate, where + ".entry_rate_ckt_s", 0, 65535),
        optional(runs, where + ".runs", 0, 255),
        optional(spread, where + ".spread_bp", 0, 65535), len(points))
    for point in points:
        if not isinstance(point, (list, tuple)) or len(point) != 2:
            raise ValueError(where + ".points must be pairs")
        found += struct.pack(_POINT, whole_in(point[0], where + " ratio_bp", -32768, 32767),
                             whole_in(point[1], where + " lift_pm", 0, 65535))
    return found


def decode_calibration(payload: bytes) -> dict:
    """Every curve; points are lists [ratio_bp, lift_pm]."""
    (plumbing, flags, mark, count), at = unpack(_HEAD, payload)
    curves = []
    for _ in range(count):
        curve, at = _decode_curve(payload, at)
        curves.append(curve)
    value = {"plumbing": _word(PLUMBING_NUMBERS, plumbing), "fingerprint": shown(flags, 0, mark),
             "curves": curves}
    return same_again(encode_calibration, value, payload)


def _decode_curve(payload: bytes, at: int) -> tuple:
    (flap, method, flags, rate, runs, spread, count), at = unpack(_CURVE, payload, at)
    points = []
    for _ in range(count):
        point, at = unpack(_POINT, payload, at)
        points.append(list(point))
    return {"flap": flap, "method": _word(METHOD_NUMBERS, method), "points": points,
            "entry_rate_ckt_s": shown(flags, 0, rate), "runs": shown(flags, 1, runs),
            "spread_bp": shown(flags, 2, spread)}, at


def _number_of(numbers: dict, word, name: str) -> int:
    if (word is None or isinstance(word, str)) and word in numbers:
        return numbers[word]
    raise ValueError("%s is not a word this firmware knows" % name)


def _word(numbers: dict, number: int):
    for word in numbers:
        if numbers[word] == number:
            return word
    raise ValueError("names something unknown (%d)" % number)


def encode_reference(value) -> bytes:
    """The pilot's reference point, a lift share in per mille, or None for one taken back."""
    return struct.pack(_REFERENCE, flags_of((value,)), optional(value, "lift_pm", 0, LIFT_MOST_PM))


def decode_reference(payload: bytes):
    """The pilot's reference point; None where it is not set."""
    (flags, lift), _ = unpack(_REFERENCE, payload)
    return same_again(encode_reference, shown(flags, 0, lift), payload)


def encode_stop(value) -> bytes:
    """Why the program stopped: lines of printable ASCII."""
    if not isinstance(value, str) or not all(" " <= c <= "~" or c == "\n" for c in value):
        raise ValueError("a stop must be lines of printable ASCII")
    if len(value) > STOP_MOST:
        raise ValueError("a stop has at most %d characters" % STOP_MOST)
    return value.encode()


def decode_stop(payload: bytes) -> str:
    """Why the program stopped."""
    try:
        value = str(payload, "utf-8")
    except ValueError:
        raise ValueError("is not text") from None
    return same_again(encode_stop, value, payload)


def encode_starts(value) -> bytes:
    """How often the unit has started, by cause and in the air, and what the last cause was."""
    mapping_with(value, _START_FIELDS + ("last",), "starts")
    counts = [whole_in(value[name], name, 0, 65535) for name in _START_FIELDS]
    if value["last"] not in START_WORDS:
        raise ValueError("last must be one of " + ", ".join(START_WORDS))
    return struct.pack(_STARTS, START_WORDS.index(value["last"]), *counts)


def decode_starts(payload: bytes) -> dict:
    """How often the unit has started."""
    fields, _ = unpack(_STARTS, payload)
    if fields[0] >= len(START_WORDS):
        raise ValueError("names something unknown (%d)" % fields[0])
    value = {_START_FIELDS[i]: fields[1 + i] for i in range(len(_START_FIELDS))}
    value["last"] = START_WORDS[fields[0]]
    return same_again(encode_starts, value, payload)


PAYLOADS = {
    SETTINGS: (encode_settings, decode_settings),
    ZERO: (encode_zero, decode_zero),
    CALIBRATION: (encode_calibration, decode_calibration),
    REFERENCE: (encode_reference, decode_reference),
    STOP: (encode_stop, decode_stop),
    STARTS: (encode_starts, decode_starts),
    CHECKS: (encode_checks, decode_checks),
    ANCHOR: (encode_zero, decode_zero),  # the zero that was asked for: see `ground_zero`
}
