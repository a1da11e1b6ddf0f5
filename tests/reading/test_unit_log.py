"""The log's reader: every whole block is used, and every damage is named with its place.

Cases G1 (times), G3 (torn files), G9 (both interpreters write the same bytes).
"""

import random
import subprocess
from pathlib import Path

import numpy as np
import pytest

from alula import log_layout as layout
from alula.flight_log import record
from alula.log_block import fill_header, seal
from alula.record_payloads import PAYLOADS, SETTINGS
from alula.sample import Sample
from host_sim.errors import UsageError
from host_sim.reading.unit_log import Gap, Timed, UnitLog, is_unit_log, open_log, read_log
from host_sim.reading.unit_log_head import UnitChange
from host_sim.runtimes.run import find_vm, vm_environment
from tests.both.log_rig import Logged, stormy
from tests.reading.log_made import BLOCK, head_blocks, made, stored

HERE = Path(__file__).parent


def read(data: bytes) -> UnitLog:
    return read_log(Path("UNIT.LOG"), data)


def rows(log: UnitLog, session: int = 0) -> np.ndarray:
    return np.concatenate([item.ticks.rows for item in log.sessions[session].items(log.content)
                           if isinstance(item, Timed)])


def gaps(log: UnitLog) -> list[Gap]:
    return [item for item in log.sessions[0].items(log.content) if isinstance(item, Gap)]


def without(seen: list, log: UnitLog, lost: set[int]) -> np.ndarray:
    """What was seen, less the ticks of data blocks (by sequence) that are lost."""
    kept, at = [], 0
    for header in sorted(read(FULL).headers, key=lambda h: h.sequence):
        if header.kind != layout.DATA:
            continue
        if header.sequence not in lost:
            kept += seen[at:at + header.count]
        at += header.count
    return np.array(kept)


FULL, SEEN = made()
COUNT = len(FULL) // BLOCK
assert COUNT > 10


def test_a_whole_log_gives_back_every_number_that_went_in():
    log = read(FULL)
    assert not log.notes and not log.sessions[0].notes and not gaps(log)
    assert np.array_equal(rows(log), SEEN)


def test_the_head_gives_back_what_the_unit_started_with():
    start = stored(reference_pm=433, anchor={"pitot_dpa": -3, "angled_dpa": 7}, amiss=True)
    data, _ = made(ticks=10, **vars(start))
    head = read(data).sessions[0].head
    assert head is not None
    assert (head.settings, head.zero, head.anchor) == (start.settings, start.zero, start.anchor)
    assert (head.calibration, head.reference, head.amiss) == (start.calibration, 433, True)
    assert (head.board, head.start) == ("bench", "power")


def test_g9_both_interpreters_write_the_same_bytes():
    done = subprocess.run(
        [find_vm(), "-X", "heapsize=32m", HERE.parent / "vm" / "log_bytes_main.py", "11", "3000"],
        env=vm_environment(), capture_output=True, text=True, check=True)
    blocks = [bytes.fromhex(line) for line in done.stdout.split()]
    assert b"".join(blocks) == stormy(11, 3000).end() and len(blocks) > 5


