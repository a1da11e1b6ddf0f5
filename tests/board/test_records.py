"""Settings, backup, restore and logs of a unit that runs its own firmware in the VM."""

import hashlib
import json
import shutil

import pytest

from alula.log_block import fill_header, seal
from alula.log_layout import BLOCK_BYTES, DATA
from alula.record_payloads import ANCHOR, CALIBRATION, REFERENCE, SETTINGS, ZERO
from alula.settings import load
from alula.vault import Vault, fingerprint
from drivers.flash_files import FlashFiles
from host_sim.bench.fake_flash import FakeFlash
from host_sim.reading.profile_file import wrap
from tests.board.conftest import SETTINGS_RECORD, records
from tests.board.test_flash import cut_cable

MARK = fingerprint(load(SETTINGS_RECORD)[0])
ZERO_VALUE = {"pitot_dpa": 12, "angled_dpa": -7, "spread_pitot_dpa": 3, "spread_angled_dpa": 4,
              "temperature_dc": 201, "count": 200}
CURVE = {"flap": 0, "method": "with-n", "entry_rate_ckt_s": 98, "runs": 3, "spread_bp": 40,
         "points": [[-1000, 250], [1000, 500], [4000, 1000]]}
LEARNED = {ZERO: ZERO_VALUE, ANCHOR: ZERO_VALUE, REFERENCE: 640,
           CALIBRATION: {"plumbing": "port-static", "fingerprint": MARK, "curves": [CURVE]}}
OTHER = {**SETTINGS_RECORD, "pitot_high_dpa": 20000}


def stored(board) -> dict:
    """The value of every kind on a board that is off, by the firmware's own vault."""
    flash = FakeFlash()
    flash.files = board.files()
    vault = Vault(FlashFiles(flash, flash.open, ""))
    found = {kind: vault.load(kind)[0] for kind in (SETTINGS, *LEARNED)}
    return {kind: value for kind, value in found.items() if value is not None}


def test_settings_are_shown_set_and_shown_again(alula, unit):
    board = unit()
    assert alula("settings", "show", "--port", board.port, "--json").json() == SETTINGS_RECORD
    done = alula("settings", "set", "lead_ms", "40", "--port", board.port)
    assert done.code == 0 and "next start" in done.out
    assert alula("settings", "set", "calm_sound", "off", "--port", board.port).code == 0
    wanted = {**SETTINGS_RECORD, "lead_ms": 40, "calm_sound": "off"}
    assert alula("settings", "show", "--port", board.port, "--json").json() == wanted
    assert alula("maintain", "--port", board.port).code == 0
    assert alula("settings", "show", "--port", board.port, "--json").json() == wanted
    board.power_off()
    assert stored(board)[SETTINGS] == wanted


@pytest.mark.parametrize(("words", "says"), [
    (("no_such", "1"), "not a setting"), (("lead_ms", "x"), "from 0 to 150"),
    (("lead_ms", "999"), "from 0 to 150"), (("calm_sound", "loud"), "off, on"),
    (("calm_pm", "800"), "pressing_pm"),  # only the unit sees that the two must rise
])
def test_a_setting_that_cannot_be_is_refused(alula, unit, words, says):
    board = unit()
    done = alula("settings", "set", *words, "--port", board.port)
    assert done.code == 2 and says in done.err, done
    assert alula("settings", "show", "--port", board.port, "--json").json() == SETTINGS_RECORD


def test_a_settings_file_is_loaded_whole_and_only_when_agreed(alula, unit, tmp_path):
    board = unit()
    path = tmp_path / "kit.json"
    # one by one these would be refused: calm may not pass the pressing that is still in force
    wanted = {**SETTINGS_RECORD, "calm_pm": 750, "pressing_pm": 800}
    path.write_text(json.dumps({"format": 1, **wanted}))
    done = alula("settings", "load", path, "--port", board.port)
    assert done.code == 2 and "--yes" in done.err
    assert alula("settings", "show", "--port", board.port, "--json").json() == SETTINGS_RECORD
    done = alula("settings", "load", path, "--port", board.port, "--yes")
    assert done.code == 0, done
    assert "calm_pm: 510 (default) -> 750" in done.out
    assert alula("settings", "show", "--port", board.port, "--json").json() == wanted
    assert "already" in alula("settings", "load", path, "--port", board.port, "--yes").out


def test_a_settings_file_that_is_wrong_never_reaches_the_board(alula, unit, tmp_path):
    board = unit()
    path = tmp_path / "kit.json"
    path.write_text(json.dumps({**SETTINGS_RECORD, "lead_ms": 151}))
    done = alula("settings", "load", path, "--port", board.port, "--yes")
    assert done.code == 2 and "kit.json:1" in done.err and board.codes == []


