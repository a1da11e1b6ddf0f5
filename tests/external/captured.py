"""Truth flights through the capture, as a unit would sense them: 100 samples a second, 14-bit
words (1.05 Pa a step), noise, tubes, an accelerometer. Computed here, not by our simulator.

A marked ratio is turned back into an angle of attack by the inverse of the probe formula
(`truth.Probe`), so errors below are degrees of true alpha; plus is late, the dangerous side.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.runtimes.capture_runs import Captured, Run, capture_flight
from host_sim.runtimes.run import Stream, run_stream
from host_sim.runtimes.session import OUT_COLUMNS
from tests.external.sensed import (
    NO_ACCELEROMETER,
    NO_FLAP_SWITCHES,
    at_unit_rate,
    sensor_settings,
    through_tube,
    words,
)
from tests.external.truth import PHASES, Heard, Probe, pressures

N_NOISE_G = 0.03  # rms of a small accelerometer in a shaking airframe: common practice, no source
FRESH = 0
ZERO = {"pitot_dpa": 0, "angled_dpa": 0}


@dataclass(frozen=True)
class Feeling:
    """How a unit feels a flight: probe, tube lag, sensor noise, accelerometer, seed."""

    probe: Probe = Probe()
    tau_s: float = 0.02
    noise_pa: float = 1.5
    with_n: bool = True
    seed: int = 1

    def __str__(self) -> str:
        return (f"k{self.probe.k}-phi{self.probe.phi_deg:g}-{1000 * self.tau_s:g}ms"
                f"-{'n' if self.with_n else 'pressures'}-{self.seed}")


def rows_of(flight: dict[str, np.ndarray], plumbing: str, feeling: Feeling,
            flap_switches: bool = False) -> np.ndarray:
    """Input rows of the firmware for a flight at 100 Hz."""
    rng = np.random.default_rng(feeling.seed)
    count = len(flight["time_s"])
    rows = np.zeros((count, 9), np.int32)
    rows[:, 0] = np.rint((flight["time_s"] - flight["time_s"][0]) * 1000)
    for column, pressure in zip((2, 4), pressures(flight, plumbing, feeling.probe), strict=True):
        felt = through_tube(pressure, feeling.tau_s)
        rows[:, column] = words(felt + feeling.noise_pa * rng.standard_normal(count))
    rows[:, 5] = FRESH if feeling.with_n else NO_ACCELEROMETER
    noise_g = N_NOISE_G * rng.standard_normal(count)
    rows[:, 6] = np.rint(1000 * (flight["nz_g"] + noise_g)) if feeling.with_n else 0
    rows[:, 7] = np.rint(flight["flap"]) if flap_switches else NO_FLAP_SWITCHES
    return rows


def capture_rows(rows: np.ndarray, plumbing: str, first_s: float = 0.0, **changes) -> Captured:
    """All runs the firmware finds in input rows."""
    record = sensor_settings(plumbing) | changes
    return capture_flight("flight", Stream(rows, record, None, ZERO), round(1000 * first_s))


def capture(name: str, plumbing: str, feeling: Feeling, **changes) -> Captured:
    """All runs the firmware finds in a truth set; times are the set's own."""
    flight = at_unit_rate(name)
    return capture_rows(rows_of(flight, plumbing, feeling), plumbing,
                        float(flight["time_s"][0]), **changes)


def alpha_deg(ratio_bp: int, plumbing: str, probe: Probe) -> float:
    """Angle of attack at which the probe gives a ratio, on its rising side, without sideslip."""
    alpha = np.linspace(-10, 35, 4501)
    ratio = probe.ratio(plumbing, alpha)
    top = int(np.argmax(ratio)) + 1
    return float(np.interp(ratio_bp / 10000, ratio[:top], alpha[:top]))


def error_deg(run: Run, true_deg: float, plumbing: str, probe: Probe) -> float:
    """How much later than the true stall a run puts it, deg of true alpha."""
    assert run.stall_ratio_bp is not None
    return alpha_deg(run.stall_ratio_bp, plumbing, probe) - true_deg


def hear_with(record: dict, name: str, plumbing: str, feeling: Feeling) -> Heard:
    """Replay a set with a calibration record."""
    flight = at_unit_rate(name)
    out = run_stream(Stream(rows_of(flight, plumbing, feeling), sensor_settings(plumbing), record,
                            ZERO))
    return Heard(flight, dict(zip(OUT_COLUMNS, out.T, strict=True)))


def record_of(run: Run, plumbing: str) -> dict:
    """The calibration record of one accepted run alone."""
    assert run.accepted
    return {"plumbing": plumbing, "flap": 0, "points": run.curve}


def stall_deg(name: str) -> float:
    """True stall alpha of a set."""
    return PHASES[name]["stall_alpha_deg"]
