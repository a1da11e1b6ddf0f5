"""Signals that no flight holds cleanly, for the same conditioning: kinked ramps and steady noise.

Delay is measured on an angle of attack that rests and then rises at a steady rate, with no noise;
noise on an angle that rests, with sensor noise as found in the flights. Both go through the
firmware's own channels, ratio and curve as `direct` words.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.reading.unit_files import direct_settings
from host_sim.runtimes.paths import use_firmware
from host_sim.tuning.engine.through_engine import Shown
from host_sim.tuning.fleet.flights import TuneFlight, pack

use_firmware()

from alula.pressure_ratio import PLUMBINGS  # noqa: E402
from alula.sample import FLAP_NOT_WIRED, FRESH, NOT_FITTED  # noqa: E402
from host_sim.runtimes.session import UNKNOWN  # noqa: E402

RATES_DEG_S = (1, 3, 10)
SPEEDS = (1.05, 1.20, 1.30)  # of the stalling speed
RAMP_Q_DPA = 50_000  # 5000 Pa: so large that 0.1 Pa is nothing; the ratio is what counts
REST_MS, RISE_MS, NOISE_MS = 2_000, 1_500, 20_000
SLOPE_BP = 360  # ratio a degree for one 45-degree port: 9/4 sin 2(45 - alpha) pi/180 at 10 to 12
RAMP_FROM_BP = 1_000
_SEED = 7
SETTLED_MS = 1_000  # of each part of the noise: the window fills, the last part dies out


@dataclass(frozen=True)
class Wing:
    """What the signals need of a fleet. q_stall_dpa: dynamic pressure of the 1 g stall, 0.1 Pa.
    noise_dpa: standard deviation of one word of the pitot and of the angled sensor."""

    calibration: dict
    settings: dict
    q_stall_dpa: float
    noise_dpa: tuple[float, float]

    @property
    def points(self) -> list:
        """The curve of the first flap setting."""
        return self.calibration.get("curves", [self.calibration])[0]["points"]

    @property
    def plumbing(self) -> str:
        """A word of PLUMBINGS."""
        return self.settings["plumbing"]

    @property
    def period_ms(self) -> int:
        """From sample to sample."""
        return 1000 // self.settings.get("sample_rate_hz", 100)


def angled_dpa(plumbing: str, q_dpa: np.ndarray, ratio: np.ndarray) -> np.ndarray:
    """The angled sensor's pressure for a ratio: the firmware's `ratio_bp`, solved for it."""
    assert plumbing in PLUMBINGS
    return q_dpa * (1.0 - ratio) if plumbing == "pitot-port" else q_dpa * ratio


def slope_bp(plumbing: str) -> int:
    """Ratio a degree: two opposed ports see twice what one sees (9/4 sin 2 alpha)."""
    return 2 * SLOPE_BP if plumbing == "opposed" else SLOPE_BP


def ramp(wing: Wing, rate_deg_s: int) -> TuneFlight:
    """Rest, then a steady rise of the angle at constant dynamic pressure."""
    time_ms = np.arange(0, REST_MS + RISE_MS, wing.period_ms)
    q_dpa = np.full(len(time_ms), float(RAMP_Q_DPA))
    ratio = ramp_ratio_bp(wing, time_ms, rate_deg_s) / 1e4
    return _flight(wing, f"ramp {rate_deg_s}", time_ms, q_dpa,
                   angled_dpa(wing.plumbing, q_dpa, ratio))


def ramp_ratio_bp(wing: Wing, time_ms: np.ndarray, rate_deg_s: int) -> np.ndarray:
    """The true ratio of `ramp`, 1/10 000, not rounded."""
    return RAMP_FROM_BP + slope_bp(wing.plumbing) * rate_deg_s * np.maximum(
        time_ms - REST_MS, 0) / 1000.0


def most_lag_s(wing: Wing, time_ms: np.ndarray, shown: Shown, rate_deg_s: int) -> float:
    """The most by which the conditioned ratio lies behind the true one while the ramp begins,
    in seconds of the ramp. Negative: it is ahead all the time."""
    rising = time_ms >= REST_MS
    behind_bp = ramp_ratio_bp(wing, time_ms, rate_deg_s)[rising] - shown.ratio_bp[rising]
    return float(behind_bp.max()) / (slope_bp(wing.plumbing) * rate_deg_s)


def noise(wing: Wing, speeds: tuple[float, ...] = SPEEDS) -> TuneFlight:
    """Steady flight at some speeds, one after another, with the sensors' noise."""
    rng = np.random.default_rng(_SEED)
    each = NOISE_MS // wing.period_ms
    ratios_bp, lifts_pm = np.array(wing.points, float).T
    q_dpa = np.repeat([wing.q_stall_dpa * speed ** 2 for speed in speeds], each)
    ratio = np.repeat([np.interp(1000.0 / speed ** 2, lifts_pm, ratios_bp) for speed in speeds],
                      each) / 1e4
    quiet = np.arange(len(q_dpa)) % each
    angled = angled_dpa(wing.plumbing, q_dpa, ratio)
    return _flight(wing, "noise", np.arange(len(quiet)) * wing.period_ms,
                   q_dpa + wing.noise_dpa[0] * rng.standard_normal(len(quiet)),
                   angled + wing.noise_dpa[1] * rng.standard_normal(len(quiet)))