def test_a_profile_made_with_other_sensors_is_refused_by_the_unit(alula, unit, tmp_path):
    """`alula tune` signs settings off for one sensor configuration."""
    board = unit()
    path = tmp_path / "kit.json"
    path.write_text(json.dumps(wrap("Rill", 1, {**OTHER, "window_ms": 240})))
    done = alula("settings", "load", path, "--port", board.port, "--yes")
    assert done.code == 2 and "made with sensor configuration" in done.err, done
    assert alula("settings", "show", "--port", board.port, "--json").json() == SETTINGS_RECORD
    path.write_text(json.dumps(wrap("Rill", 1, {**SETTINGS_RECORD, "window_ms": 240})))
    done = alula("settings", "load", path, "--port", board.port, "--yes")
    assert done.code == 0 and "window_ms" in done.out, done


def test_backup_and_restore_on_a_new_board(alula, unit, vm_board, firmware_files, tmp_path):
    board = unit(records=LEARNED)
    folder = tmp_path / "kept"
    done = alula("backup", folder, "--port", board.port, "--json")
    manifest = json.loads((folder / "manifest.json").read_text())
    assert manifest["fingerprints"] == {"settings": MARK, "calibration": MARK}
    assert manifest["firmware"] == done.json()["status"]["firmware"]
    for name, facts in manifest["files"].items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == facts["sha256"]
    again = alula("backup", folder, "--port", board.port)
    assert again.code == 2 and "is there already" in again.err
    new = vm_board(name="board2")
    new.put(firmware_files)
    new.power_on()
    done = alula("restore", folder, "--port", new.port)
    assert done.code == 2 and "--yes" in done.err
    assert alula("restore", folder, "--port", new.port, "--yes").code == 0
    new.power_off()
    assert stored(new) == {SETTINGS: SETTINGS_RECORD, **LEARNED}
    assert not [path for path in new.files() if "staged" in path]


def test_restore_is_refused_for_other_sensors(alula, unit, tmp_path):
    board = unit(records=LEARNED)
    assert alula("backup", tmp_path / "kept", "--port", board.port).code == 0
    other = unit(name="board2", records={SETTINGS: OTHER})
    done = alula("restore", tmp_path / "kept", "--port", other.port, "--yes")
    assert done.code == 2 and "other sensors" in done.err and "--other-sensors" in done.err
    assert alula("settings", "show", "--port", other.port, "--json").json() == OTHER
    done = alula("restore", tmp_path / "kept", "--port", other.port, "--yes", "--other-sensors")
    assert done.code == 0 and "ground checks" in done.out
    other.power_off()
    assert stored(other) == {SETTINGS: SETTINGS_RECORD, **LEARNED}


def test_restore_leaves_what_the_backup_does_not_have(alula, unit, tmp_path):
    board = unit()
    assert alula("backup", tmp_path / "kept", "--port", board.port).code == 0
    more = unit(name="board2", records=LEARNED)
    done = alula("restore", tmp_path / "kept", "--port", more.port, "--yes", "--json").json()
    assert done["restored"] == [] and "calibration" in done["kept"]


@pytest.mark.parametrize("spoil", ["settings.a", "manifest.json", "zero.a"])
def test_a_backup_that_was_spoiled_is_not_restored(alula, unit, tmp_path, spoil):
    board = unit(records=LEARNED)
    assert alula("backup", tmp_path / "kept", "--port", board.port).code == 0
    codes = list(board.codes)
    path = tmp_path / "kept" / spoil
    path.write_bytes(path.read_bytes()[:-3])
    done = alula("restore", tmp_path / "kept", "--port", board.port, "--yes")
    assert done.code == 2 and spoil in done.err and board.codes == codes


def test_a_restore_that_is_cut_is_the_old_or_the_new_of_each_and_finishes(
        alula, vm_board, tmp_path):
    """On a board without the unit, which is quicker to switch on and off."""
    board = vm_board()
    board.put(records({SETTINGS: SETTINGS_RECORD, **LEARNED}))
    board.power_on()
    assert alula("backup", tmp_path / "kept", "--port", board.port).code == 0
    board.power_off()
    new = {SETTINGS: SETTINGS_RECORD, **LEARNED}
    cuts = 0
    for number in range(1, 40):
        value = {**ZERO_VALUE, "pitot_dpa": 100 + number}
        old = {**new, REFERENCE: 500 + number, ZERO: value, ANCHOR: value}
        board.blank()
        board.put(records(old))
        board.power_on()
        with cut_cable(2300 + number * 250):
            done = alula("restore", tmp_path / "kept", "--port", board.port, "--yes")
        board.power_off()
        found = stored(board)
        assert found in (old, new), found  # the renames are one command
        board.power_on()
        assert alula("restore", tmp_path / "kept", "--port", board.port, "--yes").code == 0
        board.power_off()
        assert stored(board) == new
        assert not [path for path in board.files() if "staged" in path or ".tmp" in path]
        if done.code == 0:
            break
        cuts += 1
    assert cuts >= 3 and done.code == 0


