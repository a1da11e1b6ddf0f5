"""Logs that are made without a flight: random streams with a head, as the store would write it."""

from types import SimpleNamespace

from alula import log_layout as layout
from alula.log_block import fill_header, seal
from log_keeper import head_of
from tests.both.core_rig import record
from tests.both.log_rig import stormy

BLOCK = layout.BLOCK_BYTES


def stored(**changes) -> SimpleNamespace:
    """As `stored.Stored`: settings, a zero and a curve."""
    curve = {"flap": 0, "method": "from-file", "entry_rate_ckt_s": None, "runs": None,
             "spread_bp": None, "points": [[0, 200], [8000, 1000]]}
    found = {"settings": record(), "zero": {"pitot_dpa": 0, "angled_dpa": 0}, "anchor": None,
             "calibration": {"plumbing": "port-static", "fingerprint": None, "curves": [curve]},
             "reference_pm": None, "amiss": False}
    return SimpleNamespace(**{**found, **changes})


def head_blocks(data: bytes, session: int = 1) -> bytes:
    """HEAD blocks for a head's bytes."""
    found = b""
    parts = [data[at:at + layout.PAYLOAD_MOST] for at in range(0, len(data), layout.PAYLOAD_MOST)]
    for i, part in enumerate(parts):
        block = bytearray(BLOCK)
        fill_header(block, layout.HEAD, session, i, 0, len(parts), len(part))
        block[layout.HEADER_BYTES:layout.HEADER_BYTES + len(part)] = part
        seal(block)
        found += bytes(block)
    return found


def made(seed: int = 1, ticks: int = 4000, session: int = 1, **changes) -> tuple[bytes, list]:
    """(log with a head, what went in and came out a tick) of a storm, over the counter's wrap."""
    logged = stormy(seed, ticks, session=session)
    return head_blocks(head_of(stored(**changes), "bench", "power"), session) + logged.end(), (
        logged.seen)
