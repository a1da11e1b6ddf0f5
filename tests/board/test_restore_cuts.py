"""The power goes in the middle of a restore: at every program and erase, in every way.

The restore is the command itself, the board the VM with a real littlefs on a chip in memory
(`vm_cut_board`, tests/vm/power_cut_device.py): only the cable and the restarts are left out.
Promise 4: afterwards each record is the old or the new one, whole; run again, it finishes.
"""

import json
import subprocess
from contextlib import contextmanager
from types import SimpleNamespace

import pytest

from alula.record_payloads import ANCHOR, CALIBRATION, NAMES, REFERENCE, SETTINGS, ZERO
from host_sim.board import backup, needs
from host_sim.board.ports import Port
from host_sim.board.records import STAGED
from host_sim.board.repl import TEMPORARY, Repl
from host_sim.runtimes.paths import ROOT
from host_sim.runtimes.run import find_vm
from tests.board.rig import HERE
from tests.board.test_records import LEARNED, SETTINGS_RECORD, ZERO_VALUE
from tests.vm.power_cut_device import HEAD, MODES

NEW = {SETTINGS: SETTINGS_RECORD, **LEARNED}
POINTS = [[-900, 250], [1100, 500], [4100, 1000]]
OLD = {SETTINGS: {**SETTINGS_RECORD, "window_ms": 200}, REFERENCE: 500,
       ZERO: {**ZERO_VALUE, "pitot_dpa": 99}, ANCHOR: {**ZERO_VALUE, "pitot_dpa": 98},
       CALIBRATION: {**LEARNED[CALIBRATION], "curves": [
           {**LEARNED[CALIBRATION]["curves"][0], "points": POINTS}]}}
RENAMES = f"os.rename('/{STAGED}"


