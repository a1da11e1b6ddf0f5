"""Every call to the flash fails once, the power goes at every call: old or new, and said so."""

from alula.record_payloads import ZERO
from alula.vault import Vault
from drivers.flash_files import TEMPORARY, FlashFiles, meaning
from host_sim.bench.fake_flash import EIO, ENOSPC, FakeFlash, PowerCut
from tests.both import frozen_records as frozen
from tests.both.core_rig import record

OLD_JSON = b'{"pitot_dpa": 70, "angled_dpa": 80}'
CALL_MOST = 400


def zero(pitot_dpa: int) -> dict:
    return {"pitot_dpa": pitot_dpa, "angled_dpa": 3, "spread_pitot_dpa": 1, "spread_angled_dpa": 2,
            "temperature_dc": 151, "count": 400}


def vault_on(flash: FakeFlash) -> Vault:
    return Vault(FlashFiles(flash, flash.open, ""))


def values(n: int) -> tuple:
    """(kind, value) of every kind, the n-th edition."""
    curve = dict(frozen.CALIBRATION_1_VALUE["curves"][0], points=[[n, 200], [5000 + n, 1000]])
    return ((frozen.SETTINGS, record(window_ms=100 + n)), (frozen.ZERO, zero(n)),
            (frozen.CALIBRATION, dict(frozen.CALIBRATION_1_VALUE, curves=[curve])),
            (frozen.REFERENCE, 500 + n))


def flash_after(saves: int, json: bool = False) -> FakeFlash:
    """A flash on which every kind has been saved so often."""
    flash = FakeFlash()
    if json:
        flash.files["/zero.json"] = OLD_JSON
    vault = vault_on(flash)
    for n in range(saves):
        for kind, value in values(n):
            assert vault.save(kind, value) == ""
    return flash


def restored(flash: FakeFlash, files: dict) -> Vault:
    """The same flash as it was, in order again, and a unit started on it."""
    flash.healthy()
    flash.files = dict(files)
    return vault_on(flash)


def check_error_at_every_call(saves: int, index: int, fails: int, number: int) -> set:
    """Whether old or new values were found, for an error at every call until none is left."""
    flash = flash_after(saves)
    files = dict(flash.files)
    kind, new = values(saves)[index]
    old = vault_on(flash).load(kind)[0]
    seen = set()
    for at in range(1, CALL_MOST):
        vault = restored(flash, files)
        flash.fail_at, flash.fail_for, flash.fail_with = at, fails, number
        problem = vault.save(kind, new)
        reached = flash.calls >= at
        flash.healthy()
        found, remark = vault_on(flash).load(kind)
        if problem:
            assert found in (old, new) and remark == "", (saves, kind, at, problem)
            assert "error %d" % number in problem, problem
        else:
            assert found == new, (saves, kind, at)
        seen.add("old" if found == old else "new")
        assert vault.save(kind, new) == "" and vault.load(kind) == (new, "")
        if not reached:
            assert problem == "" and at > 5
            return seen
    raise AssertionError("the save never ended")


def test_an_error_at_every_call_of_a_save():
    for saves in (0, 1, 2, 3):
        for index in range(4):
            for fails, number in ((1, EIO), (1, ENOSPC), (1000, EIO), (2, 84)):
                assert check_error_at_every_call(saves, index, fails, number) == {"old", "new"}


def test_an_error_at_every_call_of_a_load_is_never_taken_for_no_record():
    flash = flash_after(2)
    files = dict(flash.files)
    for kind, new in values(1):
        old = dict(values(0))[kind]
        remarks = 0
        for at in range(1, CALL_MOST):
            vault = restored(flash, files)
            flash.fail_at = at
            found, remark = vault.load(kind)
            assert found in (old, new), (kind, at)
            remarks += 1 if remark else 0
            assert found == new or "cannot be read" in remark
            if flash.calls < at:
                break
        assert remarks > 4
        vault = restored(flash, files)
        flash.fail_at, flash.fail_for = 1, 1000
        found, remark = vault.load(kind)
        assert found is None and "cannot be read" in remark


