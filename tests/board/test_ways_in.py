"""What is on the ports, and how a board is reached: found, busy, silent, stuck, two at once."""

import fcntl
import os
import pty
import subprocess
import sys
import time

import pytest

from host_sim.board import ports
from host_sim.board.ports import Port
from host_sim.runtimes.paths import ROOT
from tests.board.rig import MAINTAIN, RESET


def usb(monkeypatch, *boards) -> None:
    """Let the boards be what USB lists."""
    monkeypatch.setattr(ports, "usb_ports", lambda: [
        Port(board.port, 0x2E8A, 5, f"E66{board.port[-1]}", "RP2040") for board in boards
        if os.path.exists(board.port)])


def test_no_board_at_all(alula):
    done = alula("find")
    assert done.code == 1 and "no board found" in done.err
    for words in (("status",), ("flash",), ("backup", "x"), ("logs", "pull"), ("check",)):
        done = alula(*words)
        assert done.code == 2 and "no board found on USB" in done.err and "--port" in done.err


def test_a_port_that_is_not_there(alula, monkeypatch):
    monkeypatch.setattr(ports, "NAMED_S", 0.1)
    done = alula("status", "--port", "/dev/no-such-port")
    assert done.code == 2 and "no such port" in done.err


def test_a_file_that_is_no_port(alula, tmp_path):
    (tmp_path / "notes.txt").write_text("x")
    done = alula("status", "--port", tmp_path / "notes.txt")
    assert done.code == 2 and "notes.txt" in done.err


def test_find_tells_a_unit_from_bare_micropython(alula, unit, vm_board, monkeypatch):
    flashed, bare = unit(), vm_board(name="bare2")
    bare.power_on()
    usb(monkeypatch, flashed, bare)
    found = {one["port"]: one for one in alula("find", "--json").json()}
    assert found[flashed.port]["kind"] == "unit"
    assert found[flashed.port]["status"]["board"] == "rpi_pico"
    assert found[bare.port]["kind"] == "repl" and "MicroPython" in found[bare.port]["version"]
    lines = alula("find").out.splitlines()
    assert len(lines) == 2 and all("2e8a:0005" in line for line in lines)
    assert flashed.codes == bare.codes == []  # looking restarts nothing


def test_find_sends_nothing_to_a_device_that_may_be_anything(alula, monkeypatch):
    monkeypatch.setattr(ports, "usb_ports", lambda: [
        Port("/dev/never-opened", 0x1234, 1, "", ports.UNKNOWN)])
    done = alula("find")
    assert done.code == 0 and "not asked" in done.out and "--port" in done.out


def test_two_boards_are_never_guessed_between(alula, vm_board, monkeypatch):
    one, two = vm_board(name="board1"), vm_board(name="board2")
    one.power_on()
    two.power_on()
    usb(monkeypatch, one, two)
    for words in (("status",), ("flash", "--board", "rpi_pico"), ("restart",)):
        done = alula(*words)
        assert done.code == 2 and one.port in done.err and two.port in done.err
    assert alula("find", "--port", two.port, "--json").json()[0]["port"] == two.port


def test_the_only_board_is_found_again_by_its_number_under_another_name(
        alula, unit, monkeypatch):
    """As on USB: a board that restarts may come back as another ttyACM."""
    board = unit()
    aliases = [board.port + "-first", board.port + "-then"]

    def listed():
        if not os.path.exists(board.port):
            return []
        alias = aliases[len(board.codes) % 2]
        if not os.path.islink(alias) or os.readlink(alias) != os.path.realpath(board.port):
            if os.path.islink(alias):
                os.unlink(alias)
            os.symlink(os.path.realpath(board.port), alias)
        return [Port(alias, 0x2E8A, 5, "E661", "RP2040")]
    monkeypatch.setattr(ports, "usb_ports", listed)
    assert alula("maintain", "--json").json()["port"] == aliases[1]
    assert alula("restart", "--json").json()["status"]["ok"]


