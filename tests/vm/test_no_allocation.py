"""No allocation in the loop: every flight under a locked heap in the VM, and the proof that the
flights pass every line of the tick.

The VM's whole numbers have 63 bits; that none grows past the board's 31 is shown in
tests/laws/test_numbers_fit.py.
"""

import ast
import importlib
import inspect
import json
import subprocess
import sys
import types
from array import array
from pathlib import Path

import pytest

from alula.health import WORDS
from alula.states import WORDS as STATE_WORDS
from host_sim.runtimes.paths import FIRMWARE
from host_sim.runtimes.run import find_vm, vm_environment
from host_sim.runtimes.session import OUT_WIDTH, make_session
from tests.both import test_ground_check_all, test_ground_check_still
from tests.vm.capture_flights import all_flights
from tests.vm.every_branch import UNITS, Seen, UnitFlight, loop_flights

HERE = Path(__file__).parent
TICK_ROOMS = ("conditioning", "cues", "curve_watch", "decision", "doubts", "elapsed", "figures",
              "flap_curves", "flight_phase", "ground_zero", "health", "jump_watch", "lamp_code",
              "lift_curve", "moving_line", "pair_watch", "press", "pressure_ratio", "read_watch",
              "refusal", "remarks", "steady_lift", "transfer", "unit", "voice")
CAPTURE_ROOMS = ("book", "capture", "curve_fit", "entry", "judge", "hurry", "line", "pace",
                 "track", "watch")
CHECK_ROOMS = ("arrange", "checks", "hands", "leak", "measures", "noise", "puff", "results",
               "sounds", "stillness", "telling", "wiring")  # flown with a locked heap in
# tests/both/test_ground_check_all.py and test_ground_check_still.py; here it is only counted how
# many of their lines those pass
PACKAGES = ("stall_capture", "ground_check")
START_ROOMS = ("steps", "ground_check", "sample", "settings", "states", "urgency", "refusals",
               "stall_capture", "intmath")
DRIVERS = ("pressure_14bit", "flap_switches", "lamp", "button", "retry")
# Called at start-up, on the desk, or between two ticks when something is stored.
NOT_IN_TICK = {"__init__", "channel_of", "_ratio_at_stall", "run", "enter", "end", "adopt_curves",
               "adopt_reference", "give_up_saving", "centre_calm", "wants_saving", "stall_q_dpa",
               "adopt_anchor", "arrangements"}
CHECK_SHARE = 0.85  # the rest are pressures that are no leak check, and the like
CAPTURE_SHARE = 0.88  # of the lines of a capture room; the rest are rare refusals


class Tracer:
    """Collects the executed lines of the firmware, by file."""

    def __init__(self) -> None:
        self.lines: dict[str, set[int]] = {}
        self._left: dict[types.CodeType, set[int]] = {}
        self._firmware = str(FIRMWARE)

    def run(self, job) -> None:
        """Call `job()` under the tracer."""
        before = sys.gettrace()
        sys.settrace(self._trace)
        try:
            job()
        finally:
            sys.settrace(before)

    def _trace(self, frame, event, _):
        code = frame.f_code
        left = self._left.get(code)
        if left is None:
            ours = code.co_filename.startswith(self._firmware)
            left = {line for _, _, line in code.co_lines() if line} if ours else set()
            self._left[code] = left
        if not left:  # not ours, or passed in full: at full speed
            return None
        seen = self.lines.setdefault(code.co_filename, set())

        def local(frame, event, _):
            seen.add(frame.f_lineno)
            left.discard(frame.f_lineno)
            return local

        return local(frame, event, None)

    def missed(self, room: str) -> tuple[int, list]:
        """(number of lines a tick may pass in a room, those that were not passed)."""
        module = importlib.import_module(room)
        wanted = lines_of_tick(module)
        source = Path(str(module.__file__)).read_text().splitlines()
        left = wanted - self.lines.get(str(module.__file__), set())
        return len(wanted), [(line, source[line - 1].strip()) for line in sorted(left)]


@pytest.fixture(scope="module")
def flown():
    """Every flight under the tracer: (tracer, Seen of units, Seen of loops, flights with captures,
    and how many runs those judged)."""
    tracer, units, loops, captures = Tracer(), Seen(), Seen(), all_flights()
    flights = [UnitFlight(unit, script, units) for unit, script in UNITS]
    flights += loop_flights(loops)
    verdicts = 0

    def fly() -> None:
        nonlocal verdicts
        for flight in flights:
            for _ in range(flight.total):
                flight.step()
        for chosen in captures:
            session = make_session(chosen.job(1))
            out = array("i", [0] * (OUT_WIDTH * len(chosen.rows)))
            session.run(array("i", chosen.rows.tobytes()), len(chosen.rows), out)
            capture = session._unit.capture
            verdicts += capture.verdicts
            for _ in range(8 if capture.judge.stall_bp else 0):
                capture.book.add(capture.judge)

    tracer.run(fly)
    return tracer, units, loops, captures, verdicts


