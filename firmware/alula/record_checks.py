"""Results of ground checks as a payload. Spec: hardware_notes/records.md."""

import struct

from alula.record_fields import SMALL, flags_of, mapping_with, same_again, shown, unpack, whole_in

CHECK_ROWS_MOST = 32
_CHECK = "<BBiiBHBB"
_CHECK_FIELDS = ("row", "verdict", "number", "limit", "date")


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
        row = mapping_with(value[i], _CHECK_FIELDS, "checks[%d]" % i)
        last = whole_in(row["row"], "row", last + 1, CHECK_ROWS_MOST - 1)
        date = row["date"]
        if date is not None and not is_date(date):
            raise ValueError("date must be YYYY-MM-DD")
        found += struct.pack(
            _CHECK, last, whole_in(row["verdict"], "verdict", 1, 3),
            whole_in(row["number"], "number", -SMALL, SMALL - 1),
            whole_in(row["limit"], "limit", -SMALL, SMALL - 1), flags_of((date,)),
            0 if date is None else int(date[:4]), 0 if date is None else int(date[5:7]),
            0 if date is None else int(date[8:]))
    return found


def decode_checks(payload: bytes) -> list:
    """Results of ground checks; date is None where nobody told one."""
    (count,), at = unpack("<B", payload)
    rows = []
    for _ in range(count):
        (row, verdict, number, limit, flags, year, month, day), at = unpack(_CHECK, payload, at)
        rows.append({"row": row, "verdict": verdict, "number": number, "limit": limit,
                     "date": shown(flags, 0, "%04d-%02d-%02d" % (year, month, day))})
    return same_again(encode_checks, rows, payload)
