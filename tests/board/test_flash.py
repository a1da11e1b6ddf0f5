"""`alula board flash` against the VM behind a pseudo-terminal: whole, updated, cut, refused."""

import hashlib
import time
from contextlib import contextmanager

import pytest

from host_sim.board import link as link_room
from host_sim.board.image import folder_named
from host_sim.board.repl import Repl
from host_sim.runtimes.paths import FIRMWARE
from tests.board.rig import CUT

FLASH = ("flash", "--board", "rpi_pico", "--json")


def parts_that_start(alula, board) -> str:
    """What the parts of the firmware say after switching off and on; "" where none starts."""
    board.power_off()
    board.power_on()
    done = alula("status", "--port", board.port, "--json")
    return done.json()["parts"] if done.code == 0 else ""


def test_the_firmware_itself_is_flashed_on_a_blank_board_and_answers(
        alula, vm_board, firmware_image, monkeypatch):
    monkeypatch.setattr("host_sim.board.flash.build_image", lambda *words: firmware_image)
    board = vm_board()
    board.power_on()
    done = alula(*FLASH, "--port", board.port)
    assert done.code == 0, done.err
    found = done.json()
    assert found["status"]["firmware"] and found["status"]["board"] == "rpi_pico"
    assert found["status"]["health"] == "settings"  # none are stored: refused aloud, not guessed
    again = alula(*FLASH, "--port", board.port).json()
    assert again["copied"] == [] and not again["main"] and again["removed"] == []
    board.power_off()
    there = board.files()
    sources = {path.relative_to(FIRMWARE).with_suffix(".mpy").as_posix()
               for path in FIRMWARE.rglob("*.py")} - {"main.mpy", "manifest.mpy"}
    assert {path for path in sources if not path.startswith("boards/")} == {
        path.removeprefix(found["folder"] + "/") for path in there
        if path.startswith(found["folder"]) and "/boards/" not in path}
    assert there["/main.py"].endswith((FIRMWARE / "main.py").read_bytes())
    assert folder_named(there["/main.py"]) == found["folder"]
    for path, digest in found["sha256"].items():
        assert hashlib.sha256(there[path]).hexdigest() == digest


def test_an_update_copies_what_changed_and_tidies_up(alula, vm_board, small):
    board = vm_board()
    board.put({"/settings.a": b"a record", "/00001-000.log": b"a log", "/notes.txt": b"mine"})
    board.power_on()
    first = alula(*FLASH, "--port", board.port).json()
    assert first["status"]["parts"] == "1111" and len(first["copied"]) == 7
    small.version("2", ("parts/ear.py",))
    dry = alula(*FLASH, "--port", board.port, "--dry-run").json()
    assert dry["status"]["parts"] == "1111"  # and it runs again
    second = alula(*FLASH, "--port", board.port).json()
    assert second["copied"] == dry["copied"] == [second["folder"] + "/parts/ear.mpy"]
    assert len(second["kept"]) == 6 and second["status"]["parts"] == "1211"
    board.power_off()
    there = board.files()
    assert first["folder"] not in {path.rsplit("/", 1)[0] for path in there}
    assert there["/settings.a"] == b"a record" and there["/00001-000.log"] == b"a log"
    assert there["/notes.txt"] == b"mine"
    assert len(there) == 3 + 1 + 7


def test_firmware_copied_into_the_root_by_hand_goes_when_the_new_one_is_in_use(
        alula, vm_board, small):
    board = vm_board()
    board.put({"/" + path.relative_to(small.folder).as_posix(): path.read_bytes()
               for path in small.folder.rglob("*.py")})
    board.put({"/boards/mine.py": b"# not ours"})
    board.power_on()
    small.version("2")
    done = alula(*FLASH, "--port", board.port)
    assert done.json()["status"]["parts"] == "2222"
    board.power_off()
    assert sorted(path for path in board.files() if not path.startswith("/firmware-")) == [
        "/boards/mine.py", "/main.py"]


