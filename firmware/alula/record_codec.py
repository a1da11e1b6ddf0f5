"""Stored records as bytes: the frame around a payload. Spec: hardware_notes/records.md.

Runs at start-up and while a record is saved; may allocate. No hardware, no files.
"""

import binascii
import struct

from alula.record_payloads import NAMES, PAYLOADS, VERSIONS

WHOLE, DAMAGED, NEWER = 0, 1, 2

PAYLOAD_MOST = 4000  # the whole file then stays within one flash block of 4096 bytes
_MAGIC = b"ALUR"
_HEAD = "<4sHHII"
_HEAD_BYTES = 16
_CRC_BYTES = 4


def crc32(data) -> int:
    """CRC-32 as in zlib, 0 to 2^32 - 1."""
    return binascii.crc32(data) & 0xFFFFFFFF


def encode(kind: int, sequence: int, value) -> tuple:
    """(file content, "") for a value of a kind, or (None, what is wrong with the value).

    kind: SETTINGS, ZERO, CALIBRATION, REFERENCE or STOP. sequence: 0 to 2^32 - 1.
    """
    try:
        payload = PAYLOADS[kind][0](value)
    except ValueError as error:
        return None, str(error.args[0])
    if len(payload) > PAYLOAD_MOST:
        return None, "takes %d bytes of at most %d; shorten it" % (len(payload), PAYLOAD_MOST)
    body = struct.pack(_HEAD, _MAGIC, kind, VERSIONS[kind], sequence, len(payload)) + payload
    return body + struct.pack("<I", crc32(body)), ""


def decode(kind: int, data: bytes) -> tuple:
    """(state, sequence, value, text) of a file's content.

    state: WHOLE, then text is empty; DAMAGED or NEWER, then value is None and text says why.
    """
    problem = _frame_problem(kind, data)
    if problem:
        return DAMAGED, 0, None, problem
    _, _, version, sequence, _ = struct.unpack(_HEAD, data[:_HEAD_BYTES])
    if version > VERSIONS[kind]:
        return NEWER, sequence, None, "has format %d, this firmware reads up to %d" % (
            version, VERSIONS[kind])
    try:
        value = PAYLOADS[kind][1](data[_HEAD_BYTES:-_CRC_BYTES])
    except ValueError as error:
        return DAMAGED, 0, None, str(error.args[0])
    return WHOLE, sequence, value, ""


def version_of(data: bytes) -> int:
    """The version of the payload in a whole frame."""
    return struct.unpack(_HEAD, data[:_HEAD_BYTES])[2]


def _frame_problem(kind: int, data: bytes) -> str:
    """Why the frame is not one of this kind, whatever its version; empty if it is."""
    if len(data) < _HEAD_BYTES + _CRC_BYTES:
        return "is too short"
    magic, found, version, _, length = struct.unpack(_HEAD, data[:_HEAD_BYTES])
    if magic != _MAGIC:
        return "is not a record"
    if len(data) != _HEAD_BYTES + length + _CRC_BYTES:
        return "has the wrong length"
    if length > PAYLOAD_MOST:
        return "is longer than a record may be"
    if struct.unpack("<I", data[-_CRC_BYTES:])[0] != crc32(data[:-_CRC_BYTES]):
        return "has a wrong checksum"
    if found != kind:
        return "holds a record of another kind (%s)" % NAMES.get(found, "%d" % found)
    return "" if version else "has no version"
