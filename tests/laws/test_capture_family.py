"""Law: in a wide family of invented aeroplanes a capture is right, or refused; never wrong.

What "right" means is stated here before anything is run; degrees are of true alpha, plus is late.

- Late, the dangerous side: at most 0.7 deg with n, 1.0 deg from pressures alone. Where the top of
  the lift is flat (within 0.5 % of CLmax over more than 1.5 deg, a mush) the angle means nothing:
  there the true lift at the mark must still be 98.5 % of CLmax.
- Early, the cautious side, with n: at most 1.5 deg; or, on a top so rounded that the run nearly
  reached it, 95.5 % of CLmax: the stalling speed is then taken 2.3 % too high, 1/sqrt(lift).
- What is learned warns: where the curve says 907 (the unit's `stalling`), the wing is short of
  its stall, whatever the top looks like.

The limits of 0.7 and 1.0 deg are those asked of the independent flights (tests/external); the
rest is the project's own choice. 150 aeroplanes here, 2 000 with ALULA_FULL_LAWS=1.
"""

import os
from functools import cache

import numpy as np
import pytest

from alula.lift_curve import LiftCurve
from host_sim.runtimes.capture_runs import Run, capture_flight
from host_sim.runtimes.run import Stream
from tests.laws.family import (
    PLUMBINGS,
    Case,
    alpha_of,
    calm_and_prompt,
    draw,
    flat_top_deg,
    fly,
    lift,
    rows_of,
)

FULL = bool(os.environ.get("ALULA_FULL_LAWS"))
BATCH = 50
BATCHES = range(40 if FULL else 3)
STALLING_PM = 907
FLAT_DEG, FLAT_SHARE, EARLY_SHARE = 1.5, 0.985, 0.955
# Found by this law and kept: with n, the very rounded and the very flat tops; from pressures
# alone, dragging wings that were held past the stall while q went on falling along the old line.
KEPT_WITH_N = (28, 107, 151, 288, 472, 678, 762, 877, 1270, 1499, 1523, 1527)
KEPT_PRESSURES = (94, 97, 181, 196, 216, 233, 242, 274, 325, 339, 385, 439, 452, 520, 716)
# A limit that is known, not hidden: this wing drags so much that, held 3.8 deg past its stall, q
# goes on falling along the very line it kept before. Pressures alone cannot tell; n can.
KNOWN_LATE = (1658,)


def settings_of(case: Case) -> dict:
    """A builder's settings: flying_q_dpa at 0.9 of the stalling q, as the table asks."""
    record = {"plumbing": PLUMBINGS[case.plumbing],
              "flying_q_dpa": min(6000, round(9 * case.stall_q_pa))}
    for channel in ("pitot", "angled"):
        record |= {f"{channel}_output": "hsc-a", f"{channel}_low_dpa": -68948,
                   f"{channel}_high_dpa": 68948}
    return record


@cache
def captured(seeds: tuple[int, ...], with_n: bool) -> list[tuple[Case, list[Run]]]:
    """The runs the firmware sees in the flights of some cases."""
    cases = [draw(seed) for seed in seeds]
    zero = {"pitot_dpa": 0, "angled_dpa": 0}
    return [(case, capture_flight("flight", Stream(
        rows_of(case, flight, with_n), settings_of(case), None, zero), 0).runs)
        for case, flight in zip(cases, fly(cases), strict=True)]


def share(case: Case, alpha_deg: float) -> float:
    """True CL/CLmax."""
    return float(lift(case, np.array(alpha_deg))) / case.cl_max


def broken(case: Case, run: Run, with_n: bool) -> str:
    """What the law says against an accepted run; empty if nothing."""
    assert run.stall_ratio_bp is not None
    marked = alpha_of(case, run.stall_ratio_bp)
    error = marked - case.stall_deg
    reached = share(case, marked)
    late = error > (0.7 if with_n else 1.0)
    if late and not (flat_top_deg(case) > FLAT_DEG and reached >= FLAT_SHARE):
        return f"{error:+.2f} deg late, lift {reached:.3f}"
    if with_n and error < -1.5 and reached < EARLY_SHARE:
        return f"{error:+.2f} deg early, lift {reached:.3f}"
    curve = LiftCurve(run.curve)
    ratios = range(run.curve[0][0] - 3000, run.curve[-1][0] + 1)
    warned = next(r for r in ratios if curve.lift_pm(r) >= STALLING_PM)
    if alpha_of(case, warned) >= case.stall_deg:
        return f"stalling only {alpha_of(case, warned) - case.stall_deg:+.2f} deg past the stall"
    return ""


