"""Is the lift share right, and does it depend on the ratio alone? Independent flights.

The sets carry the true angle of attack and lift coefficient; pressures come from the formula of a
sphere in potential flow (see `truth`).
"""

import numpy as np
import pytest

from host_sim.runtimes.run import run_stream
from host_sim.runtimes.session import OUT_COLUMNS
from tests.external.sensed import at_unit_rate, sense, stalls
from tests.external.truth import PHASES, PLUMBINGS, Probe, calibration, pressures, stream

CLEAN, FLAP20, HIGH_WING = ("tp_stall_1g",), ("tp_stall_flap20",), ("hw_stall_1g",)

every_plumbing = pytest.mark.parametrize("plumbing", PLUMBINGS)


@every_plumbing
@pytest.mark.parametrize("noise_pa", [0.0, 1.5])
@pytest.mark.parametrize(("name", "learned", "within_deg"), [
    ("tp_stall_1g", CLEAN, 0.3), ("tp_stall_1g_heavy_high", CLEAN, 0.3), ("tp_turn45", CLEAN, 0.3),
    ("tp_turn60", CLEAN, 0.3), ("hw_stall_1g", HIGH_WING, 0.3), ("hw_turn45", HIGH_WING, 0.3),
    ("tp_stall_flap20", FLAP20, 0.3), ("tp_pullups", CLEAN, 1.5)])
def test_full_lift_marks_the_true_stall(
        name: str, learned: tuple[str, ...], within_deg: float, plumbing: str,
        noise_pa: float) -> None:
    # 0.3 deg steady, 1.5 deg in pull-ups of 6 to 12 deg/s: asked of these sets by their makers.
    heard = sense(name, plumbing, learned, noise_pa)
    time, alpha = heard.truth["time_s"], heard.truth["alpha_deg"]
    for begin, stall, _ in stalls(name):
        near = (time > begin) & (time < stall + 2.0)
        marked = np.flatnonzero(near & (heard.unit["lift_pm"] >= 1000))[0]
        assert alpha[marked] == pytest.approx(PHASES[name]["stall_alpha_deg"], abs=within_deg)


@every_plumbing
@pytest.mark.parametrize(("name", "learned", "pitch_rate_most"), [
    ("tp_stall_1g", CLEAN, 30), ("tp_stall_1g_heavy_high", CLEAN, 30),
    ("tp_stall_flap20", FLAP20, 30), ("tp_turn45", CLEAN, 30), ("tp_turn60", CLEAN, 30),
    ("hw_stall_1g", HIGH_WING, 30), ("hw_turn45", HIGH_WING, 15), ("tp_ordinary", CLEAN, 30)])
def test_lift_is_cl_over_clmax(
        name: str, learned: tuple[str, ...], pitch_rate_most: float, plumbing: str) -> None:
    # The sets carry cl, total lift over qbar S. CLmax: cl of the learning set at its stall alpha.
    # Not counted: slips, and pitching fast (in hw_* the tail's pitching lift is in cl as well).
    heard = sense(name, plumbing, learned)
    truth, lift = heard.truth, heard.unit["lift_pm"] / 1000
    source = at_unit_rate(learned[0])
    cl_max = np.interp(stalls(learned[0])[0][1], source["time_s"], source["cl"])
    share = truth["cl"] / cl_max
    until = stalls(name)[0][1] if stalls(name) else np.inf
    counted = ((share >= 0.3) & (share <= 1.0) & (truth["time_s"] < until)
               & (abs(truth["pitch_rate_dps"]) < pitch_rate_most) & (abs(truth["beta_deg"]) < 3)
               & (truth["time_s"] > truth["time_s"][0] + 0.5))
    assert counted.sum() > 800
    assert abs(lift - share)[counted].max() <= 0.05


@every_plumbing
@pytest.mark.parametrize("factor", [0.5, 2.0])
@pytest.mark.parametrize(("name", "learned"), [
    ("tp_stall_1g", CLEAN), ("tp_turn60", CLEAN), ("hw_turn45", HIGH_WING), ("tp_gusts", CLEAN),
    ("tp_capture3", CLEAN)])
def test_same_ratio_same_sound(
        name: str, learned: tuple[str, ...], plumbing: str, factor: float) -> None:
    """Both pressures scaled: the same states in the same order, and where a change comes a tick
    sooner or later, lift lies within the rounding of the two runs of the threshold."""
    base, scaled = (direct(name, plumbing, learned[0], f) for f in (1.0, factor))
    seeded = (base["lift_pm"] >= 0) & (scaled["lift_pm"] >= 0)
    assert (~seeded).sum() < 30  # only while the first window fills
    # A conditioned pressure is rounded twice, to within 1 of its own steps; a ratio once, to 1/2;
    # a lift once, to 1/2. Steps of the scaled run are 1/factor of the base run's.
    quotient = abs(base["angled_dpa"] / base["pitot_dpa"])
    relative = (1 + quotient) * (1 + 1 / factor) / base["pitot_dpa"]
    points = np.array(calibration(learned[0], plumbing, Probe())["points"])
    steepest = (np.diff(points[:, 1]) / np.diff(points[:, 0])).max()
    bound = steepest * (10000 * relative + 1) + 1
    assert (abs(base["lift_pm"] - scaled["lift_pm"]) <= bound)[seeded].all()
    order = [run["state"][np.flatnonzero(np.diff(run["state"], prepend=-1))].tolist()
             for run in (base, scaled)]
    assert order[0] == order[1]
    # The default starts of the bands, and their ends 20 below.
    unsure = np.any([abs(base["lift_pm"] - edge) <= bound
                     for edge in (510, 694, 907, 490, 674, 887)], axis=0)
    released = np.roll(unsure, 49) | np.roll(unsure, 199)  # a release of 500 ms or 2 s later
    differ = base["state"] != scaled["state"]
    assert (unsure | released)[differ & seeded].all()
    # Pitch climbs 500 Hz over the 213 per mille of pressing, in 32 steps.
    same = ~differ & seeded
    apart_hz = abs(base["tone_hz"] - scaled["tone_hz"])
    assert (apart_hz <= 500 * (bound / 213 + 1 / 32) + 1)[same].all()


def direct(name: str, plumbing: str, learned_from: str, factor: float) -> dict[str, np.ndarray]:
    """A replay of pressures that are scaled exactly: even numbers of 0.1 Pa, times 1/2, 1 or 2."""
    flight, probe = at_unit_rate(name), Probe()
    pitot, angled = (2 * np.rint(5 * p) * factor / 10 for p in pressures(flight, plumbing, probe))
    out = run_stream(stream(pitot, angled, flight["time_s"], plumbing,
                            calibration(learned_from, plumbing, probe)))
    return dict(zip(OUT_COLUMNS, out.T, strict=True))
