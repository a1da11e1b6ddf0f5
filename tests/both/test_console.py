"""The console on a started unit: one line in, one line of JSON out. Both interpreters."""

import json

from alula import states
from alula.record_payloads import NAMES, SETTINGS
from alula.version import VERSION
from console.commands import COMMANDS
from console.desk import LEAVE_MS, STARTING_MS
from console.line import LONGEST
from drivers.console import PATIENCE, PIECE
from tests.both.console_rig import Talk
from tests.both.start_rig import Broken, stored
from tests.both.vault_rig import vault_with


def test_status_tells_what_the_unit_is():
    talk = Talk()
    told = talk.ask("status")
    assert told["ok"] is True and told["firmware"] == VERSION and told["board"] == "bench"
    assert told["start"] == "power" and told["state"] == "quiet" and told["health"] == "on-ground"
    assert told["flying"] is False and told["calibrated"] is True and told["zero_known"] is True
    assert told["free_memory"] == talk.board.free_memory() and told["missed"] == 0
    assert told["free_flash"] == talk.unit.vault.free_bytes() > 0
    assert told["log"]["stopped"] is True and told["log"]["session"] is None
    assert told["sensors"]["pitot"]["status"] == "fresh"
    assert told["sensors"]["pitot"]["word"] == talk.unit.loop.sample.pitot_word
    assert told["sensors"]["accelerometer"]["status"] == "not-fitted"
    assert told["temperature_dc"] == talk.unit.loop.sample.temperature_dc


def test_settings_are_those_that_are_set():
    talk = Talk()
    record = talk.unit.vault.load(SETTINGS)[0]
    assert talk.ask("settings")["settings"] == record


def test_set_is_checked_as_a_whole_and_stored_at_once():
    talk = Talk()
    before = talk.unit.vault.load(SETTINGS)[0]
    told = talk.ask("set window_ms 120")
    assert told["ok"] and (told["set"], told["value"]) == ("window_ms", 120)
    assert "next start" in told["effect"]
    now = dict(before, window_ms=120)
    assert talk.unit.vault.load(SETTINGS)[0] == now == talk.ask("settings")["settings"]
    assert talk.ask("set calm_sound off")["value"] == "off"
    assert talk.ask("set pitot_low_dpa -24000")["value"] == -24000
    kept = talk.unit.vault.load(SETTINGS)[0]
    for line in ("set window_ms 9999", "set window_ms on", "set window_ms 1.5",
                 "set window_ms 1e2", "set window_ms 12_0", "set window_ms -",
                 "set window_ms 99999999999",
                 "set window_ms +120", "set calm_sound 1", "set calm_sound maybe",
                 "set pressing_pm 400", "set volume 0", "set format 1", "set sample_rate_hz 60"):
        told = talk.ask(line)
        assert told["ok"] is False and told["why"] and told["do"], line
    assert talk.unit.vault.load(SETTINGS)[0] == kept


def test_d2_a_flash_that_refuses_leaves_the_old_setting():
    vault, flash = stored()
    talk = Talk(vault)
    before = vault.load(SETTINGS)[0]
    flash.healthy()
    flash.short_by = 1
    told = talk.ask("set window_ms 120")
    flash.healthy()
    assert told["ok"] is False and "not saved" in told["why"]
    assert vault.load(SETTINGS)[0] == before == talk.ask("settings")["settings"]


def test_a_unit_without_settings_can_be_given_them_by_the_console():
    talk = Talk(vault_with()[0])
    told = talk.ask("status")
    assert told["state"] == "fault" and told["health"] == "settings" and told["flying"] is None
    assert told["calibrated"] is False and told["zero_known"] is False
    assert talk.ask("settings")["settings"] == {}
    for name, value in sorted(stored()[0].load(SETTINGS)[0].items()):
        assert talk.ask("set %s %s" % (name, value))["ok"]
    assert talk.ask("zero")["ok"] is False
    again = Talk(talk.unit.vault)
    assert again.ask("status")["state"] == "uncalibrated"


def test_records_are_named_with_version_and_size():
    vault, flash = stored()
    told = Talk(vault).ask("records")["records"]
    assert sorted(told) == ["anchor", "calibration", "settings", "zero"]  # a zero was taken
    for name in told:
        assert told[name]["version"] == 1 and name in NAMES.values()
        assert told[name]["bytes"] == len(flash.files["/" + told[name]["file"]])


def test_a_json_file_made_by_hand_is_version_0():
    talk = Talk(vault_with(settings_json=b"{}")[0])
    assert talk.ask("records")["records"] == {
        "settings": {"file": "settings.json", "version": 0, "bytes": 2}}


def test_zero_is_asked_for_as_by_the_button():
    talk = Talk()
    zero = talk.unit.loop.unit.zero
    taken = zero.taken
    assert talk.ask("zero")["ok"] and not zero.anchored
    talk.run(300)
    assert zero.taken == taken + 1 and zero.anchored
    assert talk.ask("zero")["ok"] is False  # two since power-up
    flown = Talk()
    flown.fly(300)
    flown.unit.q_dpa = 0
    flown.run(300)
    flown.unit.loop.unit.phase.flying = False  # landed
    told = flown.ask("zero")
    assert told["ok"] is False and "flown" in told["why"]


def test_help_is_the_table():
    told = Talk().ask("help")["commands"]
    assert len(told) == len(COMMANDS) and told[0].startswith("status: ")
    assert all(told[i].split(":")[0].split()[0] == COMMANDS[i][0] for i in range(len(told)))