def test_a_busy_port(alula, unit):
    board = unit()
    handle = os.open(board.port, os.O_RDWR | os.O_NOCTTY)
    fcntl.flock(handle, fcntl.LOCK_EX)  # as pyserial holds a port
    try:
        for words in (("status",), ("flash",), ("restart",)):
            done = alula(*words, "--port", board.port)
            assert done.code == 2 and "busy" in done.err and "close the program" in done.err
        assert alula("find", "--port", board.port, "--json").json()[0]["kind"] == "no access"
    finally:
        os.close(handle)
    assert alula("status", "--port", board.port).code == 0


def test_a_device_that_is_no_micropython(alula):
    master, slave = pty.openpty()
    try:
        done = alula("flash", "--port", os.ttyname(slave))
        assert done.code == 2 and "nothing answers" in done.err, done
        assert alula("find", "--port", os.ttyname(slave), "--json").json()[0]["kind"] == "silent"
    finally:
        os.close(master)
        os.close(slave)


def test_a_stuck_program_is_interrupted_only_when_told_so(alula, vm_board):
    """Its watchdog, which cannot be stopped on the board, is fed as long as we are at work."""
    board = vm_board()
    board.put({"/main.py": STUCK})
    board.power_on()
    done = alula("backup", "x", "--port", board.port)
    assert done.code == 2 and "--interrupt" in done.err
    assert board.codes == []
    done = alula("maintain", "--port", board.port, "--interrupt")
    assert done.code == 0, done
    time.sleep(1.2)  # the watchdog of STUCK bites after 0.6 s
    assert board.codes == []
    assert alula("find", "--port", board.port, "--json").json()[0]["kind"] == "repl"


STUCK = b"""
import machine, sys
print('alula')
machine.WDT(timeout=600)
while '\\x03' not in sys.stdin.read(1):
    machine.WDT(timeout=600)
raise KeyboardInterrupt
"""


def test_maintenance_and_out_of_it(alula, unit):
    board = unit()
    done = alula("maintain", "--port", board.port)
    assert done.code == 0 and "NOT started" in done.out
    assert board.codes == [MAINTAIN]
    done = alula("status", "--port", board.port)
    assert done.code == 1 and "no unit is started" in done.err
    done = alula("restart", "--port", board.port, "--json")
    assert done.json()["status"]["start"] == "restart" and board.codes == [MAINTAIN, RESET]
    assert alula("restart", "--port", board.port).code == 0  # a running one, too


def test_a_unit_that_flies_is_left_alone(alula, vm_board):
    board = vm_board()
    board.put({"/main.py": FLYING})
    board.power_on()
    for words in (("flash",), ("maintain",), ("restart",), ("backup", "x"), ("logs", "pull"),
                  ("maintain", "--interrupt"), ("settings", "set", "lead_ms", "10"), ("check",)):
        done = alula(*words, "--port", board.port)
        assert done.code == 2 and "flies" in done.err, done
    assert board.codes == []
    assert alula("status", "--port", board.port).code == 0


FLYING = b"""
import sys
print('alula')
while True:
    word = sys.stdin.readline().strip()
    if word == 'status':
        print('{"ok": true, "firmware": "x", "board": "y", "flying": true}')
    elif word:
        raise ValueError('a unit that flies was sent ' + word)
"""


@pytest.mark.parametrize("left", [b"\x01", b"\x01print(1", b"\x01\x05A\x01print('cut in the"])
def test_what_an_earlier_command_left_half_done_does_not_matter(alula, vm_board, left):
    """A raw REPL, a half command, a half raw paste: the cable was pulled there."""
    board = vm_board()
    board.power_on()
    time.sleep(0.2)
    handle = os.open(board.port, os.O_RDWR | os.O_NOCTTY)
    os.write(handle, left)
    time.sleep(0.1)
    os.close(handle)
    found = alula("find", "--port", board.port, "--json").json()[0]
    assert found["kind"] == "repl", found
    assert board.codes == []


def test_the_command_itself_in_a_process_of_its_own(unit):
    board = unit()
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "host_sim", "board", "status", "--port",
         board.port], cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0 and done.stdout.startswith("unit: firmware"), done