def noise_pm(wing: Wing, shown: Shown) -> list[float]:
    """Standard deviation of the lift share at each of SPEEDS, per mille."""
    each, skip = NOISE_MS // wing.period_ms, SETTLED_MS // wing.period_ms
    found = []
    for i in range(len(SPEEDS)):
        lift = shown.lift_pm[i * each + skip:(i + 1) * each]
        lift = lift[lift != UNKNOWN]
        found.append(float(lift.std()) if len(lift) else float("nan"))
    return found


def raw_noise_pm(wing: Wing, speed: float) -> float:
    """The noise of the lift share without any smoothing, per mille: that of one word of each
    sensor, through ratio (dr = da/q - r dq/q, and for `pitot-port` r' = 1 - a/q) and curve."""
    ratios_bp, lifts_pm = np.array(wing.points, float).T
    lift_pm = 1000.0 / speed ** 2
    ratio = float(np.interp(lift_pm, lifts_pm, ratios_bp)) / 1e4
    at = min(max(int(np.searchsorted(lifts_pm, lift_pm)), 1), len(lifts_pm) - 1)
    slope = (lifts_pm[at] - lifts_pm[at - 1]) / (ratios_bp[at] - ratios_bp[at - 1]) * 1e4
    gain = 1.0 - ratio if wing.plumbing == "pitot-port" else ratio
    q_dpa = wing.q_stall_dpa * speed ** 2
    return float(slope * np.hypot(gain * wing.noise_dpa[0], wing.noise_dpa[1]) / q_dpa)


def _flight(wing: Wing, name: str, time_ms: np.ndarray, pitot: np.ndarray,
            angled: np.ndarray) -> TuneFlight:
    ticks = len(time_ms)
    rows = np.zeros((ticks, 9), np.int32)
    rows[:, 0] = time_ms
    rows[:, 1] = rows[:, 3] = FRESH
    rows[:, 2], rows[:, 4] = np.rint(pitot), np.rint(angled)
    rows[:, 5], rows[:, 7] = NOT_FITTED, FLAP_NOT_WIRED
    curve = {"plumbing": wing.plumbing, "flap": 0, "points": wing.points}
    settings = {**direct_settings(wing.settings, wing.plumbing), "accelerometer": "none",
                "flap_switches": 0}
    return TuneFlight(name, pack(rows), settings, curve, {"pitot_dpa": 0, "angled_dpa": 0})