def log_block(session: int, sequence: int) -> bytes:
    """A whole block of the flight log; its content does not matter here."""
    block = bytearray(BLOCK_BYTES)
    fill_header(block, DATA, session, sequence, 0, 1, 8)
    seal(block)
    return bytes(block)


LOGS = {"/00001-000.log": log_block(1, 0) + log_block(1, 1),
        "/00002-000.log": log_block(2, 0) + b"torn" * 100}


def test_logs_are_pulled_once_whole_blocks_only(alula, unit, tmp_path):
    board = unit(files=LOGS)
    out = tmp_path / "logs"
    done = alula("logs", "pull", "--out", out, "--port", board.port, "--json").json()
    names = {path.name for path in out.iterdir()}
    assert {"00001-000.log", "00002-000.log"} <= names and done["removed"] == []
    assert (out / "00001-000.log").read_bytes() == LOGS["/00001-000.log"]
    assert (out / "00002-000.log").read_bytes() == log_block(2, 0)
    assert done["torn"]["00002-000.log"] == 400
    again = alula("logs", "pull", "--out", out, "--port", board.port, "--json").json()
    assert {"00001-000.log", "00002-000.log"} <= set(again["had"])
    assert not {name for name in again["copied"] if "00001" in name or "00002" in name}
    everything = alula("logs", "pull", "--all", "--out", out, "--port", board.port, "--json")
    assert len(everything.json()["copied"]) >= 2


def test_a_log_that_has_grown_and_one_of_the_same_name(alula, unit, tmp_path):
    board = unit(files=LOGS)
    out = tmp_path / "logs"
    out.mkdir()
    (out / "00001-000.log").write_bytes(log_block(1, 0))  # an earlier copy
    (out / "00002-000.log").write_bytes(log_block(9, 9) * 2)  # another unit's
    assert alula("logs", "pull", "--out", out, "--port", board.port).code == 0
    assert (out / "00001-000.log").read_bytes() == LOGS["/00001-000.log"]
    assert (out / "00002-000.log").read_bytes() == log_block(9, 9) * 2
    beside = list(out.glob("00002-000-*.log"))
    assert len(beside) == 1 and beside[0].read_bytes() == log_block(2, 0)


def test_logs_are_removed_only_when_here_and_agreed(alula, unit, tmp_path, monkeypatch):
    board = unit(files=LOGS)
    out = tmp_path / "logs"
    done = alula("logs", "pull", "--delete", "--out", out, "--port", board.port)
    assert done.code == 2 and "--yes" in done.err
    shutil.rmtree(out)
    with monkeypatch.context() as patch:  # a disk that does not keep what is written
        patch.setattr("host_sim.board.logs._copy", lambda *words: None)
        done = alula("logs", "pull", "--delete", "--yes", "--out", out, "--port", board.port)
    assert done.code == 1 and "no log was removed" in done.err
    done = alula("logs", "pull", "--delete", "--yes", "--out", out, "--port", board.port, "--json")
    assert set(done.json()["removed"]) >= {"00001-000.log", "00002-000.log"}
    board.power_off()
    assert not {"/00001-000.log", "/00002-000.log"} & {
        name for name, data in board.files().items() if data in LOGS.values()}
    assert stored(board)[SETTINGS] == SETTINGS_RECORD


def test_a_pull_that_is_cut_leaves_no_half_log_here(alula, unit, tmp_path):
    board = unit(files={"/00001-000.log": b"".join(log_block(1, n) for n in range(12))})
    out = tmp_path / "logs"
    with cut_cable(2600):
        done = alula("logs", "pull", "--out", out, "--port", board.port)
    assert done.code == 1 and "run the same command again" in done.err
    assert not out.exists() or not list(out.iterdir())
    assert alula("logs", "pull", "--out", out, "--port", board.port).code == 0
    assert len((out / "00001-000.log").read_bytes()) == 12 * BLOCK_BYTES


def test_starts_are_counted_as_asked_for(alula, unit):
    """A restart by us is no watchdog's (which the unit counts, and shows)."""
    board = unit()
    assert alula("maintain", "--port", board.port).code == 0
    assert alula("restart", "--port", board.port, "--json").json()["status"]["start"] == "restart"
