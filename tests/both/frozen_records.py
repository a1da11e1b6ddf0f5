"""Records of version 1, byte for byte, as hardware_notes/records.md describes them.

Put together by hand from that page, not by our encoder; the four bytes at each end were computed
with zlib's `crc32`. They stay as they are for ever: units in the field hold such files.
"""

# The kinds' numbers as the page gives them, written out so that a renamed constant shows.
SETTINGS, ZERO, CALIBRATION, REFERENCE, STOP, STARTS, ANCHOR, CHECKS = 1, 2, 3, 4, 5, 6, 7, 8


def _bytes(*fields) -> bytes:
    return bytes([int(pair, 16) for field in fields for pair in field.split()])


SETTINGS_1 = _bytes(
    "41 4c 55 52",  # magic
    "01 00", "01 00",  # kind, version
    "02 00 00 00", "30 00 00 00",  # sequence, length
) + b'{\n"plumbing": "port-static",\n"window_ms": 120\n}\n' + _bytes("0c 91 d0 79")
SETTINGS_1_VALUE = {"plumbing": "port-static", "window_ms": 120}

ZERO_1 = _bytes(
    "41 4c 55 52",
    "02 00", "01 00", "07 00 00 00", "11 00 00 00",
    "0d",  # flags: spread of the pitot sensor, temperature, count
    "ff ff ff ff",  # pitot_dpa -1
    "00 00 00 00",  # angled_dpa: a zero of exactly zero
    "0c 00", "00 00",  # spreads: 12, not set
    "f6 ff",  # temperature_dc: -1.0 degrees
    "c8 00",  # count 200
    "06 29 47 44",
)
ZERO_1_VALUE = {"pitot_dpa": -1, "angled_dpa": 0, "spread_pitot_dpa": 12,
                "spread_angled_dpa": None, "temperature_dc": -10, "count": 200}

CALIBRATION_1 = _bytes(
    "41 4c 55 52",
    "03 00", "01 00", "ff ff ff ff", "2d 00 00 00",  # the last number before the turn to 0
    "01", "01", "ef be ad de", "02",  # port-static, fingerprint is set, two curves
    "00", "01", "07", "62 00", "03", "50 00",  # flap 0, with-n, 0.98 kt/s, 3 runs, spread 80
    "03", "2e ff", "c8 00", "b8 0b", "f4 01", "88 13", "e8 03",
    "14", "03", "00", "00 00", "00", "00 00",  # flap 20, marked by hand, nothing more is known
    "02", "18 fc", "2c 01", "a0 0f", "10 04",
    "c2 c2 8c 9a",
)
CALIBRATION_1_VALUE = {"plumbing": "port-static", "fingerprint": 0xDEADBEEF, "curves": [
    {"flap": 0, "method": "with-n", "entry_rate_ckt_s": 98, "runs": 3, "spread_bp": 80,
     "points": [[-210, 200], [3000, 500], [5000, 1000]]},
    {"flap": 20, "method": "marked-by-hand", "entry_rate_ckt_s": None, "runs": None,
     "spread_bp": None, "points": [[-1000, 300], [4000, 1040]]}]}

REFERENCE_1 = _bytes(
    "41 4c 55 52",
    "04 00", "01 00", "01 00 00 00", "03 00 00 00",
    "01", "fe 01",  # lift_pm 510 is set
    "5e be a0 4c",
)
REFERENCE_1_VALUE = 510

STOP_1 = _bytes(
    "41 4c 55 52", "05 00", "01 00", "03 00 00 00", "04 00 00 00", "61 0a 62 21", "e2 31 59 9d")
STOP_1_VALUE = "a\nb!"

STARTS_1 = _bytes(
    "41 4c 55 52", "06 00", "01 00", "05 00 00 00", "09 00 00 00", "01", "29 00", "02 00",
    "01 00", "03 00", "78 b2 3f c5")
STARTS_1_VALUE = {"power": 41, "watchdog": 2, "restart": 1, "in_air": 3, "last": "watchdog"}

ANCHOR_1 = _bytes(
    "41 4c 55 52", "07 00", "01 00", "02 00 00 00", "11 00 00 00", "0a", "b6 00 00 00",
    "8d ff ff ff", "00 00", "04 00", "00 00", "c8 00", "20 4d 4a 7e")
ANCHOR_1_VALUE = {"pitot_dpa": 182, "angled_dpa": -115, "spread_pitot_dpa": None,
                  "spread_angled_dpa": 4, "temperature_dc": None, "count": 200}

CHECKS_1 = _bytes(
    "41 4c 55 52", "08 00", "01 00", "03 00 00 00", "2e 00 00 00",
    "03",  # rows
    "00", "01", "23 00 00 00", "c8 00 00 00", "00", "00 00", "00", "00",  # zero: no date
    "04", "01", "2a 00 00 00", "64 00 00 00", "01", "ea 07", "0b", "19",  # 2026-11-25
    "0d", "02", "ff ff ff ff", "00 10 00 00", "01", "eb 07", "01", "02",
    "bc f6 cc 38")
CHECKS_1_VALUE = [
    {"row": 0, "verdict": 1, "number": 35, "limit": 200, "date": None},
    {"row": 4, "verdict": 1, "number": 42, "limit": 100, "date": "2026-11-25"},
    {"row": 13, "verdict": 2, "number": -1, "limit": 4096, "date": "2027-01-02"}]

RECORDS = (  # kind, sequence, file content, value
    (SETTINGS, 2, SETTINGS_1, SETTINGS_1_VALUE),
    (ZERO, 7, ZERO_1, ZERO_1_VALUE),
    (CALIBRATION, 0xFFFFFFFF, CALIBRATION_1, CALIBRATION_1_VALUE),
    (REFERENCE, 1, REFERENCE_1, REFERENCE_1_VALUE),
    (STOP, 3, STOP_1, STOP_1_VALUE),
    (STARTS, 5, STARTS_1, STARTS_1_VALUE),
    (ANCHOR, 2, ANCHOR_1, ANCHOR_1_VALUE),
    (CHECKS, 3, CHECKS_1, CHECKS_1_VALUE),
)
