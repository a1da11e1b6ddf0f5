"""`alula board check` with the unit's own ground checks, in the VM."""

import datetime
import io

import pytest

from host_sim.board import check


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """The unit of the tests lives twenty times faster."""
    monkeypatch.setattr(check, "ENDED_S", 0.3)
    monkeypatch.setattr(check, "QUIET_S", 4.0)


def row_of(done, name: str) -> dict:
    return next(row for row in done.json()["table"] if row["check"] == name)


@pytest.mark.parametrize(("step", "row"), [("noise", "noise-pitot"), ("flash", "flash")])
def test_a_step_is_guided_judged_by_the_unit_and_dated(alula, unit, step, row):
    board = unit(sensors=True)
    done = alula("check", step, "--port", board.port, "--json")
    assert f"check {step}: " in done.err  # what the unit told meanwhile
    found = row_of(done, row)
    assert found["verdict"] == "pass" and found["now"]
    assert found["date"] == datetime.date.today().isoformat()
    table = alula("check", "table", "--port", board.port)
    assert table.code == 0 and row in table.out and "not done" in table.out


def test_a_check_that_fails_is_exit_code_1(alula, unit):
    """Nobody says that the lamp was seen."""
    board = unit(sensors=True)
    done = alula("check", "lamp", "--port", board.port)
    assert done.code == 1 and "do not fly" in done.err
    assert "check lamp: " in done.out  # what to do, when it is to be done
    lines = [line for line in done.out.splitlines() if line.startswith("lamp ")]
    assert len(lines) == 1 and " fail " in lines[0]


def test_the_unit_refuses_what_is_no_check(alula, unit):
    board = unit(sensors=True)
    done = alula("check", "wings", "--port", board.port)
    assert done.code == 2 and "no such check" in done.err


def test_the_table_does_not_wait_for_what_is_told_of_something_else(monkeypatch):
    """The second zero, two minutes after the start, may be told just behind the last check."""
    now = [100.0]
    monkeypatch.setattr(check.time, "monotonic", lambda: now[0])
    guidance = check._Guidance(None, io.StringIO())
    guidance.show(["check timing: 10 seconds: do nothing", "zero: pitot -0.1 Pa"])
    now[0] += check.ENDED_S + 0.1
    assert not guidance.may_be_done()  # a check runs, and must not be disturbed
    guidance.show(["checks: all that was done has passed", "zero: pitot -0.1 Pa"])
    now[0] += check.ENDED_S + 0.1
    assert guidance.may_be_done()


def test_no_unit_is_started(alula, vm_board):
    board = vm_board()
    board.power_on()
    done = alula("check", "--port", board.port)
    assert done.code == 2 and "no unit is started" in done.err


def test_time_is_over(alula, unit):
    board = unit(sensors=True)
    done = alula("check", "puff", "--port", board.port, "--seconds", "0.3")
    assert done.code == 1 and "did not end in time" in done.err
    assert alula("check", "table", "--port", board.port, "--json").json()["running"] == "off"
