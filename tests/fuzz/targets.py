"""What every parser promises for any bytes. Run by Hypothesis, by `found`, and by atheris.

A target takes bytes and raises only where a promise is broken.
"""

import json
import struct
import zlib
from typing import Any

import numpy as np

from host_sim.errors import UsageError
from host_sim.reading.flight_csv import open_flight, read_flight
from host_sim.reading.unit_files import read_calibration, read_settings
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.session import IN_WIDTH
from tests.fuzz.memory_file import MemoryFile

use_firmware()

import assembly
from alula import json_records
from alula.calibration import curves_of
from alula.pressure_ratio import PLUMBINGS
from alula.record_codec import DAMAGED, NEWER, PAYLOAD_MOST, WHOLE, decode, encode
from alula.record_payloads import CALIBRATION, NAMES, SETTINGS, ZERO
from alula.sample import Sample
from alula.settings import TABLE, load
from alula.vault import KINDS, Vault
from drivers.flash_files import FlashFiles
from host_sim.bench.fake_flash import FakeFlash
from stored import Stored

MAGIC = b"ALUR"
WORD_LIMIT = 1_000_000  # 0.1 Pa, far past the unit's own limit


def framed(kind: int, sequence: int, payload: bytes, version: int = 1) -> bytes:
    """A record as hardware_notes/records.md describes it, whatever its payload holds."""
    body = struct.pack("<4sHHII", MAGIC, kind, version, sequence, len(payload)) + payload
    return body + struct.pack("<I", zlib.crc32(body))


def one_line(text: str) -> None:
    assert text and text.splitlines() == [text], text


def refused(error: UsageError, name: str) -> None:
    """One clear line that names the file; short enough to be read."""
    one_line(str(error))
    assert name in str(error) and len(str(error)) < 1000, len(str(error))


def record(kind: int, data: bytes) -> int:
    """decode: a value that is written in exactly these bytes, or none and one line why."""
    state, sequence, value, text = decode(kind, data)
    if state == WHOLE:
        assert text == "" and encode(kind, sequence, value) == (data, "")
        assert len(data) <= PAYLOAD_MOST + 20
    else:
        assert state in (DAMAGED, NEWER) and value is None
        one_line(text)
    return state


def payload(data: bytes) -> None:
    """The first byte chooses the kind; the rest stands in a frame that is right."""
    if data:
        record(1 + data[0] % 5, framed(1 + data[0] % 5, 7, data[1:]))


def records(data: bytes) -> None:
    """As they are, as every kind, and as a payload."""
    for kind in KINDS:
        record(kind, data)
    payload(data)


def in_range(loaded: Any) -> None:
    """Every setting within its documented range."""
    for name, _, least, most, _, _ in TABLE:
        value = getattr(loaded, name)
        assert value is None or type(value) is int and least <= value <= most, (name, value)


def settings_file(data: bytes) -> None:
    """A settings file on the desk: refused in one line, or a record the unit takes as it is."""
    file: Any = MemoryFile("s.json", data)
    try:
        found = read_settings(file)
    except UsageError as error:
        refused(error, "s.json")
        board_refuses(SETTINGS, data)
        return
    loaded, problems = load(found)
    assert problems == []
    in_range(loaded)
    again: Any = MemoryFile("s.json", json.dumps(found).encode())
    assert read_settings(again) == found
    if "format" not in found:  # a mark of the file, not a setting
        assert decode(SETTINGS, encode(SETTINGS, 1, found)[0])[2] == found


def board_refuses(kind: int, data: bytes) -> None:
    """What the desk refuses must not be taken on the board."""
    value, problem = json_records.value_of(kind, data)
    if kind == SETTINGS and not problem:
        problem = " ".join("%s %s" % pair for pair in load(value)[1])
    assert problem


def calibration_file(data: bytes) -> None:
    """A calibration file: refused in one line, or curves that survive a record."""
    accepted = []
    for plumbing in PLUMBINGS:
        file: Any = MemoryFile("c.json", data)
        try:
            found = read_calibration(file, plumbing)
        except UsageError as error:
            refused(error, "c.json")
            continue
        assert found is not None
        accepted.append(plumbing)
        for flap, points in curves_of(found):
            assert 0 <= flap <= 99 and 2 <= len(points) <= 8 and points[-1][1] >= 1000
            assert points == sorted(points)
            assert all(abs(r) <= 30000 and 0 <= lift <= 1500 for r, lift in points)
        # the desk takes a byte order mark and escapes, the board refuses both in words
        if not data.startswith(b"\xef\xbb\xbf") and b"\\" not in data:
            stored_calibration(data, found)
    if not accepted:
        board_refuses(CALIBRATION, data)


def stored_calibration(data: bytes, found: dict) -> None:
    """Through the board's reader, a record, and back."""
    value, problem = json_records.value_of(CALIBRATION, data)
    assert not problem
    kept, _ = encode(CALIBRATION, 1, value)
    plain = json_records.plain_calibration(decode(CALIBRATION, kept)[2])
    assert [(flap, [list(p) for p in points]) for flap, points in curves_of(found)] == [
        (flap, points) for flap, points in curves_of(plain)]


