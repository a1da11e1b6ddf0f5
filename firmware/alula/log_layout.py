"""The flight log's numbers, shared by writer and reader. Spec: hardware_notes/flight_log.md."""

MAGIC = b"ALUL"
VERSION = 1
HEAD, DATA, CHANGE = 0, 1, 2  # kinds of block

BLOCK_BYTES = 4096
HEADER_BYTES = 20
CRC_AT = 4092
PAYLOAD_MOST = CRC_AT - HEADER_BYTES
CONTEXT_BYTES = 39
DIGEST_TICKS = 100
SESSION_MOST = 65535

# Records in the payload of HEAD and CHANGE blocks: 1 to 4 are kinds of `record_payloads`.
FIRMWARE, BOARD, START, FLAGS, GAVE_UP, ASKED = 16, 17, 18, 19, 32, 33
# What was asked at the console, one byte: a code of `GroundCheck.begin`, or one of these; and that
# the flash has failed its check, because the unit says so at the end.
ASKED_ZERO, ASKED_NEXT, ASKED_END, FLASH_FAILED = 255, 254, 253, 252
AMISS_FLAG = 1

# A tick is a token byte, or EVENT and one of these codes. Codes up to BOTH end the tick.
EVENT = 0xFF
BOTH = 0x01
FLAP_BUTTON = 0x03
NZ_STATUS = 0x04
NZ = 0x05
TEMPERATURE = 0x06
INTERVAL = 0x07
DECISION = 0x08
CAPTURE = 0x09
DIGEST = 0x0A
MISSED = 0x0B
STATUSES = 0x20  # + 5 * pitot status + angled status
STATUS_COUNT = 5
NEAR_INTERVAL = 0xC0  # + interval less the usual one, within -64 to 63
FAR_BYTE = 0x80  # in place of a signed byte: 32 bits follow

# Flags in the context of a data block.
ZERO_KNOWN, FLYING, HAS_FLOWN = 1, 2, 4


def put16(block, at: int, value: int) -> None:
    """Two bytes, little endian, signed or not. No allocation."""
    block[at] = value & 0xFF
    block[at + 1] = value >> 8 & 0xFF


def put32(block, at: int, value: int) -> None:
    """Four bytes, little endian, of a small integer. No allocation."""
    block[at] = value & 0xFF
    block[at + 1] = value >> 8 & 0xFF
    block[at + 2] = value >> 16 & 0xFF
    block[at + 3] = value >> 24 & 0xFF
