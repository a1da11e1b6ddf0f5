"""Gusts: continuous turbulence of the Dryden form, and single 1-cosine gusts.

Strengths and lengths: MIL-F-8785C as transcribed in JSBSim's FGWinds.cpp (secondary source);
filters from memory. Discretised exactly, so the spectrum and the rms hold at any step.
"""

from dataclasses import dataclass
from math import cos, exp, pi, sqrt

import numpy as np

from host_sim.world.atmosphere import M_PER_FT, MS_PER_KT

# level -> (wind at 20 ft in kt, line of the probability-of-exceedance table in ft/s); which line
# goes with which level (1e-2, 1e-3, 1e-5) is from memory
LEVELS: dict[str, tuple[float, tuple[float, ...]]] = {
    "none": (0.0, (0.0, 0.0, 0.0, 0.0, 0.0)),
    "light": (15.0, (6.6, 6.9, 7.4, 6.7, 4.6)),
    "moderate": (30.0, (8.6, 9.6, 10.6, 10.1, 8.0)),
    "severe": (45.0, (15.6, 17.6, 23.0, 23.6, 22.1)),
}
_TABLE_FT = (500.0, 1750.0, 3750.0, 7500.0, 15000.0)
_LOW_FT = 1000.0
_HIGH_FT = 2000.0
_HIGH_LENGTH_FT = 1750.0
_LEAST_FT = 20.0  # the form rests on the wind at 20 ft and says nothing below
_ROOT3 = sqrt(3.0)
_ROOT_HALF = sqrt(0.5)


@dataclass(frozen=True)
class Gust:
    """One 1-cosine gust: `up_ms` at its middle, `length_m` from end to end along the path."""

    at_s: float
    up_ms: float
    length_m: float

    def up_after(self, distance_m: float) -> float:
        """Upward air speed once the aeroplane is `distance_m` into the gust; m/s."""
        if not 0.0 < distance_m < self.length_m:
            return 0.0
        return 0.5 * self.up_ms * (1.0 - cos(2.0 * pi * distance_m / self.length_m))


def strengths(level: str, height_m: float) -> tuple[float, float, float, float]:
    """(sigma_u, sigma_w, length_u, length_w) in m/s and m at a height above ground; v is as u."""
    height_ft = max(height_m / M_PER_FT, _LEAST_FT)
    if height_ft <= _LOW_FT:
        return _low(level, height_ft)
    if height_ft >= _HIGH_FT:
        return _high(level, height_ft)
    share = (height_ft - _LOW_FT) / (_HIGH_FT - _LOW_FT)
    low = _low(level, _LOW_FT)
    high = _high(level, _HIGH_FT)
    mixed = [a + share * (b - a) for a, b in zip(low, high, strict=True)]
    return mixed[0], mixed[1], mixed[2], mixed[3]


def _low(level: str, height_ft: float) -> tuple[float, float, float, float]:
    sigma_w = 0.1 * LEVELS[level][0] * MS_PER_KT
    shape = 0.177 + 0.000823 * height_ft
    length_u = height_ft / shape**1.2
    return sigma_w / shape**0.4, sigma_w, length_u * M_PER_FT, height_ft * M_PER_FT


def _high(level: str, height_ft: float) -> tuple[float, float, float, float]:
    sigma = float(np.interp(height_ft, _TABLE_FT, LEVELS[level][1])) * M_PER_FT
    length = _HIGH_LENGTH_FT * M_PER_FT
    return sigma, sigma, length, length


class FirstOrder:
    """Along the path: one pole of unit variance."""

    def __init__(self) -> None:
        self._value = 0.0

    def step(self, ratio: float, noise: float) -> float:
        """Advance by `ratio` = V dt/L with one unit normal; returns the gust over sigma."""
        keep = exp(-ratio)
        self._value = keep * self._value + sqrt(1.0 - keep * keep) * noise
        return self._value


class SecondOrder:
    """Across the path: (1 + sqrt3 s L/V)/(1 + s L/V)^2 of unit variance.

    Two equal poles in a row, x1 and x2; the output is sqrt3 x1 + (1 - sqrt3) x2, whose variance
    is 2 when x1 has variance 1. The covariance of one step is integrated in closed form.
    """

    def __init__(self) -> None:
        self._first = 0.0
        self._second = 0.0

    def step(self, ratio: float, noise_a: float, noise_b: float) -> float:
        """Advance by `ratio` = V dt/L with two unit normals; returns the gust over sigma."""
        keep = exp(-ratio)
        square = keep * keep
        var_first = 1.0 - square
        cross = 0.5 * (1.0 - square * (1.0 + 2.0 * ratio))
        var_second = 0.5 * (1.0 - square * (1.0 + 2.0 * ratio + 2.0 * ratio * ratio))
        root = sqrt(var_first)
        mixed = cross / root
        rest = sqrt(max(0.0, var_second - mixed * mixed))
        self._second = keep * (self._second + ratio * self._first)
        self._second += mixed * noise_a + rest * noise_b
        self._first = keep * self._first + root * noise_a
        return _ROOT_HALF * (_ROOT3 * self._first + (1.0 - _ROOT3) * self._second)


class Dryden:
    """Three gust components along the flight; all noise is drawn from the generator given."""

    def __init__(self, level: str, rng: np.random.Generator) -> None:
        self._level = level
        self._rng = rng
        self._along = FirstOrder()
        self._side = SecondOrder()
        self._up = SecondOrder()
        self._pool: list[list[float]] = []

    def step(self, speed_ms: float, height_m: float, dt_s: float) -> tuple[float, float, float]:
        """(u headwind, v from the side, w upward) in m/s; the speed counts as >= 5 m/s."""
        if self._level == "none":
            return 0.0, 0.0, 0.0
        if not self._pool:
            self._pool = self._rng.standard_normal((4096, 5)).tolist()
        noise = self._pool.pop()
        sigma_u, sigma_w, length_u, length_w = strengths(self._level, height_m)
        travel = max(speed_ms, 5.0) * dt_s
        along = sigma_u * self._along.step(travel / length_u, noise[0])
        side = sigma_u * self._side.step(travel / length_u, noise[1], noise[2])
        up = sigma_w * self._up.step(travel / length_w, noise[3], noise[4])
        return along, side, up
