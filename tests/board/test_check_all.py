"""All ground checks through `alula board check`: the unit in the VM, somebody at its hoses.

The same person leads the same unit through the same checks in CPython; the tables must be equal.
"""

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from alula.ground_check import steps
from alula.record_payloads import SETTINGS
from alula.vault import Vault
from drivers.flash_files import FlashFiles
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.fake_flash import FakeFlash
from host_sim.bench.virtual_clock import VirtualClock
from host_sim.board import check
from host_sim.runtimes.paths import ROOT
from startup import prepare
from tests.board.conftest import SETTINGS_RECORD, records
from tests.board.person import Person
from tests.board.test_records import LEARNED

HURRY = 100000
LONGEST_S = 900  # of the unit's own time


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """The unit of the tests lives a hundred times faster."""
    monkeypatch.setattr(check, "ENDED_S", 0.3)
    monkeypatch.setattr(check, "QUIET_S", 6.0)


class Here:
    """The unit in CPython, led by the same person; `said`: what it told."""

    def __init__(self, faults: dict) -> None:
        flash = FakeFlash()
        flash.files = records({SETTINGS: SETTINGS_RECORD, **LEARNED})
        self.said = []
        self.board = BenchBoard(VirtualClock())
        person = Person("port-static", faults, self.board)

        def say(line: str) -> None:
            self.said.append(line)
            person.hear(line)
        self.loop = prepare(self.board, Vault(FlashFiles(flash, flash.open, "")), say)[0]
        wait = self.board.clock.wait_until_ms

        def moved(deadline_ms: int) -> int:
            late_ms = wait(deadline_ms)
            person.move()
            return late_ms
        self.board.clock.wait_until_ms = moved

    def ask(self, line: str) -> dict:
        """An answer of the console."""
        before = len(self.board.terminal.lines())
        self.board.keys.type(line + "\n")
        for _ in range(600):
            self.loop.run_once()
            found = [text for text in self.board.terminal.lines()[before:] if text[:1] == "{"]
            if found:
                return json.loads(found[0])
        raise AssertionError(line)

    def check(self, words: str) -> dict:
        """The table when the checks have ended."""
        for _ in range(400):
            self.loop.run_once()
        assert self.ask("check " + words)["ok"]
        for _ in range(LONGEST_S * 100):
            self.loop.run_once()
            if self.loop.unit.checks.step == steps.OFF:
                return self.ask("check table")
        raise AssertionError(self.said[-3:])


def comparable(table: list[dict]) -> list[dict]:
    """Without the date, which a computer tells, and the room on two different flashes."""
    return [{**row, "date": None, "number": None if row["check"] == "space" else row["number"]}
            for row in table]


def lines_of_checks(lines: list[str]) -> list[str]:
    """What the unit told, but for the room on two different flashes."""
    return [line for line in lines if line.startswith("check") and "space" not in line]


@pytest.mark.parametrize(("faults", "failed"), [
    ({}, []), ({"swap": ["pitot", "static"], "leak": "angled"}, ["leak-angled"])])
def test_all_checks_through_the_vm_end_in_the_table_of_cpython(alula, unit, faults, failed):
    board = unit(records=LEARNED, person=faults, hurry=HURRY)
    done = alula("check", "--port", board.port)
    told = lines_of_checks(done.out.splitlines())
    assert done.code == (1 if failed else 0), done
    found = json.loads(alula("check", "table", "--port", board.port, "--json").out)
    here = Here(faults)
    wanted = here.check("all")
    assert comparable(found["table"]) == comparable(wanted["table"])
    assert [row["check"] for row in found["table"] if row["verdict"] == "fail"] == failed
    verdicts = {row["check"]: row["verdict"] for row in found["table"] if row["now"]}
    assert len(verdicts) == len(steps.ROWS) - 1  # there is no upper port
    assert [name for name, verdict in verdicts.items() if verdict == "skipped"] == (
        ["leak-pitot", "leak-static"] if "leak" in faults else [])
    assert told == lines_of_checks(here.said)
    wrong = [line for line in told if line.startswith("check puff: wrong")]
    assert len(wrong) == (1 if "swap" in faults else 0)
    assert all("the hose of the pitot port" in line for line in wrong)


