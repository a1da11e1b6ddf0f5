"""What a unit started with, and the records that it took into use later, from its log."""

from dataclasses import dataclass, field

from host_sim.reading.unit_log_blocks import Content, Header
from host_sim.reading.unit_log_ticks import BadBlock
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import log_layout as layout  # noqa: E402
from alula.record_payloads import (  # noqa: E402
    ANCHOR,
    CALIBRATION,
    NAMES,
    PAYLOADS,
    REFERENCE,
    SETTINGS,
    VERSIONS,
    ZERO,
)


@dataclass(frozen=True)
class Head:
    """The start of a session. settings, calibration, reference: values as in the vault; zero,
    anchor: the two pressures; None where there was none. amiss: the unit said that a stored record
    was damaged. data: the head's bytes as they stand."""

    firmware: str
    board: str
    start: str
    amiss: bool
    settings: dict
    zero: dict | None
    anchor: dict | None
    calibration: dict | None
    reference: int | None
    data: bytes = field(repr=False)


@dataclass(frozen=True)
class UnitChange:
    """From the next tick on the unit used a record, or forgot what waited to be stored.
    kind: CALIBRATION, REFERENCE, GAVE_UP or ASKED."""

    header: Header
    kind: int
    value: object


def read_head(headers: list[Header], content: Content) -> tuple[Head | None, str]:
    """(head, "") of the HEAD blocks of one session, or (None, why there is none)."""
    parts: dict[int, bytes] = {}
    wanted = 0
    for header in headers:
        wanted = header.count
        parts.setdefault(header.sequence, header.payload(content))
    if not parts or sorted(parts) != list(range(wanted)):
        return None, "the head of this session is missing: settings and calibration are not known"
    data = b"".join(parts[i] for i in range(wanted))
    try:
        return _head(data), ""
    except BadBlock as error:
        return None, f"the head of this session {error}"


def _head(data: bytes) -> Head:
    found = dict(_records(data))
    if not isinstance(found.get(SETTINGS), dict):
        raise BadBlock("holds no settings")
    flags = found.get(layout.FLAGS, b"\0")
    return Head(
        _text(found.get(layout.FIRMWARE)), _text(found.get(layout.BOARD)),
        _text(found.get(layout.START)), bool(flags[0] & layout.AMISS_FLAG), found[SETTINGS],
        _pair(found.get(ZERO)), _pair(found.get(ANCHOR)),
        found.get(CALIBRATION), found.get(REFERENCE), data)


def _pair(value: dict | None) -> dict | None:
    return None if value is None else {name: value[name] for name in ("pitot_dpa", "angled_dpa")}


def _text(data: bytes | None) -> str:
    return "not said" if data is None else data.decode("ascii", "replace")


def read_change(header: Header, content: Content) -> UnitChange:
    """The record of a CHANGE block; BadBlock where it breaks a rule."""
    found = list(_records(header.payload(content)))
    if len(found) != 1 or found[0][0] not in (CALIBRATION, REFERENCE, layout.GAVE_UP,
                                              layout.ASKED):
        raise BadBlock("holds no change that this version knows")
    kind, value = found[0]
    if kind == layout.ASKED:
        if len(value) != 1:
            raise BadBlock("holds a question of a wrong length")
        value = value[0]
    return UnitChange(header, kind, value)


def _records(data: bytes):
    """(kind, value) of each record."""
    at = 0
    while at < len(data):
        kind, version = data[at], data[at + 1] if at + 4 <= len(data) else 0
        length = int.from_bytes(data[at + 2:at + 4], "little")
        payload = data[at + 4:at + 4 + length]
        if at + 4 > len(data) or len(payload) < length:
            raise BadBlock("ends in the middle of a record")
        at += 4 + length
        if kind not in PAYLOADS:
            yield kind, payload
            continue
        if version != VERSIONS[kind]:
            raise BadBlock(f"holds a {NAMES[kind]} record of format {version}, "
                           f"this reads {VERSIONS[kind]}")
        try:
            yield kind, PAYLOADS[kind][1](payload)
        except ValueError as error:
            raise BadBlock(f"holds a {NAMES[kind]} record that {error}") from error