class CutBoard:
    """The other end of the pipe; `renaming`: the number of operations before the renames."""

    def __init__(self) -> None:
        self._vm = subprocess.Popen(
            [find_vm(), "-X", "heapsize=32m", str(HERE / "vm_cut_board.py"), str(ROOT)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def do(self, name: str, **words):
        self._vm.stdin.write(json.dumps({"do": name, **words}) + "\n")
        self._vm.stdin.flush()
        return json.loads(self._vm.stdout.readline())

    def exec_raw(self, code: str, timeout: float) -> tuple[bytes, bytes]:
        """As mpremote's transport: what was printed, and the error."""
        if RENAMES in code:
            self.renaming = self.do("load")["operations"]
        found = self.do("run", code=code)
        if "dead" in found:
            raise OSError(19, "No such device")
        return found["out"].encode(), found["wrong"].encode()

    def enter_raw_repl(self, soft_reset: bool) -> None:
        """It is there already."""

    def stored(self, image: str) -> tuple[dict, list[str]]:
        """(value of each kind that is stored, all names) of a flash that is off; loading writes
        nothing and finds nothing amiss."""
        self.do("on", image=image)
        found = self.do("load")
        assert found["operations"] == 0
        assert self.do("off", image="looked-at")["operations"] == 0
        assert [problem for _, _, problem in found["values"] if problem] == []
        return ({kind: value for kind, value, _ in found["values"] if value is not None},
                found["names"])

    def end(self) -> None:
        self._vm.stdin.close()
        self._vm.stdout.close()
        self._vm.wait(10)


@pytest.fixture(scope="module")
def board():
    made = CutBoard()
    made.do("on", image="blank")
    made.do("save", values=list(OLD.items()))
    made.do("off", image="old")
    for saves in (1, 3):
        made.do("on", image="old")
        made.do("save", values=[[REFERENCE, OLD[REFERENCE]]] * saves)
        made.do("off", image=f"{saves} more")
    yield made
    made.end()


@pytest.fixture
def restore(board, alula, monkeypatch, tmp_path):
    """Runs `alula board restore` on a flash; the flash is then kept by another name."""
    @contextmanager
    def at_prompt(port, interrupt=False):
        yield Repl(SimpleNamespace(port=port, transport=board, write=lambda data: None))
    monkeypatch.setattr(needs, "mpremote", lambda: pytest.importorskip(
        "mpremote.transport_serial"))
    monkeypatch.setattr(backup, "maintenance", at_prompt)
    monkeypatch.setattr(backup, "choose_port", lambda name: Port("cut-board", 0, 0, "", ""))
    folder = tmp_path / "kept"

    def run(image: str, to: str, cut_at: int = 0, mode: int = 0):
        board.do("on", image=image, cut_at=cut_at, mode=mode)
        done = alula("restore", folder, "--yes", "--port", "cut-board")
        run.operations = board.do("off", image=to)["operations"]
        return done
    board.do("on", image="blank")
    board.do("save", values=list(NEW.items()))
    assert alula("backup", folder, "--port", "cut-board").code == 0
    board.do("off", image="new")
    run.folder = folder
    return run


def leftovers(names: list[str]) -> list[str]:
    return [name for name in names if name.startswith(STAGED) or name == TEMPORARY]


def check_one_cut(board, restore, image: str, cut_at: int, mode: int) -> tuple[dict, list[str]]:
    """Cut a restore there; (what a unit then finds, records that were still beside the old ones).
    Then run it again, and see that it finishes and has said so."""
    done = restore(image, "cut", cut_at, mode)
    assert done.code == 1 and "run the same command again" in done.err, done
    found, names = board.stored("cut")
    assert set(found) == set(NEW)
    for kind, value in found.items():
        assert value in (OLD[kind], NEW[kind]), (NAMES[kind], value)  # whole: the vault's CRC
    waiting = sorted(name[len(STAGED):] for name in names if name.startswith(STAGED))
    again = restore("cut", "finished")
    assert again.code == 0, again
    told = [line for line in again.out.splitlines() if "was cut off" in line]
    assert len(told) == (1 if waiting else 0) and all(name in told[0] for name in waiting)
    finished, names = board.stored("finished")
    assert finished == NEW and leftovers(names) == []
    return found, waiting


@pytest.mark.parametrize(("image", "more"), [("old", 0), ("1 more", 2), ("3 more", 2)])
def test_old_or_new_of_each_record_after_every_cut_and_run_again_it_finishes(
        board, restore, image, more):
    """more: the least number of operations beyond one a rename. After some saves the directory's
    block is full in the middle of them, and littlefs erases another and writes it anew."""
    assert restore(image, "done").code == 0
    assert board.stored("done")[0] == NEW and leftovers(board.stored("done")[1]) == []
    operations, renaming = restore.operations, board.renaming
    assert operations - renaming >= len(NEW) + more and renaming > len(NEW)
    mixed, seen = [], set()
    for cut_at in range(renaming + 1 if more else 1, operations + 1):
        for mode in MODES if cut_at > renaming else (HEAD, MODES[cut_at % len(MODES)]):
            found, waiting = check_one_cut(board, restore, image, cut_at, mode)
            news = [kind for kind in found if found[kind] == NEW[kind]]
            if cut_at <= renaming:
                assert news == []  # nothing changes before all of it is there, and verified
            elif 0 < len(news) < len(NEW):
                mixed.append((cut_at, mode))
                # in the order of the kinds: the settings first, by which a unit judges the rest
                assert news == sorted(NEW)[:len(news)] and waiting
            seen.add(len(news))
    assert seen == set(range(len(NEW) + 1))  # the test has met every half, none and all
    assert len(mixed) >= 3 * (len(NEW) - 1)


def test_the_power_goes_again_while_it_is_finished(board, restore):
    assert restore("old", "done").code == 0
    first = board.renaming + 3
    assert restore("old", "half", first, HEAD).code == 1
    assert restore("half", "done").code == 0
    cuts = 0
    for cut_at in range(1, restore.operations + 1):
        assert restore("half", "cut again", cut_at, MODES[cut_at % len(MODES)]).code == 1
        found, _ = board.stored("cut again")
        assert all(found[kind] in (OLD[kind], NEW[kind]) for kind in NEW)
        assert restore("cut again", "finished").code == 0
        assert board.stored("finished")[0] == NEW
        cuts += 1
    assert cuts > 10


def test_a_backup_of_a_half_restored_unit_says_that_it_is_half(
        board, restore, alula, tmp_path):
    assert restore("old", "done").code == 0
    assert restore("old", "half", board.renaming + 3, HEAD).code == 1
    board.do("on", image="half")
    done = alula("backup", tmp_path / "halves", "--port", "cut-board")
    board.do("off", image="half")
    assert done.code == 0
    line, = [line for line in done.out.splitlines() if "was cut off" in line]
    assert "old in part and new in part" in line


def test_nobody_agrees_and_what_was_left_is_still_told(board, restore, alula, monkeypatch):
    """A question that is not answered changes nothing on the flash."""
    assert restore("old", "done").code == 0
    assert restore("old", "half", board.renaming + 3, HEAD).code == 1
    board.do("on", image="half")
    done = alula("restore", restore.folder, "--port", "cut-board")
    assert done.code == 2 and "--yes" in done.err
    assert board.do("off", image="half")["operations"] == 0
    assert "was cut off" in restore("half", "done").out
