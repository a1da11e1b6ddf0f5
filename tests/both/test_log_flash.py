"""What a flash that fails, is full or loses its power does to the log; names of sessions.

Cases F1 (power cuts), F2 (full and failing flash).
"""

from alula import figures, log_layout, states
from alula.record_payloads import REFERENCE, SETTINGS
from alula.vault import Vault
from drivers.log_files import file_name, session_of
from host_sim.bench.fake_flash import EIO, FakeFlash, PowerCut
from log_store import PART_BLOCKS, RESERVE_BYTES
from tests.both.core_rig import Rig, record
from tests.both.log_kept import BLOCK, Kept, whole


def test_sessions_are_numbered_from_the_names_and_nothing_else():
    for names, session in (((), 1), (("00001-000.log",), 2),
                           (("00009-001.log", "00010-000.log"), 11),
                           (("x.log", "123.log", "0001a-000.log", "00001_000.log"), 1)):
        flash = FakeFlash()
        for name in names:
            flash.files["/" + name] = b""
        assert Kept(flash).keeper.log.session == session, names
    assert file_name(12, 3) == "00012-003.log" and session_of("00012-003.log") == 12


def test_session_numbers_that_are_used_up_are_told_and_no_old_log_is_touched():
    flash = FakeFlash()
    flash.files["/65535-000.log"] = b"old"
    kept = Kept(flash)
    kept.fly(300, 2000)
    assert kept.keeper.stopped and flash.files == {"/65535-000.log": b"old"}
    assert len(kept.said) == 1 and "remove the logs" in kept.said[0]


def test_f2_when_the_flash_is_full_the_oldest_session_goes_and_records_keep_their_room():
    flash = FakeFlash(RESERVE_BYTES + 14 * BLOCK)
    for session in (1, 2, 3):
        flash.files["/" + file_name(session, 0)] = bytes(3 * BLOCK)
    kept = Kept(flash)
    vault = Vault(kept.files)
    assert vault.save(SETTINGS, record()) == ""
    least = flash.free()
    for i in range(12):
        kept.fly(300, 600)
        least = min(least, flash.free())
        assert vault.save(REFERENCE, 400 + i) == ""
    names = kept.files.logs()
    assert names[-1] == "00004-000.log" and "00001-000.log" not in names
    assert least >= RESERVE_BYTES


def test_f2_its_own_oldest_part_goes_when_no_other_session_is_left():
    flash = FakeFlash(RESERVE_BYTES + 18 * BLOCK)
    flash.files["/00001-000.log"] = bytes(3 * BLOCK)
    kept = Kept(flash)
    kept.fly(300, 1500)
    kept.keeper._store._part_blocks = PART_BLOCKS  # the next block begins a new file
    kept.fly(300, 6000)
    assert not kept.keeper.stopped
    assert kept.files.logs()[-1] == "00002-001.log" and len(kept.files.logs()) == 1
    assert flash.free() >= RESERVE_BYTES


def test_f2_a_flash_that_is_full_of_other_things_ends_the_log_with_one_notice():
    flash = FakeFlash(RESERVE_BYTES + BLOCK)
    kept = Kept(flash)
    plain = Rig()
    for lift in (300, 960, 300):
        kept.fly(lift, 1500)
        plain.fly(lift, 15000)
    assert kept.keeper.stopped and flash.files == {}
    assert len(kept.said) == 1 and "no room" in kept.said[0]
    assert [row[1:] for row in kept.rig.heard] == [row[1:] for row in plain.heard]
    assert kept.rig.unit.voice._remark != figures.AMISS  # not in the air
    kept.land(2500)
    assert not kept.keeper._untold


def test_f2_one_failure_of_any_call_costs_no_block():
    usual = Kept()
    usual.fly(300, 4500)
    wanted = usual.blocks()
    for n in range(1, usual.flash.calls + 1, 2):
        kept = Kept()
        kept.flash.fail_at, kept.flash.fail_with = n, EIO
        kept.fly(300, 5000)
        assert not kept.keeper.stopped, n
        assert kept.keeper.log.ring.dropped == 0
        sequences = whole_ones(kept)
        assert sequences[:len(wanted) - 1] == list(range(len(wanted) - 1)), n


def whole_ones(kept: Kept) -> list:
    """Sequences of the whole data blocks, wherever they begin; a failure may leave a torn one."""
    data = b"".join([kept.flash.files["/" + name] for name in kept.files.logs()])
    found, at = [], 0
    while at + BLOCK <= len(data):
        if whole(data[at:at + BLOCK]):
            if data[at + 5] == log_layout.DATA:
                found.append(data[at + 8])
            at += BLOCK
        else:
            at += 1024
    return found


def test_f2_a_flash_that_fails_for_good_ends_the_log_and_not_the_warning():
    kept = Kept()
    kept.fly(300, 1000)
    kept.flash.fail_at, kept.flash.fail_for = 1, 1 << 30
    kept.fly(300, 3000)
    assert kept.keeper.stopped and len(kept.said) == 1
    assert "the flash reports an error (error 5)" in kept.said[0]
    kept.fly(960, 300)
    assert kept.rig.unit.state == states.STALLING


def test_f2_a_write_that_takes_less_is_seen():
    kept = Kept()
    kept.flash.short_by = 7
    kept.fly(300, 4000)
    assert kept.keeper.stopped and "1017 of 1024 bytes" in kept.said[0]


def test_f1_a_power_cut_at_any_call_leaves_whole_blocks_only():
    usual = Kept()
    usual.fly(300, 2200)
    calls, most = usual.flash.calls, len(usual.blocks())
    assert most >= 3
    for n in range(1, calls + 1):
        for after in (False, True):
            kept = Kept()
            kept.flash.cut_at, kept.flash.cut_after = n, after
            try:
                kept.fly(300, 2200)
                assert n < 3  # the first calls are made when the keeper is
            except PowerCut:
                pass
            kept.flash.healthy()
            found = kept.blocks()
            assert found == usual.blocks()[:len(found)]
            again = Kept(kept.flash)
            assert again.keeper.log.session == (2 if found else 1)


class Planted(Exception):
    """A mistake in the log."""


def test_f2_a_mistake_or_too_little_memory_in_the_log_ends_the_log_and_not_the_warning():
    for error in (Planted("a mistake"), MemoryError("no room for 4096 bytes")):
        kept = Kept()
        kept.fly(300, 100)

        def broken(*_, error=error):
            raise error

        kept.keeper._store.step = broken
        kept.fly(300, 3000)
        assert kept.keeper.stopped and len(kept.said) == 1
        assert type(error).__name__ in kept.said[0]
        kept.fly(960, 300)
        assert kept.rig.unit.state == states.STALLING
