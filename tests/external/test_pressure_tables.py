"""Airspeed, load factor and stall-margin tables against what the unit and its tools say."""

import numpy as np
import pytest
from ambiance import Atmosphere

from host_sim.output.changes import changes, table
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import run_stream
from host_sim.runtimes.session import OUT_COLUMNS
from host_sim.world import atmosphere
from tests.external.truth import impact_pa, stream

use_firmware()

from alula.settings import Settings
from alula.states import CALM, PRESSING, STALLING

# kt CAS to Pa: qc = p0 [(1 + 0.2 (V/a0)^2)^3.5 - 1], formula from memory, cells computed; the
# published tables (NASA RP-1046 appendix A) exist but were not read.
IMPACT_PA = {30: 145.97, 40: 259.60, 50: 405.83, 60: 584.76, 70: 796.52, 80: 1041.24, 100: 1630.28,
             120: 2353.51, 150: 3694.38, 200: 6633.55}
# n = 1/cos(bank) and sqrt(n); 30, 45 and 60 deg as in several texts on the basis of
# FAA-H-8083-25 (secondary), the others computed.
BANKS = {0: (1.0, 1.0), 15: (1.0353, 1.0175), 20: (1.0642, 1.0316), 30: (1.1547, 1.0746),
         40: (1.3054, 1.1425), 45: (1.4142, 1.1892), 50: (1.5557, 1.2473), 60: (2.0, 1.4142),
         70: (2.9238, 1.7099), 75: (3.8637, 1.9656)}
# V/Vs to CL/CLmax, computed: 1/(V/Vs)^2.
MARGINS = {1.05: 0.907, 1.10: 0.826, 1.2: 0.694, 1.3: 0.592, 1.4: 0.510}
PROPORTIONAL = {"points": [[1000, 100], [10000, 1000]]}  # lift = ratio


def held(pitot_pa: float, lift: float, seconds: float = 2.0) -> np.ndarray:
    """Output rows of a unit that feels one pressure and one lift share all the time."""
    time_s = np.arange(round(100 * seconds)) / 100
    pitot = np.full(len(time_s), pitot_pa)
    return run_stream(stream(pitot, pitot * lift, time_s, "port-static", PROPORTIONAL))


@pytest.mark.parametrize("cas_kt", IMPACT_PA)
def test_speed_shown_for_an_impact_pressure(cas_kt: int) -> None:
    shown = changes(held(IMPACT_PA[cas_kt], 0.8))[-1].ias_kt
    # Shown to 0.1 kt; 0.05 Pa of word rounding is below 0.01 kt from 30 kt up.
    assert shown == pytest.approx(cas_kt, abs=0.05 + 0.01)


def test_impact_pressure_of_a_true_airspeed_against_ambiance() -> None:
    # PyPI ambiance gives pressure and speed of sound (ICAO 1993); compressible pitot formula
    # (isentropic, gamma 1.4) written out here.
    air = Atmosphere(np.linspace(0.0, 6000.0, 13))
    for tas_ms in (20.0, 35.0, 60.0, 110.0):
        expected = air.pressure * ((1 + (tas_ms / air.speed_of_sound) ** 2 / 5) ** 3.5 - 1)
        found = atmosphere.impact_from_tas_pa(tas_ms, air.H)
        # 1e-5: half a Pa in the sea-level pressure of 101325
        assert found == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("bank_deg", BANKS)
def test_lift_does_not_feel_the_load_factor(bank_deg: int) -> None:
    """At one angle of attack a turn needs n times the q: the unit's lift must not move."""
    load, factor = BANKS[bank_deg]
    level, banked = held(300.0, 0.8), held(300.0 * load, 0.8)
    lift = OUT_COLUMNS.index("lift_pm")
    assert abs(int(level[-1, lift]) - int(banked[-1, lift])) <= 1  # rounding of 0.1 Pa words
    assert banked[-1, lift] == pytest.approx(800, abs=1)
    speeds = [changes(out)[-1].ias_kt for out in (level, banked)]
    # The airspeed at that lift rises by sqrt(n); both are shown to 0.1 kt (of 43 kt and more).
    # Compressibility makes CAS fall short of sqrt(qc) by M^2/8: below 0.2 % at these speeds.
    assert speeds[1] / speeds[0] == pytest.approx(factor, rel=0.0025 + 0.002)


@pytest.mark.parametrize("bank_deg", [0, 30, 45, 60])
def test_the_stalling_speed_grows_with_the_root_of_the_load(bank_deg: int) -> None:
    # An aeroplane of Vs 45 kt slows at 1 kt/s at constant load factor n: lift = n (Vs/V)^2.
    load, factor = BANKS[bank_deg]
    kcas = np.arange(100.0, 44.0, -0.01)
    pitot = impact_pa(kcas)
    lift = load * impact_pa(45.0) / pitot
    keep = lift < 1.0
    time_s = np.arange(keep.sum()) / 100
    out = run_stream(stream(pitot[keep], (pitot * lift)[keep], time_s, "port-static",
                            PROPORTIONAL))
    begun = np.flatnonzero(out[:, OUT_COLUMNS.index("state")] == STALLING)[0]
    # 1.05 Vs sqrt(n); 0.15 kt: at 1 kt/s, 0.15 s of all delays together (own budget)
    assert kcas[begun] == pytest.approx(45.0 * 1.05 * factor, abs=0.15)


def test_default_thresholds_are_the_speed_margins_they_claim() -> None:
    settings = Settings()
    for name, margin in (("calm_pm", 1.4), ("pressing_pm", 1.2), ("stalling_pm", 1.05)):
        assert getattr(settings, name) == round(1000 / margin ** 2)
        assert getattr(settings, name) == pytest.approx(1000 * MARGINS[margin], abs=0.5)


@pytest.mark.parametrize("margin", MARGINS)
def test_the_summary_shows_the_margin_of_a_lift(margin: float) -> None:
    change = changes(held(400.0, MARGINS[margin]))[-1]
    assert change.lift_pm == pytest.approx(1000 * MARGINS[margin], abs=1)
    assert f"{margin:.2f}" in table([change])[-1].split()


def test_an_approach_at_1_3_of_the_stall_speed_does_not_press() -> None:
    # 14 CFR 23.73: VREF is 1.3 VS1 or more; 23.207(d): no warning in a normal approach.
    out = held(405.83, MARGINS[1.3])
    assert set(out[50:, OUT_COLUMNS.index("state")].tolist()) == {CALM}


def test_5_kt_above_the_stall_is_within_pressing_for_every_stall_speed() -> None:
    # 14 CFR 23.207(c). Lift at Vs + 5 kt, computed: Vs 35 -> .766, 45 -> .810, 61 -> .854
    # (61 kt: the most VSO that 23.49 allows a single-engine aeroplane).
    for stall_kt, share in ((35, 0.766), (40, 0.790), (45, 0.810), (50, 0.826), (61, 0.854)):
        assert (stall_kt / (stall_kt + 5)) ** 2 == pytest.approx(share, abs=5e-4)
        out = held(float(impact_pa(stall_kt + 5.0)), share)
        assert out[-1, OUT_COLUMNS.index("state")] == PRESSING