def check_cut_at_every_call(saves: int, index: int, after: bool, json: bool) -> set:
    flash = flash_after(saves, json)
    files = dict(flash.files)
    kind, new = values(saves)[index]
    old = vault_on(flash).load(kind)[0]
    seen = set()
    for at in range(1, CALL_MOST):
        vault = restored(flash, files)
        flash.cut_at, flash.cut_after = at, after
        try:
            assert vault.save(kind, new) == ""
            return seen
        except PowerCut:
            pass
        flash.healthy()
        found = vault_on(flash).load(kind)[0]
        assert found in (old, new), (saves, kind, at, after)
        seen.add("old" if found == old else "new")
        # the others are untouched, and the next save goes through
        for other, value in values(saves - 1) if saves and not json else ():
            assert other == kind or vault_on(flash).load(other) == (value, "")
        assert vault_on(flash).save(kind, new) == ""
        assert vault_on(flash).load(kind)[0] == new
    raise AssertionError("the save never ended")


def test_a_power_cut_at_every_call():
    for saves in (0, 1, 2, 3):
        for index in range(4):
            for after in (False, True):
                assert check_cut_at_every_call(saves, index, after, False) == {"old", "new"}


def test_a_power_cut_while_a_json_file_becomes_a_record():
    for after in (False, True):
        assert check_cut_at_every_call(0, 1, after, True) == {"old", "new"}


def test_a_short_write_is_noticed_and_never_renamed():
    for short_by in (1, 10, 40):
        flash = flash_after(2)
        files = dict(flash.files)
        flash.short_by = short_by
        problem = vault_on(flash).save(ZERO, zero(9))
        assert "bytes were taken" in problem, problem
        assert flash.files == files


def test_a_write_that_silently_loses_a_byte_is_noticed():
    flash = flash_after(2)
    files = dict(flash.files)
    flash.bad_write = True
    assert "did not keep" in vault_on(flash).save(ZERO, zero(9))
    assert flash.files == files


class LyingRename(FakeFlash):
    """Says that it renamed, and did something else."""

    def _move(self, old: str, new: str) -> None:
        self.files[new] = self.files.pop(old)[:-1] + b"\x00"


def test_only_what_reads_back_equal_is_announced():
    flash = LyingRename()
    problem = vault_on(flash).save(ZERO, zero(9))
    assert "did not read back equal" in problem
    assert vault_on(flash).load(ZERO)[0] is None


def test_a_full_flash_is_said_and_gives_its_room_back():
    flash = flash_after(2)
    files = dict(flash.files)
    flash.capacity_bytes = sum([len(data) for data in files.values()]) + 20
    problem = vault_on(flash).save(ZERO, zero(9))
    assert "full" in problem and "remove logs" in problem
    assert flash.files == files and flash.free() == 20
    flash.capacity_bytes += 40
    assert vault_on(flash).save(ZERO, zero(9)) == ""


def test_a_left_over_unfinished_file_is_never_read():
    flash = flash_after(1)
    flash.files["/" + TEMPORARY] = flash.files["/zero.a"][:30]
    assert vault_on(flash).load(ZERO) == (zero(0), "")
    assert vault_on(flash).save(ZERO, zero(1)) == ""
    assert "/" + TEMPORARY not in flash.files


def test_free_space_is_told_or_none():
    flash = FakeFlash(100000)
    store = FlashFiles(flash, flash.open, "")
    assert store.free_bytes() == 100000 and 0 < Vault.reserve_bytes < 100000
    assert store.names() == []
    assert store.write_whole("x", b"12345") == ""
    assert store.free_bytes() == 99995 and store.names() == ["x"]
    flash.fail_at, flash.fail_for, flash.calls = 1, 1000, 0
    assert store.free_bytes() is None and store.names() == []


def test_errors_in_words():
    assert "full" in meaning(OSError(28)) and "error 5" in meaning(OSError(5))
    assert "error 0" in meaning(OSError()) and "error 99" in meaning(OSError(99))