def wrong(seeds: tuple[int, ...], with_n: bool) -> list[str]:
    return [f"case {case.seed}: {said}" for case, runs in captured(seeds, with_n)
            for run in runs if run.accepted and (said := broken(case, run, with_n))]


@pytest.mark.parametrize("with_n", [True, False], ids=["n", "pressures"])
@pytest.mark.parametrize("batch", BATCHES)
def test_right_or_refused(batch: int, with_n: bool):
    seeds = range(batch * BATCH, (batch + 1) * BATCH)
    assert wrong(tuple(s for s in seeds if with_n or s not in KNOWN_LATE), with_n) == []


@pytest.mark.parametrize(("seeds", "with_n"), [(KEPT_WITH_N, True), (KEPT_PRESSURES, False)],
                         ids=["n", "pressures"])
def test_right_or_refused_where_it_once_was_not(seeds: tuple[int, ...], with_n: bool):
    assert wrong(seeds, with_n) == []


def test_the_known_limit_of_pressures_alone_is_still_there():
    """hardware_notes/stall_capture.md states it; when this fails, mend the page."""
    assert len(wrong(KNOWN_LATE, False)) == len(KNOWN_LATE)


def test_with_n_the_same_stalls_are_marked_right():
    assert wrong(KNOWN_LATE, True) == []


@pytest.mark.parametrize("batch", BATCHES)
def test_with_n_stalls_are_found_not_only_refused(batch: int):
    """A capture that refuses everything would keep the law above."""
    stalled = [(case, runs) for case, runs in captured(
        tuple(range(batch * BATCH, (batch + 1) * BATCH)), True) if case.hold_deg > 1.0]
    assert len(stalled) > 10
    accepted = sum(any(run.accepted for run in runs) for _, runs in stalled)
    assert accepted >= 0.75 * len(stalled)


def test_good_runs_of_a_hundred_aeroplanes_are_accepted():
    """Smooth air, an even pace, recovery soon after the stall: what the flight card asks for."""
    seeds = tuple(s for s in range(2000) if calm_and_prompt(draw(s)))[:30 if FULL else 15]
    with_n, alone = ([any(run.accepted for run in runs) for _, runs in captured(seeds, fitted)]
                     for fitted in (True, False))
    assert sum(with_n) >= 0.6 * len(seeds)
    assert 0 < sum(alone) < sum(with_n)  # pressures alone must refuse more, and not everything


def test_the_family_is_wide_and_flies_as_it_should():
    cases = [draw(seed) for seed in range(BATCH)]
    assert {case.plumbing for case in cases} == {0, 1, 2}
    assert 5 < sum(flat_top_deg(case) > FLAT_DEG for case in cases) < 40
    for case, flight in zip(cases, fly(cases), strict=True):
        top = np.linspace(case.stall_deg - 12, case.stall_deg + 8, 4001)
        cl = lift(case, top)
        # the peak of the lift is where the case says, and n belongs to q and alpha
        assert abs(cl.max() - case.cl_max) < 1e-6 * case.cl_max
        assert cl[np.searchsorted(top, case.stall_deg)] >= 0.9999 * case.cl_max
        n = lift(case, flight["alpha_deg"]) / case.cl_max * flight["q_pa"] / case.stall_q_pa
        assert flight["n_g"] == pytest.approx(n)
        steady = flight["time_s"] < 4
        assert abs(flight["n_g"][steady].mean() - 1) < 0.1
        # near 1 g at the stall, as recorded "1 g" stalls are (0.93 to 0.98, gusts aside)
        if case.hold_deg > 0 and case.gust_m_s == 0:
            at = np.argmax(flight["alpha_deg"] >= case.stall_deg)
            assert 0.9 < flight["n_g"][at] < 1.01
