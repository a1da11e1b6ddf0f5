"""The kinds of record, value to payload and back. Spec: hardware_notes/records.md.

A value is a mapping, as from JSON, and a whole number for the reference; what was never set is
None. Encoders raise ValueError for what does not fit its field: the board's
`struct.pack` would wrap it without a word.
"""

import json
import struct

from alula.intmath import is_whole

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
SMALL = 1 << 30  # whole numbers of the board's own kind lie within -SMALL to SMALL - 1
LIFT_MOST_PM = 1500
CURVES_MOST = 4
POINTS_LEAST, POINTS_MOST = 2, 8
CHECK_ROWS_MOST = 32

_ZERO = "<BiiHHhH"
_HEAD = "<BBIB"
_CURVE = "<bBBHBHB"
_POINT = "<hH"
_REFERENCE = "<BH"
_STARTS = "<BHHHH"
_CHECK = "<BBiiBHBB"
_CHECK_FIELDS = ("row", "verdict", "number", "limit", "date")
_START_FIELDS = START_WORDS + ("in_air",)
_ZERO_FIELDS = ("pitot_dpa", "angled_dpa", "spread_pitot_dpa", "spread_angled_dpa",
                "temperature_dc", "count")
_CALIBRATION_FIELDS = ("plumbing", "fingerprint", "curves")
_CURVE_FIELDS = ("flap", "method", "entry_rate_ckt_s", "runs", "spread_bp", "points")


def _mapping(value, fields, name: str):
    """The value, if it is a mapping with exactly these fields."""
    if not isinstance(value, dict) or len(value) != len(fields) or not all(
            name in value for name in fields):
        raise ValueError("%s must be an object with the fields %s" % (name, ", ".join(fields)))
    return value


def _number(value, name: str, least: int, most: int) -> int:
    if not is_whole(value) or not least <= value <= most:
        raise ValueError("%s must be a whole number from %d to %d" % (name, least, most))
    return value


def _optional(value, name: str, least: int, most: int) -> int:
    """A number that may be not set: then its field is 0, and a flag says that it means nothing."""
    return 0 if value is None else _number(value, name, least, most)


def _flags(values) -> int:
    """Bit i is set where value i is."""
    found = 0
    for i in range(len(values)):
        if values[i] is not None:
            found |= 1 << i
    return found


def _shown(flags: int, bit: int, value: int):
    return value if flags >> bit & 1 else None


def _unpack(layout: str, payload: bytes, at: int = 0) -> tuple:
    """The fields at a byte, and the byte after them."""
    end = at + struct.calcsize(layout)
    if end > len(payload):
        raise ValueError("ends too early")
    return struct.unpack(layout, payload[at:end]), end


def _same(encode, value, payload: bytes):
    """The value, if it is written exactly so: no unknown flags, no number out of its range."""
    if encode(value) != payload:
        raise ValueError("breaks a rule of its format")
    return value


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
                else "%d" % _number(word, name, -SMALL, SMALL - 1))
        lines.append('"%s": %s' % (name, text))
    return ("{\n" + ",\n".join(lines) + "\n}\n").encode()


def decode_settings(payload: bytes) -> dict:
    """Settings from their JSON text, if it is written as `encode_settings` writes it."""
    try:
        value = json.loads(str(payload, "utf-8"))
    except (ValueError, RuntimeError, MemoryError):  # RuntimeError: nested too deeply
        raise ValueError("is not JSON text") from None
    return _same(encode_settings, value, payload)


def encode_zero(value) -> bytes:
    """The zero of both sensors."""
    _mapping(value, _ZERO_FIELDS, "zero")
    pressures = [_number(value[name], name, -PRESSURE_LIMIT_DPA, PRESSURE_LIMIT_DPA)
                 for name in _ZERO_FIELDS[:2]]
    rest = [value[name] for name in _ZERO_FIELDS[2:]]
    limits = ((0, 65535), (0, 65535), (-32768, 32767), (0, 65535))
    numbers = [_optional(rest[i], _ZERO_FIELDS[2 + i], limits[i][0], limits[i][1])
               for i in range(4)]
    return struct.pack(_ZERO, _flags(rest), pressures[0], pressures[1], numbers[0], numbers[1],
                       numbers[2], numbers[3])


def decode_zero(payload: bytes) -> dict:
    """The zero of both sensors; 0 is a zero, None is not set."""
    fields, _ = _unpack(_ZERO, payload)
    value = {}
    for i in range(len(_ZERO_FIELDS)):
        number = fields[1 + i]
        value[_ZERO_FIELDS[i]] = number if i < 2 else _shown(fields[0], i - 2, number)
    return _same(encode_zero, value, payload)


def encode_calibration(value) -> bytes:
    """Every curve, with how it was made and for which sensors."""
    _mapping(value, _CALIBRATION_FIELDS, "calibration")
    mark, curves = value["fingerprint"], value["curves"]
    plumbing = _number_of(PLUMBING_NUMBERS, value["plumbing"], "plumbing")
    if not isinstance(curves, (list, tuple)) or not 1 <= len(curves) <= CURVES_MOST:
        raise ValueError("curves must be a list of 1 to %d curves" % CURVES_MOST)
    found = struct.pack(_HEAD, plumbing, _flags((mark,)),
                        _optional(mark, "fingerprint", 0, 0xFFFFFFFF), len(curves))
    for i in range(len(curves)):
        found += _encode_curve(curves[i], "curves[%d]" % i)
    return found