@pytest.mark.parametrize(("swap", "says"), [
    (["pitot", "static"], "the hose of the pitot port goes where that of the static port"),
    (["static", "angled"], "the hose of the static port")])
def test_the_puff_test_alone_says_which_hoses_and_goes_on_when_they_are_right(
        alula, unit, swap, says):
    board = unit(records=LEARNED, person={"swap": swap}, hurry=HURRY)
    done = alula("check", "puff", "--port", board.port)
    assert done.code == 0, done
    wrong = done.out.index("check puff: wrong: ")
    assert says in done.out[wrong:] and "all hoses are right" in done.out[wrong:]
    row, = [line for line in done.out.splitlines() if line.startswith("puff ")]
    assert " pass " in row


def started_check(board, *more, **words) -> subprocess.Popen:
    """`alula board check ...` in a process of its own, as at a terminal."""
    return subprocess.Popen(
        [sys.executable, "-u", "-m", "host_sim", "board", "check", *more, "--port", board.port],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL), **words)


def after(alula, board) -> dict:
    """What the unit says of itself once somebody has left the checks; none runs any more."""
    assert alula("check", "table", "--port", board.port, "--json").json()["running"] == "off"
    return alula("status", "--port", board.port, "--json").json()


def test_ctrl_c_ends_the_checks_leaves_the_unit_as_it_was_and_says_so(alula, unit):
    board = unit(records=LEARNED, person={"away": True})
    process = started_check(board, "puff")
    first = process.stdout.readline()
    assert first.startswith("check puff: ")
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert process.returncode == 130, (out, err)
    assert "the checks were ended; the unit runs on" in err and "Traceback" not in err
    found = after(alula, board)
    assert found["state"] == "quiet" and found["missed"] == 0
    assert board.codes == []  # it was not restarted


def test_ctrl_c_while_the_unit_does_not_answer_says_how_to_end_them(alula, unit):
    board = unit(records=LEARNED, person={"away": True})
    process = started_check(board, "puff")
    assert process.stdout.readline().startswith("check puff: ")
    board.power_off()
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=30)
    assert process.returncode == 130
    assert "switch the unit off and on" in err and "Traceback" not in err


@pytest.mark.parametrize(("typed", "ends"), [("q\n", True), ("\n\n", False)])
def test_keys_go_on_and_end(alula, unit, typed, ends):
    """Enter skips the leak check of a line; q ends. Neither is an error."""
    board = unit(records=LEARNED, person={"away": True})
    master, slave = os.openpty()
    try:
        process = started_check(board, "leak", "pitot", stdin=slave)
        os.close(slave)
        assert process.stdout.readline().startswith("check leak pitot: ")
        os.write(master, typed.encode())
        out, err = process.communicate(timeout=30)
    finally:
        os.close(master)
    assert process.returncode == 0, (out, err)
    assert ("check: ended" in out) == ends
    row, = [line for line in out.splitlines() if line.startswith("leak-pitot ")]
    assert (" skipped " in row) == (not ends)
    assert after(alula, board)["state"] == "quiet"


@pytest.mark.parametrize("typed", [b"\x04", b""])  # Ctrl-D, the end of what is typed; or just gone
def test_a_terminal_that_closes_confirms_nothing(alula, unit, typed):
    """No more keys is not Enter: what nobody has seen does not pass."""
    board = unit(records=LEARNED, person={"away": True}, hurry=HURRY)
    reading, writing = os.openpty()
    process = started_check(board, "lamp", stdin=writing)
    os.close(writing)
    assert process.stdout.readline().startswith("check lamp: ")
    os.write(reading, typed)
    time.sleep(0.2)
    os.close(reading)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 1 and "Traceback" not in err, (out, err)
    table = json.loads(alula("check", "table", "--port", board.port, "--json").out)["table"]
    row, = [row for row in table if row["check"] == "lamp"]
    assert row["verdict"] == "fail"
