"""Case C5 on a grid of moments: the power goes for 80 ms, 1 s and 20 s anywhere in a flight.

Stricter than `test_starts`: once the windows are full the lift share is that of the same flight
without a cut, bit for bit, and the state is its state, but for the release time of a band that one
of the two has begun and the other has not seen. Left out is the time in which the unbroken flight
waits for a flap switch to settle: a start believes the first setting at once. What runs on the
board before `main.py` is not on the desk.

ALULA_STARTS=N makes the grid N times as fine (20: some 5 minutes).
"""

import os

import numpy as np
import pytest

from alula.health import WORDS
from alula.record_payloads import STARTS
from alula.states import CALM, FAULT, PRESSING, STALLING
from tests.end_to_end.test_starts import BACK_MS, CUTS_MS, Board, flown, stored

SCENARIOS = ("stall-straight", "tightened-turn", "slow-flight-gusts", "engine-failure",
             "touch-and-go")
FINER = int(os.environ.get("ALULA_STARTS", "1"))
GRID = 1600 // FINER
WATCHED = 400  # rows, 4 s
SEEDED = 30  # a window of 200 ms, the despiker, and the first tick's read
RELEASED = 50 + 50  # rows: release_ms of two bands, pressing and stalling
CALM_RELEASED = 200
BEGINS_PM = (0, 510, 694, 907)  # the bands as delivered
HYSTERESIS_PM = 40  # hysteresis_pm 20, or two steps of the sensor
SETTLED = 110  # flap_settle_ms, and the despiker
FLAP = 7  # column of the rows that go in; then of those that come out
STATE, LIFT, HEALTH, LEVEL = 5, 4, 8, 10


def same_history(state: np.ndarray, usual: np.ndarray, lift_pm: np.ndarray) -> np.ndarray:
    """Rows at which the states are equal, or may differ: the higher band is still held by its
    hysteresis, or has not been below that for as long as its release takes."""
    equal = state == usual
    found = equal.copy()
    high = np.maximum(state, usual)
    longest = np.where(high == CALM, CALM_RELEASED, RELEASED)
    below = 0
    for i in np.flatnonzero(~equal & (high <= STALLING)):
        if i == 0 or equal[i - 1] or lift_pm[i] >= BEGINS_PM[high[i]] - HYSTERESIS_PM:
            below = 0
        below += 1
        found[i] = below <= longest[i]
    return found


def flap_moved(rows: np.ndarray, within: int) -> np.ndarray:
    """Rows at which the flap switch has changed so shortly before."""
    changed = np.diff(rows[:, FLAP], prepend=rows[0, FLAP]) != 0
    return np.convolve(changed, np.ones(within))[:len(rows)] > 0


@pytest.mark.parametrize("name", SCENARIOS)
def test_c5_the_same_lift_and_the_same_state_wherever_the_power_went(name: str, tmp_path):
    flight, rows = flown(name)
    stored(tmp_path, flight)
    unbroken = Board(tmp_path, "power").fly(rows)  # stores its zero, which the others start from
    moving, moved = flap_moved(rows, SETTLED), flap_moved(rows, SETTLED + CALM_RELEASED)
    rng = np.random.default_rng(5)
    cases = 0
    for start in range(1000, len(rows) - 2000 - WATCHED, GRID):
        first = start + int(rng.integers(0, GRID))
        for cut_ms in CUTS_MS:
            back = first + cut_ms // 10
            if back + WATCHED > len(rows) or flight.on_ground[back:back + WATCHED].any():
                continue
            cases += 1
            board = Board(tmp_path, "watchdog" if cut_ms == 80 else "power")
            out, usual = board.fly(rows[back:back + WATCHED]), unbroken[back:back + WATCHED]
            where = (name, flight.phase[back], back / 100, cut_ms)
            assert board.loop.unit.phase.air_start and not board.loop.unit.zero.taken, where
            assert not (out[:, STATE] == FAULT).any(), (where, WORDS[out[-1, HEALTH]])
            alike = (out[:, LIFT] == usual[:, LIFT]) | moving[back:back + WATCHED]
            assert alike[SEEDED:].all(), where
            after = slice(BACK_MS // 10, WATCHED)
            alike = same_history(out[after, STATE], usual[after, STATE], out[after, LIFT])
            assert (alike | moved[back:back + WATCHED][after]).all(), where
            check_heard(out[after], flight.lift[back:back + WATCHED][after] * 1000, where)
    assert cases > 10


def check_heard(out: np.ndarray, lift_pm: np.ndarray, where: tuple) -> None:
    """Against the world's own lift: a wing close to its stall is heard, without a gap."""
    close = lift_pm > 950  # 1.026 Vs, well above where stalling begins
    assert (out[close, STATE] == STALLING).all(), where
    assert (out[close, LEVEL] > 0).all(), where
    slow = (lift_pm > 734).all() and (out[:, STATE] >= PRESSING).all()
    assert not slow or (out[:, LEVEL] > 0).sum() > len(out) // 4, where  # half of each pulse


def test_c5_a_start_on_the_roll_neither_zeroes_nor_warns(tmp_path):
    """From the first metre to the lift-off, every 0.6 s, and back at the end of the roll-out."""
    for name in ("ordinary", "touch-and-go", "rejected-take-off"):
        flight, rows = flown(name)
        stored(tmp_path, flight)
        q_dpa = Board(tmp_path, "power").fly(rows)[:, 1]
        fast = flight.on_ground & (q_dpa[:len(flight.on_ground)] > 300)  # 22 Pa, 12 kt, and more
        moments = np.flatnonzero(fast)[::60]
        assert len(moments) > 5, name
        for back in moments:
            board = Board(tmp_path, "power")
            out = board.fly(rows[back:back + 200])
            where = (name, flight.phase[back], back / 100)
            assert not board.loop.unit.zero.taken, where
            on_ground = flight.on_ground[back:back + 200]
            assert not (out[on_ground[:len(out)], STATE] >= PRESSING).any(), where


def test_c5_a_cold_start_on_the_ground_takes_its_zero_and_then_flies_as_ever(tmp_path):
    """The count of a whole flight with no cut: one start, on the ground, by the power."""
    flight, rows = flown("ordinary")
    stored(tmp_path, flight)
    board = Board(tmp_path, "power")
    out = board.fly(rows)
    assert board.loop.unit.zero.taken and not board.loop.unit.phase.air_start
    assert board.vault.load(STARTS)[0] == {"power": 1, "watchdog": 0, "restart": 0, "in_air": 0,
                                           "last": "power"}
    assert not (out[:, STATE] >= PRESSING).any()