@pytest.mark.parametrize("lost", [1, 2, COUNT // 2, COUNT - 1])
def test_g3_a_flipped_bit_costs_its_block_and_is_told_with_its_place(lost):
    damaged = bytearray(FULL)
    damaged[lost * BLOCK + 777] ^= 4
    log = read(bytes(damaged))
    assert log.notes == [f"byte {lost * BLOCK} (block {lost}): 4096 bytes whose checksum is "
                         "wrong; not used"]
    assert np.array_equal(rows(log), without(SEEN, log, {lost - 1}))  # block 0 is the head
    if lost == COUNT - 1:
        return  # a gap at the end cannot be told from a log that ended there
    times = {int(item.time_ms[0]) for item in log.sessions[0].items(log.content)
             if isinstance(item, Timed)}
    (gap,) = gaps(log)
    assert gap.blocks == 1 and gap.to_ms in times and "no samples between" in gap.text()


def test_g3_any_bit_of_any_byte_of_a_block_is_seen():
    data = bytearray(FULL[:3 * BLOCK])
    for at in list(range(BLOCK, BLOCK + 70)) + list(range(2 * BLOCK - 70, 2 * BLOCK)):
        for bit in range(8):
            data[at] ^= 1 << bit
            log = read(bytes(data))
            assert len(log.headers) == 2 and len(log.notes) == 1, (at, bit)
            data[at] ^= 1 << bit


def test_g3_a_log_cut_at_any_byte_keeps_all_whole_blocks():
    for cut in [*range(2 * BLOCK - 40, 2 * BLOCK + 40), 2 * BLOCK + 1234]:
        log = read(FULL[:cut])
        assert len(log.headers) == cut // BLOCK
        if cut % BLOCK:
            assert f"byte {cut // BLOCK * BLOCK}" in log.notes[0] and "cut off" in log.notes[
                0] or cut % BLOCK < 4


def test_g3_bytes_put_in_or_left_out_do_not_cost_the_blocks_after_them():
    for at, change in ((2 * BLOCK + 100, b"\x00" * 33), (2 * BLOCK, b"ALUL"),
                       (2 * BLOCK, FULL[BLOCK:BLOCK + 50])):
        log = read(FULL[:at] + change + FULL[at:])
        inside = at % BLOCK != 0
        assert np.array_equal(rows(log), without(SEEN, log, {1} if inside else set()))
        assert len(log.notes) == 1
    log = read(FULL[:2 * BLOCK + 100] + FULL[2 * BLOCK + 200:])
    assert np.array_equal(rows(log), without(SEEN, log, {1}))
    assert "3996 bytes" in log.notes[0]


@pytest.mark.parametrize("fill", [b"\x00", b"\xff"])
def test_g3_a_file_that_was_never_trimmed_is_told_and_used(fill):
    log = read(FULL + fill * 10000)
    assert np.array_equal(rows(log), SEEN)
    assert log.notes == [f"byte {len(FULL)} (block {COUNT}): 10000 bytes that are all "
                         f"0x{fill.hex().upper()}; not used"]


def test_g3_blocks_in_another_order_and_twice_are_sorted_and_used_once():
    blocks = [FULL[at:at + BLOCK] for at in range(0, len(FULL), BLOCK)]
    mixed = blocks + blocks[3:6]
    random.Random(1).shuffle(mixed)
    log = read(b"".join(mixed))
    assert np.array_equal(rows(log), SEEN)
    assert "3 blocks stand twice; used once" in log.sessions[0].notes
    assert any("another order" in note for note in log.sessions[0].notes)


def test_two_different_blocks_with_one_number_are_told():
    other, _ = made(seed=2)
    log = read(FULL + other[BLOCK:2 * BLOCK])
    assert np.array_equal(rows(log), SEEN)
    assert any("two units' logs" in note for note in log.sessions[0].notes)


def test_g1_sessions_in_one_file_are_kept_apart_each_with_its_own_time():
    second, seen = made(seed=3, ticks=900, session=2)
    log = read(FULL + second)
    assert [session.number for session in log.sessions] == [1, 2]
    assert np.array_equal(rows(log, 0), SEEN) and np.array_equal(rows(log, 1), seen)
    first = next(log.sessions[1].items(log.content))
    assert isinstance(first, Timed) and first.time_ms[0] == 0


def test_g1_time_never_goes_back_though_the_counter_does_and_wraps():
    log = read(FULL)
    time_ms = np.concatenate([item.time_ms for item in log.sessions[0].items(log.content)
                              if isinstance(item, Timed)])
    assert (np.diff(time_ms) >= 0).all() and time_ms[0] == 0
    counters = np.array([row[0] for row in SEEN])
    assert (np.diff(counters) < 0).any()
    steps = (np.diff(counters) + (1 << 29)) % (1 << 30) - (1 << 29)
    rising = steps > 0
    # a usual interval is as long as it was, wherever it does not make up for a fall before it
    assert time_ms[-1] <= steps[rising].sum()


def test_without_a_head_the_samples_are_still_there():
    log = read(FULL[BLOCK:])
    assert log.sessions[0].head is None and "missing" in log.sessions[0].problem
    assert np.array_equal(rows(log), SEEN)


def test_a_head_of_two_blocks_needs_both():
    long = head_blocks(b"\x10\x01\x88\x13" + b"v" * 5000
                       + _settings_record())
    assert len(long) == 2 * BLOCK
    assert read(long + FULL[BLOCK:]).sessions[0].head is not None
    for part in (long[:BLOCK], long[BLOCK:]):
        assert read(part + FULL[BLOCK:]).sessions[0].head is None


def _settings_record() -> bytes:
    return record(SETTINGS, 1, PAYLOADS[SETTINGS][0](stored().settings))


def test_changes_are_given_between_the_ticks_and_a_lost_one_is_told():
    logged = Logged(blocks=4)
    for i in range(50):
        logged.tick(10 * i, Sample())
        if i == 20:
            logged.log.change(4, 1, b"\x01\xb1\x01")
    data = logged.end()
    log = read(data)
    kinds = [type(item) for item in log.sessions[0].items(data)]
    assert kinds == [Timed, UnitChange, Timed]
    change = next(i for i in log.sessions[0].items(data) if isinstance(i, UnitChange))
    assert (change.kind, change.value) == (4, 433)
    cut = data[:BLOCK] + data[2 * BLOCK:]
    log = read(cut)
    list(log.sessions[0].items(cut))
    assert any("took into use" in note for note in log.sessions[0].notes)


def planted(payload: bytes, count: int = 1) -> bytes:
    """A block with a good checksum, whatever its payload."""
    block = bytearray(BLOCK)
    fill_header(block, layout.DATA, 1, 0, 0, count, len(payload))
    block[20:20 + len(payload)] = payload
    seal(block)
    return bytes(block)


@pytest.mark.parametrize("tail, why", [
    (b"\xff\x55\x77", "event 0x55 that this version does not know"),
    (b"\xff\x3f\x77", "event 0x3F"), (b"\xff\x0c\x77", "event 0x0C"),
    (b"\xf7", "middle of a tick"), (b"\xff\x07\x01", "middle of a tick"),
    (b"\x77\x77", "2 ticks, not 1"), (b"", "0 ticks, not 1"),
    (b"\xf7\x80\xff\xff\xff\x7f" * 2, "2 ticks, not 1")])
def test_a_block_that_breaks_a_rule_is_told_and_the_rest_is_used(tail, why):
    good = read(FULL).headers[1].payload(FULL)
    data = planted(good[:39] + tail) + FULL[2 * BLOCK:]
    log = read(data)
    assert np.array_equal(rows(log), without(SEEN, log, {0}))
    (note,) = log.sessions[0].notes
    assert why in note and note.startswith("byte 0 (block 0)")


def test_random_payloads_never_raise():
    rng = random.Random(4)
    for _ in range(2000):
        data = planted(rng.randbytes(rng.randrange(0, 200)), rng.randrange(0, 5))
        log = read(data)
        list(log.sessions[0].items(data))


def test_a_newer_format_is_refused_and_not_guessed_at():
    block = bytearray(FULL[:BLOCK])
    block[4] = 2
    seal(block)
    with pytest.raises(UsageError, match="format 2, this reads up to 1"):
        read(bytes(block))


def test_what_is_no_log_is_refused_and_not_taken_for_one(tmp_path):
    for name, content in (("a.csv", b"time_s,pitot_pa,angled_pa\n0,1,2\n"), ("empty", b""),
                          ("zeros", bytes(9000))):
        (tmp_path / name).write_bytes(content)
        assert not is_unit_log(tmp_path / name)
        with pytest.raises(UsageError, match="not one whole block"):
            open_log(tmp_path / name)
    assert not is_unit_log(tmp_path / "none")
    with pytest.raises(UsageError, match="cannot be read"):
        open_log(tmp_path / "none")
    (tmp_path / "damaged").write_bytes(b"\0" + FULL[1:])
    assert is_unit_log(tmp_path / "damaged")
