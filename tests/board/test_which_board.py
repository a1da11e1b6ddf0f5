"""`alula board flash` never leaves a unit that would find no board file.

A unit takes its board file by the port of its own MicroPython (`boards.choice`), so what the desk
copies must be what the board will look for. The stand-in says which port it is of; the choice is
the firmware's own, in the VM.
"""

import pytest

from alula.record_payloads import SETTINGS
from tests.board.conftest import SETTINGS_RECORD, records
from tests.board.test_flash import wait_for_answer


def bare(vm_board, platform: str, files: dict | None = None):
    """A board of a port, switched on."""
    board = vm_board()
    board.job["platform"] = platform
    board.put(files or {})
    board.power_on()
    return board


def both_families(small) -> None:
    (small.folder / "boards" / "esp32.py").write_text('"""Only to be there."""\n')


@pytest.mark.parametrize(("platform", "named", "right"), [
    ("esp32", "rpi_pico", "esp32"), ("rp2", "esp32", "rpi_pico")])
def test_a_board_of_another_family_is_refused_before_anything_is_written(
        alula, vm_board, small, platform, named, right):
    both_families(small)
    board = bare(vm_board, platform)
    assert alula("flash", "--board", right, "--port", board.port).code == 0
    small.version("2")
    done = alula("flash", "--board", named, "--port", board.port)
    assert done.code == 2, done
    assert f"--board {named}" in done.err and f"use --board {right}" in done.err
    assert "nothing was written" in done.err and platform in done.err
    wait_for_answer(alula, board)  # it was started again, and is what it was
    assert alula("status", "--port", board.port, "--json").json()["parts"] == "1111"
    done = alula("flash", "--board", right, "--port", board.port, "--json")
    assert done.json()["status"]["parts"] == "2222"


def test_a_port_without_a_board_file_is_refused_and_told_how_to_write_one(
        alula, vm_board, small):
    board = bare(vm_board, "stm32")
    for word in ("rpi_pico", "this_board"):  # there is no such file yet
        done = alula("flash", "--board", word, "--port", board.port)
        assert done.code == 2, done
    done = alula("flash", "--board", "rpi_pico", "--port", board.port)
    assert "firmware/boards/this_board.py" in done.err and "add_a_board.md" in done.err
    board.power_off()
    assert board.files() == {}


@pytest.mark.parametrize("words", [(), ("--board", "this_board")])
def test_the_builders_own_file_is_taken_on_any_port(alula, vm_board, small, words):
    both_families(small)
    (small.folder / "boards" / "this_board.py").write_text('"""Wired by the builder."""\n')
    board = bare(vm_board, "stm32")
    found = alula("flash", *words, "--port", board.port, "--json").json()
    assert found["board"] == "this_board" and found["status"]["parts"] == "1111"
    copied = {path.removeprefix(found["folder"]) for path in found["copied"]}
    # it may be made of another board's
    assert {"/boards/this_board.mpy", "/boards/rpi_pico.mpy", "/boards/esp32.mpy"} <= copied


def test_another_board_is_not_named_over_the_builders_own(alula, vm_board, small):
    (small.folder / "boards" / "this_board.py").write_text('"""Wired by the builder."""\n')
    board = bare(vm_board, "rp2")
    done = alula("flash", "--board", "rpi_pico", "--port", board.port)
    assert done.code == 2 and "this_board.py" in done.err and "leave --board out" in done.err
    board.power_off()
    assert board.files() == {}


@pytest.mark.parametrize(("platform", "file", "starts"), [
    ("rp2", "rpi_pico", True), ("esp32", "rpi_pico", False), ("stm32", "rpi_pico", False),
    ("esp32", "esp32", True), ("stm32", "this_board", True), ("rp2", "this_board", True)])
def test_what_the_refusal_spares_the_firmware_itself(alula, vm_board, firmware_files, platform,
                                                     file, starts):
    """The firmware on a board of each port, with one board file on its flash."""
    files = {path.replace("boards/rpi_pico.", f"boards/{file}."): data
             for path, data in firmware_files.items()}
    board = bare(vm_board, platform, {**files, **records({SETTINGS: SETTINGS_RECORD})})
    found = alula("find", "--port", board.port, "--json").json()[0]
    assert (found["kind"] == "unit") == starts, found
