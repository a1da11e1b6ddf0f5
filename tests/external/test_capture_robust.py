"""The capture on the independent flights, with something going wrong in the middle of a run.

Degrees of true alpha, plus is late; limits as in test_capture_truth.
"""

import numpy as np
import pytest

from host_sim.runtimes.capture_runs import Run
from tests.external.captured import Feeling, capture, capture_rows, error_deg, rows_of
from tests.external.sensed import at_unit_rate, stalls
from tests.external.truth import PLUMBINGS, Probe

EARLY_DEG, LATE_DEG = -1.0, 0.7
NAME = "tp_capture3_prompt"
FT_M = 0.3048  # by definition
PITOT, ANGLED, PITOT_STATUS, ANGLED_STATUS, NZ_STATUS, NZ = 2, 4, 1, 3, 5, 6
NO_REPLY = 2

every_plumbing = pytest.mark.parametrize("plumbing", PLUMBINGS)


def errors(runs: list[Run], plumbing: str) -> list[float]:
    return [error_deg(run, 16.0, plumbing, Probe()) for run in runs if run.accepted]


def check(runs: list[Run], plumbing: str, accepted_least: int) -> None:
    found = errors(runs, plumbing)
    assert len(found) >= accepted_least, runs
    assert all(EARLY_DEG <= error <= LATE_DEG for error in found), found


@every_plumbing
@pytest.mark.parametrize("column", [PITOT, ANGLED, NZ])
@pytest.mark.parametrize("before_s", [6.0, 2.0, 0.5, 0.0, -0.4])
def test_one_wild_word_changes_nothing(plumbing: str, column: int, before_s: float):
    rows = rows_of(at_unit_rate(NAME), plumbing, Feeling())
    clean = capture_rows(rows, plumbing).runs
    wild = rows.copy()
    for _, stall_s, _ in stalls(NAME):
        at = round(100 * (stall_s - at_unit_rate(NAME)["time_s"][0] - before_s))
        wild[at, column] = 16000 if column == NZ else 2000
    runs = capture_rows(wild, plumbing).runs
    check(runs, plumbing, 3)
    for one, other in zip(clean, runs, strict=True):
        assert one.stall_ratio_bp is not None and other.stall_ratio_bp is not None
        # a wild load factor of 8 g (the limit) in one tick of 50 is 140 mg: the marks of clean
        # runs differ by as much from seed to seed
        assert abs(errors([other], plumbing)[0] - errors([one], plumbing)[0]) <= (
            0.5 if column == NZ else 0.1)


@every_plumbing
@pytest.mark.parametrize("before_s", [9.0, 5.0, 3.0])
@pytest.mark.parametrize("with_n", [True, False])
def test_a_gust_of_0_4_s_is_refused_or_changes_little(
        plumbing: str, before_s: float, with_n: bool):
    # 1-cosine, 10 ft/s upwards: alpha and q from the wind triangle, n from the set's own lift.
    flight = {key: values.copy() for key, values in at_unit_rate(NAME).items()}
    slow = at_unit_rate("tp_stall_1g")
    rising = slow["time_s"] <= stalls("tp_stall_1g")[0][1] + 2.0
    order = np.argsort(slow["alpha_deg"][rising])
    alpha_table, cl_table = (slow[key][rising][order] for key in ("alpha_deg", "cl"))
    for _, stall_s, _ in stalls(NAME):
        phase = (flight["time_s"] - stall_s + before_s) / 0.4
        inside = (phase > 0) & (phase < 1)
        gust = 10 * FT_M * (1 - np.cos(2 * np.pi * phase[inside])) / 2
        speed = np.sqrt(2 * flight["qbar_pa"][inside] / 1.1)  # about 4000 ft
        alpha = flight["alpha_deg"][inside]
        gusted = alpha + np.degrees(np.arctan(gust / speed))
        grown = 1 + (gust / speed) ** 2
        cl = np.interp([alpha, gusted], alpha_table, cl_table)
        flight["nz_g"][inside] *= cl[1] / cl[0] * grown
        flight["alpha_deg"][inside] = gusted
        flight["qbar_pa"][inside] *= grown
        flight["kcas"][inside] *= np.sqrt(grown)
    runs = capture_rows(rows_of(flight, plumbing, Feeling(with_n=with_n)), plumbing).runs
    found = errors(runs, plumbing)
    assert all(error <= LATE_DEG for error in found), found
    if with_n:
        assert all(error >= EARLY_DEG for error in found), found