def lines_of_tick(module: types.ModuleType) -> set[int]:
    """Every line of code in the functions that a tick may call."""
    found: set[int] = set()
    bodies = [f for _, f in inspect.getmembers(module, inspect.isfunction)]
    for _, kind in inspect.getmembers(module, inspect.isclass):
        bodies += [f for _, f in inspect.getmembers(kind, inspect.isfunction)]
    for body in bodies:
        code = body.__code__
        if code.co_filename == module.__file__ and body.__name__ not in NOT_IN_TICK:
            found |= {line for _, _, line in code.co_lines()
                      if line is not None and line > code.co_firstlineno}
    return found


def rooms_from(*roots: str) -> set[str]:
    """Names of the rooms of alula that some modules import, directly or not."""
    found: set[str] = set()
    queue = list(roots)
    while queue:
        path = FIRMWARE / queue.pop()
        if not path.exists():  # a package: what it imports is imported by its rooms
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.ImportFrom) or not str(node.module).startswith("alula"):
                continue
            parts = str(node.module).split(".")
            names = parts[1:] if len(parts) in (2, 3) else []
            names += [a.name for a in node.names if (path.parent / f"{a.name}.py").exists() or any(
                (FIRMWARE / "alula" / package / f"{a.name}.py").exists() for package in PACKAGES)]
            for name in set(names) - found:
                found.add(name)
                queue += [f"alula/{name}.py"] + [f"alula/{p}/{name}.py" for p in PACKAGES]
    return found


def test_every_room_that_a_tick_may_enter_is_accounted_for():
    """A new room must be flown through here, or be named as one that only runs at start-up."""
    rooms = rooms_from("alula/unit.py", "alula/refusal.py", "loop.py")
    known = set(TICK_ROOMS) | set(CAPTURE_ROOMS) | set(CHECK_ROOMS)
    assert rooms - set(START_ROOMS) <= known
    assert known <= rooms | {"refusal", "unit"}


def test_every_line_of_the_tick_is_passed(flown):
    tracer = flown[0]
    for room in [f"alula.{n}" for n in TICK_ROOMS] + [f"drivers.{n}" for n in DRIVERS] + ["loop"]:
        count, missed = tracer.missed(room)
        if room == "loop":  # the keeper works between ticks, and may allocate when it stores
            missed = [line for line in missed if "_keeper.step" not in line[1]]
        assert count and not missed, (room, missed)


def test_nearly_every_line_of_the_capture_is_passed(flown):
    for room in CAPTURE_ROOMS:
        count, missed = flown[0].missed(f"alula.stall_capture.{room}")
        assert len(missed) <= max(2, (1 - CAPTURE_SHARE) * count), (room, missed)


def test_nearly_every_line_of_the_checks_is_passed_by_their_own_locked_flights():
    tracer = Tracer()
    tracer.run(test_ground_check_all.test_nothing_is_allocated_in_any_step)
    tracer.run(test_ground_check_still.test_nothing_is_allocated_while_it_watches)
    for room in CHECK_ROOMS:
        count, missed = tracer.missed(f"alula.ground_check.{room}")
        assert len(missed) <= max(2, (1 - CHECK_SHARE) * count), (room, missed)


def test_every_state_and_every_health_word_is_met(flown):
    _, units, loops, _, _ = flown
    assert [w for i, w in enumerate(STATE_WORDS) if not units.states[i]] == []
    # what is looked for in raw words, or with n, is met in the loop
    assert [w for i, w in enumerate(WORDS) if not units.healths[i]] == [
        "pitot-frozen", "angled-frozen", "angled-dead", "twins", "both-frozen", "unbalanced"]
    assert all(units.levels[0:9:4]) and all(loops.levels[0:9:4])
    # on the bench: no refusal, no missing calibration or zero; a sensor is always fitted
    absent = {"settings", "uncalibrated", "no-zero"} | {w for w in WORDS if "not-fitted" in w}
    assert [w for i, w in enumerate(WORDS) if not loops.healths[i] and w not in absent] == []


def told_by_vm(script: str, *arguments: Path) -> dict[str, str]:
    """What a script said in the VM, word by word."""
    vm = [find_vm(), "-X", "heapsize=64m", HERE / script, *arguments]
    done = subprocess.run(vm, env=vm_environment(), capture_output=True, text=True, check=False,
                          timeout=240)
    assert done.returncode == 0, done.stdout + done.stderr
    return dict(line.rsplit(" ", 1) for line in done.stdout.splitlines())


def test_nothing_allocates_in_the_vm(flown):
    """The very flights whose lines were counted."""
    told = told_by_vm("locked_heap_main.py")
    assert told["planted allocation"] == "caught"
    assert int(told["unit"]) == flown[1].ticks > 10000
    assert int(told["loop"]) == flown[2].ticks > 10000
    assert told["swallowed"] == "0"


def test_nothing_allocates_in_a_capture(flown, tmp_path):
    _, _, _, captures, verdicts = flown
    jobs, rows = tmp_path / "jobs", tmp_path / "rows"
    jobs.write_text(json.dumps([{**made.job(1), "rows": len(made.rows)} for made in captures]))
    rows.write_bytes(b"".join(made.rows.tobytes() for made in captures))
    told = told_by_vm("locked_capture_main.py", jobs, rows)
    assert int(told["capture"]) == sum(len(made.rows) for made in captures)
    assert int(told["verdicts"]) == verdicts > 20
