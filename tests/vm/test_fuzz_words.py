"""Random raw words through the unit, in the real VM with the heap locked, and in CPython.

`make test` flies a slice; ALULA_FULL_FUZZ=1 a million ticks in the VM. What must hold after every
tick stands in `fuzz_watch.LAWS`. Seeds are fixed, so that a run that fails can be run again:

    MICROPYPATH=firmware:. micropython tests/vm/fuzz_main.py TICKS SEED
"""

import os
import subprocess
from pathlib import Path

import pytest

from alula.health import WORDS
from alula.sample import FRESH
from alula.states import FAULT, QUIET, STALLING
from alula.states import WORDS as STATE_WORDS
from host_sim.runtimes.run import find_vm, vm_environment
from tests.laws.board_int import BoardInt, made_of_board_ints
from tests.vm.fuzz_run import Run
from tests.vm.fuzz_setups import SETUPS, unit_for, word_of
from tests.vm.fuzz_watch import LAWS
from tests.vm.fuzz_words import Dice

FULL = bool(os.environ.get("ALULA_FULL_FUZZ"))
TICKS = 7000 if FULL else 4200  # a run; a run is one setup with one seed
SEEDS = range(1, 13) if FULL else range(1, 3)
# Random words that never get that far would prove nothing.
MET = {"ok", "on-ground", "seeding", "uncalibrated", "no-zero", "too-slow", "q-lost",
       "intermittent", "pitot-dead"} | {
    f"{side}-{why}" for side in ("pitot", "angled", "both")
    for why in ("stale", "no-reply", "sensor-fault", "rail")}
MAIN = Path(__file__).with_name("fuzz_main.py")


def flown_in_vm(ticks: int, seeds) -> dict[str, str]:
    """What the VM said, word by word."""
    command = [find_vm(), "-X", "heapsize=16m", MAIN, str(ticks), *map(str, seeds)]
    done = subprocess.run(command, env=vm_environment(), capture_output=True, text=True,
                          check=False, timeout=1200)
    assert done.returncode == 0, done.stdout + done.stderr
    return dict(line.rsplit(" ", 1) for line in done.stdout.splitlines())


def test_random_words_break_no_law_and_allocate_nothing_in_the_vm():
    told = flown_in_vm(TICKS, SEEDS)
    assert told["planted allocation"] == "caught"
    assert int(told["ticks"]) == TICKS * len(SEEDS) * len(SETUPS) >= (1_000_000 if FULL
                                                                       else 100_000)
    states = [int(n) for n in told["states"].split(",")]
    assert all(states[i] > 500 for i in range(len(STATE_WORDS))), states
    healths = [int(n) for n in told["healths"].split(",")]
    missed = [word for i, word in enumerate(WORDS) if not healths[i]]
    print("not met:", missed)  # shown where a test fails, or with -s
    assert not MET & set(missed)


def test_both_interpreters_decide_the_same():
    ticks, checksum = 800, 0
    for i in range(len(SETUPS)):
        run = Run(i, 3)
        run.fly(ticks)
        checksum = (checksum * 31 + run.checksum) & 0x3FFFFFFF
    assert int(flown_in_vm(ticks, [3])["checksum"]) == checksum


@pytest.mark.parametrize("setup", range(len(SETUPS)))
def test_random_words_stay_within_the_numbers_of_the_board(setup):
    """31 bits, signed; the 64-bit VM cannot show it."""
    run = Run(setup, 4)
    unit = made_of_board_ints(run.unit)
    plain = unit.tick

    def tick(now_ms, sample):
        for name, value in vars(sample).items():
            setattr(sample, name, BoardInt(value))
        plain(BoardInt(now_ms), sample)

    unit.tick = tick
    run.note = lambda: None  # the checksum is no part of the unit
    run.fly(1500)
    assert run.ticks == 1500 and type(unit._last_ms) is BoardInt


def blind(unit) -> bool:
    return max(unit.pitot.age_ms, unit.angled.age_ms) > 2500


SABOTAGE = {  # law: what a faulty unit would do after its tick
    1: lambda unit, old: setattr(unit, "state", 6),
    2: lambda unit, old: setattr(unit.voice, "level", 9),
    3: lambda unit, old: setattr(unit.lamp, "on", 1),
    4: lambda unit, old: unit.disorders > old[1] and setattr(unit, "state", 5 - old[0]),
    5: lambda unit, old: unit.lift_known and setattr(unit, "lift_pm", 1501),
    6: lambda unit, old: blind(unit) and setattr(unit, "ratio_known", True),
    7: lambda unit, old: unit.pitot.ready and unit.phase.flying and not unit.lift_known
    and setattr(unit, "state", QUIET),
    8: lambda unit, old: blind(unit) and setattr(unit, "state", STALLING),
    9: lambda unit, old: old[0] == STALLING and unit.phase.flying and not unit.lift_known
    and setattr(unit, "state", 2),
    10: lambda unit, old: unit.state == STALLING and setattr(unit.voice, "level", 0),
    11: lambda unit, old: unit.state == 2 and setattr(unit.voice, "level", 0),
    12: lambda unit, old: unit.state == FAULT and setattr(unit.voice, "level", 0),
    13: lambda unit, old: unit.flaps is None and setattr(unit, "lift_known", True),
    14: lambda unit, old: blind(unit) and setattr(unit, "state", QUIET),
    15: lambda unit, old: old[0] == STALLING and not unit.lift_known
    and setattr(unit, "state", FAULT),
}


@pytest.mark.parametrize("law", range(1, len(LAWS)))
def test_a_unit_that_breaks_a_law_is_found(law):
    """Every law can fail: a sabotaged unit is caught, and by the law it breaks."""
    def broken_by(setup: int, seed: int) -> int:
        run = Run(setup, seed)
        unit, plain = run.unit, run.unit.tick

        def tick(now_ms, sample):
            old = unit.state, unit.disorders
            plain(now_ms, sample)
            SABOTAGE[law](unit, old)

        unit.tick = tick
        after = run.watch.after

        def check(dt_ms, sample):
            if not run.watch.broken:
                after(dt_ms, sample)

        run.watch.after = check
        try:
            run.fly(2000)
        except AssertionError:
            pass
        return run.watch.broken

    met = set()
    for seed in range(5, 9):
        for setup in (7, 9, 5, 1):
            met.add(broken_by(setup, seed))
            if law in met:
                return
    raise AssertionError((LAWS[law], [LAWS[i] for i in met]))


def test_the_dice_are_fair_enough():
    """Each face of an even die comes up; ends of a range come."""
    dice = Dice(1)
    faces = [0] * 12
    for _ in range(12000):
        faces[dice.below(12)] += 1
    assert all(800 < n < 1200 for n in faces)  # 6 sigma of a fair die is 180
    assert {dice.between(-2, 2) for _ in range(200)} == {-2, -1, 0, 1, 2}


@pytest.mark.parametrize("setup", range(len(SETUPS)))
def test_words_of_the_fuzzer_mean_the_pressure_they_should(setup):
    """Else the random flights would never fly."""
    unit, _ = unit_for(SETUPS[setup])
    for side, channel in (("pitot", unit.pitot), ("angled", unit.angled)):
        for dpa in (-9000, 0, 6000):
            word = word_of(SETUPS[setup], side, dpa)
            assert abs(channel._transfer.to_dpa(word) - dpa) <= 2 * channel.step_dpa + 1
    assert FRESH == 0