def cut_again_and_again(alula, board, small, cut, step: int) -> int:
    """Update after update, each cut later than the one before, until one comes through. After
    every cut the old or the new firmware starts, whole; the same command again finishes. How
    many were cut."""
    assert alula(*FLASH, "--port", board.port).code == 0
    for number in range(1, 99):
        old, new = str(number)[-1] * 4, str(number + 1)[-1] * 4
        small.version(new[0])
        with cut(step // 3 + (number - 1) * step):
            done = alula(*FLASH, "--port", board.port)
        started = parts_that_start(alula, board)
        if done.code == 0:
            assert started == new
            return number - 1
        assert done.code == 1 and "run the same command again" in done.err, done
        assert started in (old, new), (number, started)
        assert alula(*FLASH, "--port", board.port).json()["status"]["parts"] == new
    raise AssertionError("never came through")


@pytest.mark.parametrize(("raw_paste", "step"), [(True, 2900), (False, 3900)])
def test_the_cable_is_pulled_after_so_many_bytes(alula, vm_board, small, raw_paste, step):
    board = vm_board()
    board.job["raw_paste"] = raw_paste
    board.power_on()
    assert cut_again_and_again(alula, board, small, cut_cable, step) >= 2


def test_the_power_goes_in_the_middle_of_a_program_or_erase(alula, vm_board, small):
    board = vm_board()
    board.power_on()

    @contextmanager
    def cut(at: int):
        board.job["cut_at"] = at
        yield
        board.job["cut_at"] = 0
    assert cut_again_and_again(alula, board, small, cut, 13) >= 4
    assert CUT in board.codes


@contextmanager
def cut_cable(after: int):
    """Pull the cable once so many bytes have gone out; the last write gets there in part."""
    left = [after]
    real = link_room.Link.__init__

    def opened(self, port):
        real(self, port)
        serial = self.transport.serial
        write = serial.write

        def cut(data):
            some = data[:left[0]]
            left[0] -= len(some)
            write(some)
            if left[0] == 0:
                raise OSError(19, "No such device")
            return len(some)
        serial.write = cut
    link_room.Link.__init__ = opened
    try:
        yield
    finally:
        link_room.Link.__init__ = real


def test_a_file_that_reads_back_wrong_is_not_used(alula, vm_board, small):
    board = vm_board()
    board.power_on()
    assert alula(*FLASH, "--port", board.port).code == 0
    board.power_off()
    small.version("2")
    (small.folder / "parts" / "large.py").write_text("SAYS = %r\n" % ("rotten" * 500))
    board.job["rot"] = "rotten"
    board.power_on()
    done = alula(*FLASH, "--port", board.port)
    assert done.code == 1 and "did not read back equal" in done.err, done
    board.job["rot"] = ""
    assert parts_that_start(alula, board) == "1111"
    assert alula(*FLASH, "--port", board.port).json()["status"]["parts"] == "2222"


def test_no_room_is_told_before_anything_is_changed(alula, vm_board, small):
    board = vm_board()
    board.power_on()
    assert alula(*FLASH, "--port", board.port).code == 0
    board.power_off()
    free = 352 * 4096 - sum(-(-len(data) // 4096) * 4096 for data in board.files().values())
    board.put({"/00001-000.log": bytes(free - 20 * 4096)})
    before = board.files()
    small.version("2")
    board.power_on()
    done = alula(*FLASH, "--port", board.port)
    assert done.code == 2 and "logs pull --delete" in done.err, done
    assert parts_that_start(alula, board) == "1111"
    board.power_off()
    assert board.files() == before


def test_a_flash_that_fills_up_gives_its_room_back(alula, vm_board, small, monkeypatch):
    """Another writer, or a count that was wrong: the board itself says that it is full."""
    monkeypatch.setattr("host_sim.board.flash._refuse_no_room", lambda repl, plan: None)
    board = vm_board(blocks=40)
    board.power_on()
    assert alula(*FLASH, "--port", board.port).code == 0
    board.power_off()
    (small.folder / "parts" / "large.py").write_text("SAYS = %r\n" % ("x" * 150000))
    small.version("2")
    board.power_on()
    done = alula(*FLASH, "--port", board.port)
    assert done.code == 1 and "is full" in done.err, done
    assert parts_that_start(alula, board) == "1111"
    (small.folder / "parts" / "large.py").unlink()
    assert alula(*FLASH, "--port", board.port).json()["status"]["parts"] == "2222"


def test_interrupted_at_the_keyboard_the_unit_starts_again(alula, vm_board, small, monkeypatch):
    board = vm_board()
    board.power_on()
    assert alula(*FLASH, "--port", board.port).code == 0
    small.version("2")
    calls = []

    def interrupted(self, path, data, tell):
        if len(calls) == 2:
            raise KeyboardInterrupt
        calls.append(path)
        real(self, path, data, tell)
    real = Repl.put
    with monkeypatch.context() as patch:
        patch.setattr(Repl, "put", interrupted)
        done = alula(*FLASH, "--port", board.port)
    assert done.code == 130 and len(calls) == 2
    wait_for_answer(alula, board)
    again = alula(*FLASH, "--port", board.port).json()
    assert again["status"]["parts"] == "2222" and len(again["copied"]) == 4 - 2


def wait_for_answer(alula, board) -> None:
    """Without switching it off and on: it was restarted by itself."""
    for _ in range(20):
        if alula("status", "--port", board.port, "--json").code == 0:
            return
        time.sleep(0.1)
    raise AssertionError("the unit was not started again")


def test_the_board_is_no_known_one(alula, vm_board, small):
    board = vm_board()
    board.power_on()
    done = alula("flash", "--port", board.port)
    assert done.code == 2 and "--board" in done.err and "linux" in done.err
    done = alula("flash", "--port", board.port, "--board", "nonesuch")
    assert done.code == 2 and "rpi_pico" in done.err


@pytest.mark.parametrize(("mpy", "says"), [
    (5 | 3 << 8 | 2 << 10, "reads .mpy 5.3"),  # an older version
    (6 | 1 << 8 | 2 << 10, "reads .mpy 6.1"),  # machine code of another sub-version
    (6 | 3 << 8, "no machine code"),
])
def test_micropython_on_the_board_does_not_read_our_files(alula, vm_board, small, monkeypatch,
                                                          mpy, says):
    """The rules of MicroPython's manual, "MicroPython .mpy files". The board's own number is
    replaced on its way, since there is one VM only."""
    (small.folder / "parts" / "fast.py").write_text(
        "import micropython\n\n\n@micropython.native\ndef one():\n    return 1\n")
    board = vm_board()
    board.power_on()
    real = Repl.ask

    def other(self, expression):
        found = real(self, expression)
        return [*found[:2], mpy, found[3]] if "_mpy" in expression else found
    monkeypatch.setattr(Repl, "ask", other)
    done = alula(*FLASH, "--port", board.port)
    assert done.code == 2 and says in done.err and "flashing.md" in done.err, done
    board.power_off()
    assert board.files() == {}
