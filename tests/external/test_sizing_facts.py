"""`alula size`: closed forms against their sources, data-sheet rules against definitions."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from ambiance import Atmosphere
from scipy import integrate, stats

from host_sim.sizing import lag, noise_gain
from host_sim.sizing.case import Sensor
from host_sim.sizing.gaussian import crossing_chance
from host_sim.sizing.reach import reach
from host_sim.sizing.read_sensor import read_sensor
from host_sim.sizing.sensor_words import step_pa, to_words
from host_sim.sizing.verdict import room_kt
from host_sim.sizing.wing import Wing, impact_pa
from host_sim.world.plumbing import Line
from tests.sizing.rig import PSI_PA, case_of

IN_H2O_PA = 249.08891  # NIST SP 811, conventional inch of water (from memory)
# kt CAS to Pa: qc = p0 [(1 + 0.2 (V/a0)^2)^3.5 - 1]: formula from memory, cells computed; the
# published table (NASA RP-1046, appendix A) exists but was not read.
IMPACT_PA = {30: 145.97, 40: 259.60, 50: 405.83, 60: 584.76, 80: 1041.24, 100: 1630.28,
             120: 2353.51, 150: 3694.38, 200: 6633.55}


@pytest.mark.parametrize("cas_kt", IMPACT_PA)
def test_impact_pressure_of_a_speed(cas_kt: int) -> None:
    assert impact_pa(cas_kt) == pytest.approx(IMPACT_PA[cas_kt], rel=1e-5, abs=0.005)


# Catalogue ranges and the speed they reach, computed from the same formula: 10 inH2O 123 kt,
# 20 inH2O 174 kt, 1 psi 204 kt, 500 Pa 55 kt, 1500 Pa 96 kt.
@pytest.mark.parametrize(("range_pa", "speed_kt"), [
    (10 * IN_H2O_PA, 123), (20 * IN_H2O_PA, 174), (PSI_PA, 204), (500, 55), (1500, 96)])
def test_the_pitot_range_ends_at_the_known_speed(range_pa: float, speed_kt: int) -> None:
    sensor = Sensor("s", -range_pa, range_pa, "direct", 1.0, 1.0, 0.1, 0.1)
    for top_kt, fits in ((speed_kt - 1, True), (speed_kt + 1, False)):
        case = case_of(sensor, top_kt=float(top_kt))
        pitot, _ = reach(Wing(case), case.pairs[0], False)
        assert (pitot.share <= 1.0) == fits


def test_the_angled_pressure_is_negative_at_speed() -> None:
    # Sphere, potential flow (textbook, from memory): a 45-degree port has (p - ps)/qc = -0.125 at
    # zero angle with k = 9/4; real heads 1.8 to 2.3. Ours is 2.1: 1 - 2.1/2 = -0.05 at 0 deg.
    case = case_of(zero_lift_deg=0.0)
    _, angled = reach(Wing(case), case.pairs[0], False)
    assert angled.low_pa == pytest.approx(-0.05 * IMPACT_PA[120], rel=0.001)
    # 9/4 sin^2(...) in slip: cos(theta) = cos(beta) cos(phi - alpha)
    slip = 1 - 2.1 * (1 - (np.cos(np.radians(10)) * np.cos(np.radians(45))) ** 2)
    _, angled = reach(Wing(case), case.pairs[0], True)
    assert angled.low_pa == pytest.approx(slip * impact_pa(132.0), rel=0.001)


# Tube lag, laminar: tau = 128 mu L Ve/(pi d^4 p), Ve the sensor's volume and half the tube's
# (formula from memory, as in NACA TN 2793's subject), and L/a of sound. Computed examples at sea
# level for 5 m: 4 mm 4.6 ms, 3 mm 8.3 ms, 1.6 mm 33 ms with 1 cm3; 4 mm with 200 cm3 33 ms; sound
# 14.7 ms.
@pytest.mark.parametrize(("bore_mm", "volume_cm3", "tau_ms"), [
    (4.0, 1.0, 4.6), (3.0, 1.0, 8.3), (1.6, 1.0, 33.0), (4.0, 200.0, 33.0)])
def test_tube_lag(bore_mm: float, volume_cm3: float, tau_ms: float) -> None:
    found = lag.tube_ms(Line(5.0, bore_mm, volume_cm3), 0.0)
    assert found == pytest.approx(tau_ms + 14.7, rel=0.02)
    tube_m3 = pi / 4 * (bore_mm / 1000) ** 2 * 5.0
    by_hand_s = 128 * 1.789e-5 * 5.0 * (volume_cm3 * 1e-6 + tube_m3 / 2) / (
        pi * (bore_mm / 1000) ** 4 * 101325)
    assert found == pytest.approx(1000 * (by_hand_s + 5.0 / 340.294), rel=1e-4)


def test_tube_lag_grows_as_the_air_gets_thin() -> None:
    # PyPI ambiance for the pressure at 10 000 ft
    line, height_m = Line(5.0, 3.0, 1.0), 3048.0
    sound_ms = 5000.0 / 340.294
    thin = 101325.0 / Atmosphere(height_m).pressure[0]
    # ambiance takes geometric heights: 0.05 % at 3 km
    assert lag.tube_ms(line, height_m) - sound_ms == pytest.approx(
        thin * (lag.tube_ms(line, 0.0) - sound_ms), rel=1e-3)


@pytest.mark.parametrize(("slots", "horizon"), [(20, 1.0), (20, 0.0), (8, 1.0), (40, 6.0)])
def test_variance_of_a_lines_end(slots: int, horizon: float) -> None:
    # Textbook least squares: 1/N + 12 x^2/(N (N^2 - 1)); weights by numpy's pseudo-inverse.
    x = (slots - 1) / 2 + horizon
    variance = 1 / slots + 12 * x ** 2 / (slots * (slots ** 2 - 1))
    design = np.stack([np.ones(slots), np.arange(1 - slots, 1)], axis=1)
    by_numpy = np.array([1.0, horizon]) @ np.linalg.pinv(design)
    found = noise_gain.line_weights(slots, horizon)
    assert found == pytest.approx(by_numpy, abs=1e-12)
    assert (found ** 2).sum() == pytest.approx(variance, rel=1e-12)


def test_covariances_of_medians_of_three() -> None:
    own, near, far = noise_gain.median_covariances()
    # Variance of the median of three unit Gaussians 1 - sqrt(3)/pi = 0.4487 (order statistics,
    # textbook); here by its density 6 F (1 - F) f through scipy.
    density = stats.norm.pdf
    share = stats.norm.cdf
    by_scipy = integrate.quad(
        lambda x: x * x * 6 * share(x) * (1 - share(x)) * density(x), -9, 9)[0]
    assert own == pytest.approx(by_scipy, rel=1e-9)
    # Neighbours: from a million medians; the standard error of such a mean product is at most
    # sqrt(5 (own^2 + own^2)/M) with five-fold overlap.
    words = np.random.default_rng(8).standard_normal(1000002)
    medians = np.median(np.stack([words[:-2], words[1:-1], words[2:]]), axis=0)
    error = (10 * own ** 2 / 1e6) ** 0.5
    assert near == pytest.approx((medians[1:] * medians[:-1]).mean(), abs=4 * error)
    assert far == pytest.approx((medians[2:] * medians[:-2]).mean(), abs=4 * error)


@pytest.mark.parametrize(("level", "likeness"), [(0.0, 0.9), (1.0, 0.9), (2.5, 0.95), (0.5, 0.2)])
def test_crossings_of_a_gaussian(level: float, likeness: float) -> None:
    # P(x < u <= y) = P(x < u) - P(x < u, y < u): the bivariate normal of scipy; at level 0 it is
    # arccos(rho)/(2 pi) (orthant probability, textbook).
    both = stats.multivariate_normal([0, 0], [[1, likeness], [likeness, 1]]).cdf([level, level])
    assert crossing_chance(level, likeness) == pytest.approx(
        stats.norm.cdf(level) - both, abs=2e-5)
    if level == 0.0:
        assert crossing_chance(level, likeness) == pytest.approx(
            np.arccos(likeness) / (2 * pi), rel=1e-4)


def test_total_error_band_is_a_share_of_the_span() -> None:
    # Full scale span: the difference of the outputs at the upper and the lower end of the range
    # (sensorsone.com, "FRO, FSO"; data sheets of 14-bit sensors alike, from memory): +-1 psi has
    # a span of 2 psi, so 1 % is +-138 Pa, 29 kt of impact pressure at rest (computed).
    table = {"name": "s", "output": "ms4525-a", "band_pc": 1, "noise": "1 Pa",
             "drift": "0.01 %/K"}
    both = read_sensor({**table, "range": "1 psi"}, "s")
    assert both.band_pa == pytest.approx(137.9, abs=0.05)
    assert impact_pa(29.2) == pytest.approx(both.band_pa, rel=0.01)
    one = read_sensor({**table, "low": "0 psi", "high": "1 psi"}, "s")
    assert one.band_pa == pytest.approx(both.band_pa / 2)
    assert both.drift_pa_per_k == pytest.approx(0.0001 * 2 * PSI_PA, rel=1e-6)


@pytest.mark.parametrize(("output", "share", "words"), [
    ("ms4525-a", 0.8, 16383), ("ms4525-b", 0.9, 16383), ("hsc-a", 0.8, 16384),
    ("hsc-b", 0.9, 16384), ("hsc-c", 0.8, 16384), ("hsc-f", 0.9, 16384)])
def test_a_step_is_the_span_over_the_used_words(output: str, share: float, words: int) -> None:
    # Output types: 10-90, 5-95, 5-85 and 4-94 % of 2^14 words (data sheets, by way of the Linux
    # driver hsc030pa.c; MS4525: of 16383). +-1 psi, type A: 1.0521 Pa (computed).
    sensor = Sensor("s", -PSI_PA, PSI_PA, output, 1.0, 1.0, 0.1)
    assert step_pa(sensor) == pytest.approx(2 * PSI_PA / (share * words), rel=2e-4)
    if output == "ms4525-a":
        assert step_pa(sensor) == pytest.approx(1.0521, abs=1e-4)


def test_words_of_the_data_sheet() -> None:
    # MS4525DO, +-1 psi, type A: n = .8*16383/(Pmax-Pmin)*(P-Pmin) + .1*16383 (data sheet, as cited
    # by two open autopilot drivers); cells computed.
    sensor = Sensor("s", -PSI_PA, PSI_PA, "ms4525-a", 1.0, 0.0, 0.0)
    pressures = np.array([-PSI_PA, 0.0, 850.64, PSI_PA])
    assert abs(to_words(pressures, sensor) - [1638.3, 8191.5, 9000.0, 14744.7]).max() <= 0.51


def test_the_room_is_what_the_regulations_leave() -> None:
    # 14 CFR 23.207(c): 5 kt; 25.207(c): greater of 5 kt and 5 %. Pressing starts at 1.20 Vs, the
    # stalling sound at 1.05 Vs (CL/CLmax .694 and .907, computed).
    from host_sim.sizing.answer import answer_for
    for stall_kt, pressing_kt in ((42.0, 0.20 * 42 - 5.0), (110.0, 0.20 * 110 - 5.5)):
        case = case_of(stall_kt=stall_kt, top_kt=180.0)
        pressing, stalling = room_kt(case, answer_for(case, case.pairs[0]))
        # lifts are whole per mille: 0.5/694 of the speed, halved
        assert pressing == pytest.approx(pressing_kt, abs=0.05)
        assert stalling == pytest.approx(0.05 * stall_kt, abs=0.05)


@pytest.mark.parametrize("stall_kt", [24.0, 25.5])
def test_a_slow_stall_has_no_five_knots_at_a_fifth_more(stall_kt: float) -> None:
    # 1.2 Vs is less than Vs + 5 kt below 25 kt: arithmetic
    from host_sim.sizing.answer import answer_for
    from host_sim.sizing.verdict import verdict_of
    case = replace(case_of(stall_kt=stall_kt, top_kt=70.0), record={"min_q_dpa": 400})
    answer = answer_for(case, case.pairs[0])
    assert (room_kt(case, answer)[0] <= 0.0) == (stall_kt < 25.0)
    if stall_kt < 25.0:
        verdict = verdict_of(case, answer)
        assert verdict.word == "does not fit"
        assert "lower pressing_pm" in [r.text for r in verdict.rules if r.name ==
                                       "pressing late"][0]