def _encode_curve(curve, where: str) -> bytes:
    _mapping(curve, _CURVE_FIELDS, where)
    method = _number_of(METHOD_NUMBERS, curve["method"], where + ".method")
    points = curve["points"]
    if not isinstance(points, (list, tuple)) or not POINTS_LEAST <= len(points) <= POINTS_MOST:
        raise ValueError("%s.points must be a list of %d to %d pairs"
                         % (where, POINTS_LEAST, POINTS_MOST))
    rate, runs, spread = curve["entry_rate_ckt_s"], curve["runs"], curve["spread_bp"]
    found = struct.pack(
        _CURVE, _number(curve["flap"], where + ".flap", -128, 127), method,
        _flags((rate, runs, spread)), _optional(rate, where + ".entry_rate_ckt_s", 0, 65535),
        _optional(runs, where + ".runs", 0, 255),
        _optional(spread, where + ".spread_bp", 0, 65535), len(points))
    for point in points:
        if not isinstance(point, (list, tuple)) or len(point) != 2:
            raise ValueError(where + ".points must be pairs")
        found += struct.pack(_POINT, _number(point[0], where + " ratio_bp", -32768, 32767),
                             _number(point[1], where + " lift_pm", 0, 65535))
    return found


def decode_calibration(payload: bytes) -> dict:
    """Every curve; points are lists [ratio_bp, lift_pm]."""
    (plumbing, flags, mark, count), at = _unpack(_HEAD, payload)
    curves = []
    for _ in range(count):
        curve, at = _decode_curve(payload, at)
        curves.append(curve)
    value = {"plumbing": _word(PLUMBING_NUMBERS, plumbing), "fingerprint": _shown(flags, 0, mark),
             "curves": curves}
    return _same(encode_calibration, value, payload)


def _decode_curve(payload: bytes, at: int) -> tuple:
    (flap, method, flags, rate, runs, spread, count), at = _unpack(_CURVE, payload, at)
    points = []
    for _ in range(count):
        point, at = _unpack(_POINT, payload, at)
        points.append(list(point))
    return {"flap": flap, "method": _word(METHOD_NUMBERS, method), "points": points,
            "entry_rate_ckt_s": _shown(flags, 0, rate), "runs": _shown(flags, 1, runs),
            "spread_bp": _shown(flags, 2, spread)}, at


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
    return struct.pack(_REFERENCE, _flags((value,)), _optional(value, "lift_pm", 0, LIFT_MOST_PM))


def decode_reference(payload: bytes):
    """The pilot's reference point; None where it is not set."""
    (flags, lift), _ = _unpack(_REFERENCE, payload)
    return _same(encode_reference, _shown(flags, 0, lift), payload)


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
    return _same(encode_stop, value, payload)


def encode_starts(value) -> bytes:
    """How often the unit has started, by cause and in the air, and what the last cause was."""
    _mapping(value, _START_FIELDS + ("last",), "starts")
    counts = [_number(value[name], name, 0, 65535) for name in _START_FIELDS]
    if value["last"] not in START_WORDS:
        raise ValueError("last must be one of " + ", ".join(START_WORDS))
    return struct.pack(_STARTS, START_WORDS.index(value["last"]), *counts)


def decode_starts(payload: bytes) -> dict:
    """How often the unit has started."""
    fields, _ = _unpack(_STARTS, payload)
    if fields[0] >= len(START_WORDS):
        raise ValueError("names something unknown (%d)" % fields[0])
    value = {_START_FIELDS[i]: fields[1 + i] for i in range(len(_START_FIELDS))}
    value["last"] = START_WORDS[fields[0]]
    return _same(encode_starts, value, payload)


def is_date(text) -> bool:
    """Whether a text is YYYY-MM-DD, from 2000-01-01 to 2099-12-31; months are not counted out."""
    return (isinstance(text, str) and len(text) == 10 and text[4] == text[7] == "-"
            and all([text[i] in "0123456789" for i in range(10) if i not in (4, 7)])
            and text[:2] == "20" and 1 <= int(text[5:7]) <= 12 and 1 <= int(text[8:]) <= 31)


def encode_checks(value) -> bytes:
    """Results of ground checks, a row each, in rising order of their rows."""
    if not isinstance(value, (list, tuple)) or len(value) > CHECK_ROWS_MOST:
        raise ValueError("checks must be a list of at most %d rows" % CHECK_ROWS_MOST)
    found, last = bytes([len(value)]), -1
    for i in range(len(value)):
        row = _mapping(value[i], _CHECK_FIELDS, "checks[%d]" % i)
        last = _number(row["row"], "row", last + 1, CHECK_ROWS_MOST - 1)
        date = row["date"]
        if date is not None and not is_date(date):
            raise ValueError("date must be YYYY-MM-DD")
        found += struct.pack(
            _CHECK, last, _number(row["verdict"], "verdict", 1, 3),
            _number(row["number"], "number", -SMALL, SMALL - 1),
            _number(row["limit"], "limit", -SMALL, SMALL - 1), _flags((date,)),
            0 if date is None else int(date[:4]), 0 if date is None else int(date[5:7]),
            0 if date is None else int(date[8:]))
    return found


def decode_checks(payload: bytes) -> list:
    """Results of ground checks; date is None where nobody told one."""
    (count,), at = _unpack("<B", payload)
    rows = []
    for _ in range(count):
        (row, verdict, number, limit, flags, year, month, day), at = _unpack(_CHECK, payload, at)
        rows.append({"row": row, "verdict": verdict, "number": number, "limit": limit,
                     "date": _shown(flags, 0, "%04d-%02d-%02d" % (year, month, day))})
    return _same(encode_checks, rows, payload)


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