def flight_file(data: bytes) -> None:
    """A flight as CSV: refused in one line, or rows that the firmware can take, session by
    session; whatever was repaired is told in one line each."""
    file: Any = MemoryFile("f.csv", data)
    try:
        flight = open_flight(file)
    except UsageError as error:
        refused(error, "f.csv")
        return
    for line in flight.lines():
        one_line(line)
    assert sum(one.rows for one in flight.sessions) == flight.survey.rows
    for session in flight.sessions:
        usable_rows(flight.rows(session), session.first_ms)


def usable_rows(rows: np.ndarray, first_ms: int) -> None:
    """Rows that the firmware can take."""
    assert rows.dtype == np.int32 and rows.shape[1] == IN_WIDTH and len(rows)
    assert rows[0, 0] == 0 and (np.diff(rows[:, 0]) > 0).all() and rows[-1, 0] <= 500_000_000
    assert (abs(rows[:, [2, 4]]) <= WORD_LIMIT).all() and (abs(rows[:, 6]) <= 32767).all()
    assert ((rows[:, 7] >= -2) & (rows[:, 7] <= 99)).all() and isinstance(first_ms, int)
    written_again(rows, first_ms)


def written_again(rows: np.ndarray, first_ms: int) -> None:
    """The rows as a plain file give the same rows: no value depends on how it was written."""
    text = "time_s,pitot_pa,angled_pa\n" + "".join(
        f"{(first_ms + row[0]) / 1000:.3f},{row[2] / 10:.1f},{row[4] / 10:.1f}\n"
        for row in rows.tolist())
    file: Any = MemoryFile("f.csv", text.encode())
    again, first = read_flight(file)
    assert first == first_ms and (again[:, [0, 2, 4]] == rows[:, [0, 2, 4]]).all()


def slot(kind: int, data: bytes | None) -> tuple:
    """(what, sequence, value) of a file, its frame judged by the page and not by the codec."""
    if data is None:
        return "absent", 0, None
    if len(data) < 20 or data[:4] != MAGIC or zlib.crc32(data[:-4]) != int.from_bytes(
            data[-4:], "little"):
        return "damaged", 0, None
    found, version, sequence, length = struct.unpack("<HHII", data[4:16])
    if length != len(data) - 20 or length > 4000 or found != kind or version == 0:
        return "damaged", 0, None
    if version > 1:
        return "newer", sequence, None
    state, _, value, _ = decode(kind, data)
    return ("whole" if state == WHOLE else "damaged"), sequence, value


def expected(kind: int, slots: list, table: bytes | None) -> Any:
    """What the page's table "How a record is found" says; the JSON file where it says so."""
    if any(what == "newer" for what, _, _ in slots):
        return None
    whole = [part for part in slots if part[0] == "whole"]
    if len(whole) == 2 and 1 <= (whole[1][1] - whole[0][1]) % 2 ** 32 <= 2 ** 31 - 1:
        return whole[1][2]
    if whole:
        return whole[0][2]
    if any(what == "damaged" for what, _, _ in slots) or table is None or kind > CALIBRATION:
        return None
    return json_records.value_of(kind, table)[0]


def vault_files(files: dict[str, bytes]) -> None:
    """Any content of the files: each kind is the newest whole record or none, never a mix; and
    the unit starts."""
    flash = FakeFlash()
    flash.files = {"/" + name: data for name, data in files.items()}
    before = dict(flash.files)
    vault = Vault(FlashFiles(flash, flash.open, ""))
    for kind in KINDS:
        slots = [slot(kind, files.get(NAMES[kind] + end)) for end in (".a", ".b")]
        value, problem = vault.load(kind)
        assert value == expected(kind, slots, files.get(NAMES[kind] + ".json")), (kind, problem)
        there = any(name.split(".")[0] == NAMES[kind] for name in files)
        assert value is not None or problem or not there or kind > ZERO, kind
    started(vault)
    assert flash.files == before, "loading wrote something"


def started(vault: Vault) -> None:
    """What was stored makes a unit that ticks, or one that refuses."""
    stored = Stored(vault)
    unit, settings, _ = assembly.make_unit(stored.settings, stored.plain, stored.zero)
    in_range(settings)
    if stored.reference_pm is not None and hasattr(unit, "adopt_reference"):
        unit.adopt_reference(stored.reference_pm)
    sample = Sample()
    for now_ms in range(0, 200, 10):
        unit.tick(now_ms, sample)
        assert 0 <= unit.voice.level <= 8


def vault_bytes(data: bytes) -> None:
    """Bytes cut into files: a byte says which and how (bare, or framed), two how long."""
    names = [NAMES[kind] + end for kind in KINDS for end in (".a", ".b")] + list(
        json_records.FILES.values())
    files: dict[str, bytes] = {}
    while len(data) >= 3 and len(files) < 8:
        which, length = data[0], int.from_bytes(data[1:3], "little") % 2048
        content, data = data[3:3 + length], data[3 + length:]
        name = names[which % 16 % len(names)]
        if which & 128 and not name.endswith(".json") and content:
            kind = [k for k in KINDS if NAMES[k] == name.split(".")[0]][0]
            content = framed(kind, content[0] << 24, content[1:], 1 + (which >> 6 & 1))
        files[name] = content
    vault_files(files)


TARGETS = {"records": records, "settings": settings_file, "calibration": calibration_file,
           "csv": flight_file, "vault": vault_bytes}
