"""Tubes between probe and sensor: a first-order lag and the time sound needs.

Laminar flow in a thin tube: tau = 128 mu L Ve/(pi d^4 p), Ve the sensor's volume and half of the
tube's (formula from memory). Sea-level pressure is used throughout: in thin air tubes are slower.
"""

from dataclasses import dataclass
from math import exp, pi

import numpy as np

from host_sim.world.atmosphere import PRESSURE_SEA_PA, SOUND_SEA_MS, VISCOSITY_PA_S


@dataclass(frozen=True)
class Line:
    """One tube: length in m, inner diameter in mm, volume at the sensor end in cm3."""

    length_m: float = 3.0
    bore_mm: float = 3.0
    volume_cm3: float = 1.0

    @property
    def tau_s(self) -> float:
        """Time constant of the lag in seconds."""
        bore_m = self.bore_mm * 1e-3
        tube_m3 = 0.25 * pi * bore_m**2 * self.length_m
        volume_m3 = self.volume_cm3 * 1e-6 + 0.5 * tube_m3
        resistance = 128.0 * VISCOSITY_PA_S * self.length_m / (pi * bore_m**4)
        return resistance * volume_m3 / PRESSURE_SEA_PA

    @property
    def delay_s(self) -> float:
        """Time that sound needs through the tube, in seconds."""
        return self.length_m / SOUND_SEA_MS


@dataclass(frozen=True)
class Lines:
    """The three tubes; with opposed ports both take the angled one."""

    pitot: Line = Line()
    angled: Line = Line()
    static: Line = Line()


def through_tube(pressure_pa: np.ndarray, line: Line, dt_s: float) -> np.ndarray:
    """Pressure at the far end of a tube; same shape. Exact for straight lines between samples."""
    times = np.arange(len(pressure_pa)) * dt_s
    late = np.interp(times - line.delay_s, times, pressure_pa)
    if line.tau_s <= 0.0:
        return late
    return _lag(late, line.tau_s, dt_s)


def _lag(values: np.ndarray, tau_s: float, dt_s: float) -> np.ndarray:
    ratio = dt_s / tau_s
    keep = exp(-ratio)
    mean = (1.0 - keep) / ratio
    from_old = mean - keep
    from_new = 1.0 - mean
    plain = values.tolist()
    felt = plain[0]
    out = [felt]
    for old, new in zip(plain, plain[1:], strict=False):
        felt = keep * felt + from_old * old + from_new * new
        out.append(felt)
    return np.array(out)
