"""Case C5, its hardest places: 50 kt in gusts, deep in a stall, and on the take-off roll, where a
start looks like one in the air."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

import host_sim.scenarios
from alula.health import WORDS
from alula.states import FAULT, PRESSING
from host_sim.fly import sensor_rows
from host_sim.world.flight import Flight, fly
from host_sim.world.scenario import load_scenario
from tests.end_to_end.test_starts import BACK_MS, CUTS_MS, Board, flown, right_again, stored

HEARD_TICKS = 400


@cache
def at_50_kt(folder) -> tuple[Flight, np.ndarray]:
    """The slow flight in moderate gusts, at 50 kt: 1.1 times the stalling speed, and stalls."""
    shipped = Path(host_sim.scenarios.__file__).parent / "slow-flight-gusts.toml"
    text = shipped.read_text(encoding="utf-8")
    slower = text.replace("speed_kt = 54", "speed_kt = 50").replace("flight 54", "flight 50")
    assert slower != text
    path = Path(folder) / "slower.toml"
    path.write_text(slower, encoding="utf-8")
    flight = fly(load_scenario(path), 1)
    return flight, sensor_rows(flight, 1)


@pytest.fixture(scope="module")
def gusts(tmp_path_factory) -> tuple[Flight, np.ndarray]:
    return at_50_kt(tmp_path_factory.mktemp("gusts"))


def start_twice(folder, flight: Flight, rows: np.ndarray, back: int) -> tuple:
    """(unbroken, started): decisions from row `back` on, without and with a start there."""
    stored(folder, flight)
    end = back + HEARD_TICKS
    unbroken = Board(folder, "power").fly(rows[max(0, back - 2000):end])[-HEARD_TICKS:]
    return unbroken, Board(folder, "watchdog").fly(rows[back:end])


@pytest.mark.parametrize("cut_ms", CUTS_MS)
def test_c5_at_50_kt_in_gusts_the_right_sound_is_back(gusts, cut_ms: int, tmp_path):
    flight, rows = gusts
    slow = np.flatnonzero(np.array(flight.phase) == "slow flight 50")
    warned = 0
    for first in range(slow[0], slow[-1] - 2400, 400):
        unbroken, out = start_twice(tmp_path, flight, rows, first + cut_ms // 10)
        assert not (out[:, 5] == FAULT).any(), {WORDS[w] for w in out[:, 8]}
        right_again(out[BACK_MS // 10:], unbroken[BACK_MS // 10:])
        warned += (out[BACK_MS // 10:, 5] >= PRESSING).sum()
    assert warned > 1000  # ten seconds of warning in all: the test is about something


@pytest.mark.parametrize("past_s", [0.0, 0.3, 0.6, 0.9])
def test_c5_a_brown_out_deep_in_a_stall(past_s: float, tmp_path):
    """80 ms are gone; the stall sound is back with the first window of data, 0.25 s."""
    flight, rows = flown("stall-straight")
    back = int((flight.stalls[0] + past_s) * 100) - 80
    unbroken, out = start_twice(tmp_path, flight, rows, back)
    right_again(out[30:], unbroken[30:])
    assert (out[30:60, 5] >= PRESSING).all()


@pytest.mark.parametrize("name", ["ordinary", "stall-straight", "slow-flight-gusts"])
def test_c5_a_start_on_the_take_off_roll_is_no_fault_in_the_climb(name: str, tmp_path):
    """What the wing carries on its wheels must not be learned as the weight."""
    flight, rows = flown(name)
    lift_off = int(np.flatnonzero(~flight.on_ground)[0])
    for before_s in (8, 7, 6, 4, 2, 0.5):
        stored(tmp_path, flight)
        back = lift_off - int(before_s * 100)
        out = Board(tmp_path, "power").fly(rows[back:lift_off + 4000])
        told = {WORDS[word] for word in out[out[:, 5] == FAULT, 8].tolist()}
        assert not told, (before_s, told)
