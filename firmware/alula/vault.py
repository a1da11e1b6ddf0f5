"""Records that survive a power cut at any moment. Spec and reasons: hardware_notes/records.md.

Each kind has two files; the newest whole one counts, a new one goes to the other. May allocate:
called at start-up and, to save, only while the unit is quiet or calm.
"""

from alula import json_records, settings
from alula.record_codec import NEWER, WHOLE, crc32, decode, encode, version_of
from alula.record_payloads import CALIBRATION, NAMES, SETTINGS

KINDS = tuple(sorted(NAMES))
ENDINGS = (".a", ".b")
_ABSENT, _UNREADABLE = 10, 11
_HALF, _WHOLE_TURN = 1 << 31, 1 << 32
_FINGERPRINTED = ("plumbing",) + tuple(
    side + what for side in ("pitot", "angled")
    for what in ("_output", "_low_dpa", "_high_dpa", "_address", "_sense"))


def fingerprint(of) -> int:
    """CRC-32 over what a `Settings` says of the sensors and their plumbing, 0 to 2^32 - 1.

    A calibration belongs to the fingerprint it was made with. Formula: hardware_notes/records.md.
    """
    words = {row[0]: isinstance(row[4], tuple) for row in settings.TABLE}
    text = ""
    for name in _FINGERPRINTED:
        value = of.word(name) if words[name] else getattr(of, name)
        text += "%s=%s\n" % (name, "not set" if value is None else value)
    return crc32(text.encode())


def is_newer(a: int, b: int) -> bool:
    """Whether sequence number a comes after b, in 32 bits that wrap."""
    return 0 < (a - b) % _WHOLE_TURN < _HALF


class _Slot:
    """One of a kind's two files, as found."""

    def __init__(self, name: str, kind: int, data, problem: str) -> None:
        self.name = name
        self.sequence = 0
        self.value = None
        if problem:
            self.state, text = _UNREADABLE, problem
        elif data is None:
            self.state, text = _ABSENT, ""
        else:
            self.state, self.sequence, self.value, text = decode(kind, data)
        self.text = "%s %s" % (name, text) if text else ""


class Vault:
    """Loads and saves one value a kind.

    store: read(name) -> (bytes or None, problem), write_whole(name, data) -> problem,
    names() -> list, free_bytes() -> int or None; see drivers/flash_files.py.
    reserve_bytes: a log leaves at least so much free, so that a save never lacks room.
    """

    reserve_bytes = 32768

    def __init__(self, store) -> None:
        self._store = store

    def load(self, kind: int) -> tuple:
        """(value, problem): the newest whole record, or None where there is none.

        The problem is empty, or a line to show. With a value it is a remark: a damaged file
        beside it, a JSON file that is not read. Without one it says why; None and an empty text
        is a kind that was never saved. Writes nothing.
        """
        slots = self._slots(kind)
        if any(slot.state == NEWER for slot in slots):
            return None, _newer_text(slots)
        amiss = "; ".join([slot.text for slot in slots if slot.text])
        best = _newest(slots)
        if best is not None:
            if amiss:
                amiss += "; %s is in use, which may be older: check it and save again" % best.name
            return best.value, "; ".join([t for t in (amiss, self._ignored(kind, best)) if t])
        if amiss:
            return None, "%s; there is no whole %s record: restore a backup or make it anew" % (
                amiss, NAMES[kind])
        return self._load_json(kind)

    def save(self, kind: int, value) -> str:
        """Save a value; an empty text means that it is stored and was read back equal.

        Anything else says why not: then the old record is in use or, where only the reading back
        failed, perhaps the new one; `load` tells. Never call it while a warning sounds: an erase
        stops the board for tens of milliseconds.
        """
        name = NAMES[kind]
        slots = self._slots(kind)
        if any(slot.state == NEWER for slot in slots):
            return "%s not saved: %s" % (name, _newer_text(slots))
        for slot in slots:
            if slot.state == _UNREADABLE:
                return "%s not saved: %s; switch off and on, and save again" % (name, slot.text)
        best = _newest(slots)
        data, problem = encode(kind, 1 if best is None else (best.sequence + 1) % _WHOLE_TURN,
                               value)
        problem = problem or _refusal(kind, value)
        if not problem:
            problem = self._put(slots[1 if best is slots[0] else 0].name, data)
        return "%s not saved: %s" % (name, problem) if problem else ""

    def inventory(self) -> list:
        """(kind, file, version, bytes) of the record in use of each kind that has one; version 0
        is a JSON file. Reads every file, one at a time."""
        found = []
        for kind in KINDS:
            best = _newest(self._slots(kind))
            name = json_records.FILES.get(kind) if best is None else best.name
            data = None if name is None else self._store.read(name)[0]
            if data is not None:
                found.append((kind, name, 0 if best is None else version_of(data), len(data)))
        return found

    def free_bytes(self):
        """Free space of the flash in bytes, or None where it cannot be told."""
        return self._store.free_bytes()

    def try_flash(self, count: int) -> tuple:
        """(bytes, problem): write a temporary file of so many, read it back, remove it."""
        return self._store.try_out(count)

    def _put(self, name: str, data: bytes) -> str:
        problem = self._store.write_whole(name, data)
        if problem:
            return problem
        found, problem = self._store.read(name)
        if problem or found != data:
            return "%s did not read back equal (%s); save again" % (name, problem or "it differs")
        return ""

    def _slots(self, kind: int) -> list:
        found = []
        for ending in ENDINGS:
            name = NAMES[kind] + ending
            data, problem = self._store.read(name)
            found.append(_Slot(name, kind, data, problem))
        return found

    def _load_json(self, kind: int) -> tuple:
        name = json_records.FILES.get(kind)
        if name is None:
            return None, ""
        data, problem = self._store.read(name)
        if data is None:
            return None, "%s %s" % (name, problem) if problem else ""
        value, problem = json_records.value_of(kind, data)
        return value, "%s: %s" % (name, problem) if problem else ""

    def _ignored(self, kind: int, best: _Slot) -> str:
        name = json_records.FILES.get(kind)
        if name is None or name not in self._store.names():
            return ""
        return "%s is not read, because %s holds a record; remove one of them" % (name, best.name)


def _newest(slots: list):
    """The newest whole slot, the first of two that no number tells apart, or None."""
    whole = [slot for slot in slots if slot.state == WHOLE]
    if len(whole) == 2 and is_newer(whole[1].sequence, whole[0].sequence):
        return whole[1]
    return whole[0] if whole else None


def _newer_text(slots: list) -> str:
    return "; ".join([slot.text for slot in slots if slot.state == NEWER]) + (
        "; it is left as it is: install the newer firmware again, or back it up and remove it")


def _refusal(kind: int, value) -> str:
    """Why the unit would not believe this value after a restart; empty if it would."""
    if kind == SETTINGS:
        found = settings.load(value)[1]
        return "%s %s" % found[0] if found else ""
    if kind == CALIBRATION:
        return json_records.calibration_problem(
            json_records.plain_calibration(value), value["plumbing"])
    return ""