def test_restart_and_maintain_answer_first_and_then_do_it():
    for name, count in (("restart", "restarts"), ("maintain", "maintains")):
        talk = Talk()
        assert talk.ask(name)["restarting"] == name
        assert getattr(talk.board, count) == 0
        talk.run(LEAVE_MS // 10 + 1)
        assert getattr(talk.board, count) == 1
        assert talk.board.restarts + talk.board.maintains == 1


def test_a_promised_restart_is_dropped_when_the_aeroplane_flies_by_then():
    talk = Talk()
    talk.unit.loop.unit.phase.flying = False
    talk.type("maintain\n")
    talk.run(2)
    talk.unit.loop.unit.phase.flying = True
    talk.fly(300)
    assert talk.board.maintains == 0


def test_changes_wait_until_the_unit_may_know_whether_it_flies():
    talk = Talk(ticks=5)
    told = talk.ask("restart")
    assert told["ok"] is False and "3 seconds" in told["do"] and STARTING_MS == 3000
    assert talk.ask("status")["ok"] is True
    talk.run(300)
    assert talk.board.restarts == 0 and talk.ask("restart")["ok"] is True


def test_in_the_air_everything_that_changes_anything_is_refused():
    talk = Talk()
    talk.fly(300)
    before = {name: data for name, data in talk.unit.vault._store._os.files.items()}
    lines = [row[0] for row in COMMANDS if row[0] not in ("status", "settings")]
    for line in lines + ["set window_ms 120", "check puff", "mute", "volume 0", "off"]:
        talk.fly(110)
        talk.type(line + "\n")
        talk.fly(20)
        told = talk.answers()
        assert len(told) == 1 and told[0]["ok"] is False, line
    files = talk.unit.vault._store._os.files
    assert all(files[name] == before[name] for name in before if not name.startswith("/starts"))
    assert talk.board.restarts == talk.board.maintains == 0


def test_in_the_air_status_comes_once_a_second_and_only_while_quiet():
    talk = Talk()
    talk.fly(300)
    for line in ("status", "settings"):
        talk.fly(110)
        talk.type(line + "\n" + line + "\n")
        talk.fly(100)
        told = talk.answers()
        assert [answer["ok"] for answer in told] == [True, False], line
    assert talk.unit.loop.unit.state == states.QUIET
    talk.fly(200, 1000)
    assert talk.unit.loop.unit.state == states.STALLING
    talk.type("status\n")
    talk.fly(30, 1000)
    assert [answer["ok"] for answer in talk.answers()] == [False]


def test_lines_that_are_none_are_refused_and_do_no_harm():
    talk = Talk()
    cases = ("x" * (LONGEST + 1), "x" * 5000, "st\x01atus", "   ", "nonsense", "status now",
             "set", "set window_ms", "set window_ms 1 2", "check", '{"ok": true}')
    for line in cases:
        told = talk.ask(line, 2000)
        assert told["ok"] is False and told["why"] and told["do"], line
    talk.type(b"\xff\xfe\x80status\n\n\r\n\r\r\n")
    talk.run(30)
    assert [answer["ok"] for answer in talk.answers()] == [False]
    talk.type("status\r\nstatus\n")
    talk.run(300)
    assert [answer["ok"] for answer in talk.answers()] == [True, True]
    assert talk.ask("x" * LONGEST)["why"].startswith("xxx")


def test_every_line_gets_one_answer_in_its_order():
    talk = Talk()
    talk.type("help\nstatus\nnone\nsettings\n")
    talk.run(900)
    told = talk.answers()
    assert [list(sorted(answer))[0] for answer in told] == ["commands", "board", "do", "ok"]


def test_narration_waits_for_the_answer_under_way():
    talk = Talk()
    talk.type("settings\n")
    talk.run(2)
    assert talk.board.console.answering()
    for i in range(12):
        talk.board.console.say("line %d" % i)
    talk.run(300)
    lines = talk.board.terminal.lines()
    at = [i for i in range(len(lines)) if lines[i].startswith("{")][-1]
    json.loads(lines[at])
    assert lines[at + 1:at + 9] == ["line %d" % i for i in range(8)]
    assert talk.board.console.dropped == 4


def test_nobody_who_reads_holds_the_unit_up_or_tears_a_later_line():
    talk = Talk()
    talk.type("settings\n")
    talk.run(3)
    talk.board.console._poller.listening = False
    talk.run(PATIENCE + 2)
    assert not talk.board.console.answering()
    talk.board.console._poller.listening = True
    talk.board.console.say("narration")
    lines = talk.board.terminal.lines()
    assert lines[-1] == "narration" and lines[-2][:1] == "{"  # torn, and its line is ended
    assert len(lines[-2]) <= 3 * PIECE
    talk.skip()
    assert talk.ask("status")["ok"] is True
    talk.type("settings\n")
    talk.run(3)
    talk.board.console._poller.listening = False
    talk.run(PATIENCE + 2)
    talk.board.console._poller.listening = True
    talk.type("status\n")
    talk.run(100)
    lines = talk.board.terminal.lines()
    assert lines[-2][:1] == "{" and json.loads(lines[-1])["ok"] is True


def test_a_broken_port_raises_nothing():
    talk = Talk()
    talk.board.keys.type("status\n")
    talk.board.keys.fail = True
    talk.run(5)
    talk.board.keys.fail = False
    talk.board.terminal.fail = True
    talk.run(300)
    talk.board.terminal.fail = False
    assert talk.ask("status")["ok"] is True


def test_a_mistake_in_an_answer_is_an_answer():
    talk = Talk()
    talk.unit.loop.unit.zero = Broken(talk.unit.loop.unit.zero, "known")
    talk.board.free_memory = None
    told = talk.ask("status")
    assert told["ok"] is False and "TypeError" in told["why"]
    assert talk.ask("help")["ok"] is True
