"""What the payloads of all kinds of record share: checked fields, flags, unpacking."""

import struct

from alula.intmath import is_whole

SMALL = 1 << 30  # whole numbers of the board's own kind lie within -SMALL to SMALL - 1


def mapping_with(value, fields, name: str):
    """The value, if it is a mapping with exactly these fields."""
    if not isinstance(value, dict) or len(value) != len(fields) or not all(
            name in value for name in fields):
        raise ValueError("%s must be an object with the fields %s" % (name, ", ".join(fields)))
    return value


def whole_in(value, name: str, least: int, most: int) -> int:
    """The value, if it is a whole number within its range."""
    if not is_whole(value) or not least <= value <= most:
        raise ValueError("%s must be a whole number from %d to %d" % (name, least, most))
    return value


def optional(value, name: str, least: int, most: int) -> int:
    """A number that may be not set: then its field is 0, and a flag says that it means nothing."""
    return 0 if value is None else whole_in(value, name, least, most)


def flags_of(values) -> int:
    """Bit i is set where value i is."""
    found = 0
    for i in range(len(values)):
        if values[i] is not None:
            found |= 1 << i
    return found


def shown(flags: int, bit: int, value):
    """The value, or None where its flag says that it is not set."""
    return value if flags >> bit & 1 else None


def unpack(layout: str, payload: bytes, at: int = 0) -> tuple:
    """The fields at a byte, and the byte after them."""
    end = at + struct.calcsize(layout)
    if end > len(payload):
        raise ValueError("ends too early")
    return struct.unpack(layout, payload[at:end]), end


def same_again(encode, value, payload: bytes):
    """The value, if it is written exactly so: no unknown flags, no number out of its range."""
    if encode(value) != payload:
        raise ValueError("breaks a rule of its format")
    return value
