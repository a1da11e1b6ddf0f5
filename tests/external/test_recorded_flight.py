"""The unit on real air: a recorded flight with two differential pressures from opposed nose ports.

Source of the record and of its licence: data/README.md. Published calibration of that nose (Ranadu
documentation): attack = 4.605 + (opposed/qc)(18.44 + 6.75 mach), in degrees. It is meant for the
uncorrected qc, so on these corrected data the formula itself sits 0.06 deg above the published
angle, with a spread of 0.004 deg. Attack 1.3 to 2.0 deg only: no stall, no lift curve is shown.

The pressures exceed the unit's limit and are divided by 4, which must not matter (promise 1). Each
second's pair is held for a second at 100 Hz and the unit is read in the last tick of it.
"""

import numpy as np
import pytest

from host_sim.runtimes.run import run_stream
from host_sim.runtimes.session import OUT_COLUMNS
from tests.external.truth import load, stream

TICKS = 100  # a second at the default rate


def recorded_ratio(divisor: float) -> np.ndarray:
    """The unit's ratio at the end of each second, through the whole unit, uncalibrated."""
    record = load("recorded_opposed_ports")
    pitot, angled = (np.repeat(record[name] / divisor, TICKS) for name in ("qc_pa", "opposed_pa"))
    time_s = np.arange(len(pitot)) / TICKS
    out = run_stream(stream(pitot, angled, time_s, "opposed", None))
    return out[TICKS - 1::TICKS, OUT_COLUMNS.index("ratio_bp")] / 10000


def test_published_calibration_of_our_ratio_gives_the_published_angle() -> None:
    record = load("recorded_opposed_ports")
    attack_deg = 4.605 + recorded_ratio(4) * (18.44 + 6.75 * record["mach"])
    above_deg = attack_deg - record["attack_deg"]
    assert len(above_deg) == 301
    assert above_deg.mean() == pytest.approx(0.06, abs=0.005)
    assert above_deg.std() < 0.005
    # 0.5/10000 of ratio is 0.0012 deg, so a single second may be a few spreads off, no more.
    assert abs(above_deg - above_deg.mean()).max() < 0.03


def test_the_ratio_follows_an_angle_that_no_pressure_went_into() -> None:
    # Pitch minus path angle, air taken as level on average. r = 0.87 and 0.06 deg of residual were
    # found by an independent reading of the same record.
    record = load("recorded_opposed_ports")
    path_deg = np.degrees(np.arcsin(record["vspeed_ms"] / record["tas_ms"]))
    angle_deg = record["pitch_deg"] - path_deg
    ratio = recorded_ratio(4)
    assert np.corrcoef(ratio, angle_deg)[0, 1] == pytest.approx(0.87, abs=0.02)
    line = np.polyfit(ratio, angle_deg, 1)
    assert line[0] > 0  # rises with the angle of attack
    assert (angle_deg - np.polyval(line, ratio)).std() == pytest.approx(0.06, abs=0.01)


@pytest.mark.parametrize("divisor", [2, 8, 16])
def test_dividing_both_pressures_changes_nothing(divisor: int) -> None:
    # Rounding: 0.1 Pa words held still, 1/2 step of each pressure and 1/2 of 1/10000 of the ratio.
    record = load("recorded_opposed_ports")
    words = 10 * record["qc_pa"] / max(4, divisor)
    bound = (0.5 * (1 + 0.2) / words) * 2 + 1e-4
    assert (abs(recorded_ratio(divisor) - recorded_ratio(4)) <= bound).all()


def test_pressures_past_the_limit_are_not_turned_into_a_ratio() -> None:
    # 10 000 Pa is the unit's limit; here qc is 12 000 and more.
    record = load("recorded_opposed_ports")
    assert record["qc_pa"].min() > 10000
    assert (recorded_ratio(1) < -1e4).all()  # "unknown" in every tick