@every_plumbing
@pytest.mark.parametrize("tau_s", [0.15])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_150_ms_of_lag_in_both_lines(plumbing: str, tau_s: float, seed: int):
    check(capture(NAME, plumbing, Feeling(tau_s=tau_s, seed=seed)).runs, plumbing, 2)
    for run in capture(NAME, plumbing, Feeling(tau_s=tau_s, with_n=False, seed=seed)).runs:
        assert not run.accepted or error_deg(run, 16.0, plumbing, Probe()) <= LATE_DEG


@every_plumbing
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_d5_a_30_degree_turn_gives_the_same_ratio(plumbing: str, seed: int):
    # At the same alpha q and n are larger by 1/cos(30 deg), and so is nothing else.
    level = at_unit_rate(NAME)
    factor = 1 / np.cos(np.radians(30))
    turn = level | {"qbar_pa": level["qbar_pa"] * factor, "nz_g": level["nz_g"] * factor,
                    "kcas": level["kcas"] * np.sqrt(factor)}
    one, other = (errors(capture_rows(rows_of(flight, plumbing, Feeling(seed=seed)),
                                      plumbing).runs, plumbing) for flight in (level, turn))
    assert len(one) == len(other) == 3
    assert one == pytest.approx(other, abs=0.5)  # the noise of one mark, seed to seed


@every_plumbing
def test_a_sensor_that_falls_silent_in_a_run_is_a_fault(plumbing: str):
    rows = rows_of(at_unit_rate(NAME), plumbing, Feeling())
    first_s = at_unit_rate(NAME)["time_s"][0]
    at = round(100 * (stalls(NAME)[1][1] - first_s - 3.0))
    rows[at:at + 100, PITOT_STATUS] = NO_REPLY
    runs = capture_rows(rows, plumbing).runs
    assert len(runs) == 2  # the second stall is not judged at all
    check(runs, plumbing, 2)


@every_plumbing
def test_an_accelerometer_that_falls_silent_makes_it_a_run_without_n(plumbing: str):
    rows = rows_of(at_unit_rate("tp_capture3"), plumbing, Feeling())
    rows[1000:1100, NZ_STATUS] = NO_REPLY
    runs = capture_rows(rows, plumbing).runs
    assert runs[0].method == "pressures-only" and runs[1].method == "with-n"
    check(runs[1:], plumbing, 2)
    assert not runs[0].accepted or errors(runs[:1], plumbing)[0] <= LATE_DEG


@every_plumbing
@pytest.mark.parametrize("with_n", [True, False])
def test_swapped_hoses_are_never_learned(plumbing: str, with_n: bool):
    rows = rows_of(at_unit_rate(NAME), plumbing, Feeling(with_n=with_n))
    rows[:, [PITOT, ANGLED]] = rows[:, [ANGLED, PITOT]]
    for run in capture_rows(rows, plumbing).runs:
        assert not run.accepted


@every_plumbing
def test_a_reversed_angled_sensor_is_refused_as_wrong_side(plumbing: str):
    # Both of its hoses swapped: the sign of the angled pressure is turned round.
    rows = rows_of(at_unit_rate(NAME), plumbing, Feeling())
    rows[:, ANGLED] = 2 * 8192 - rows[:, ANGLED]
    runs = capture_rows(rows, plumbing).runs
    assert not any(run.accepted for run in runs)
    if plumbing != "pitot-port":
        assert "wrong-side" in {run.refusal for run in runs}
