"""The normal distribution, and how often a Gaussian signal crosses a level."""

from math import erfc, sqrt

import numpy as np

_erfc = np.vectorize(erfc, otypes=[float])
_CELLS, _REACH = 800, 9.0


def density(at: np.ndarray) -> np.ndarray:
    """Density of the unit normal distribution."""
    return np.exp(-0.5 * at ** 2) / sqrt(2.0 * np.pi)


def below(at: np.ndarray) -> np.ndarray:
    """Share of the unit normal distribution below a value."""
    return 0.5 * _erfc(-at / sqrt(2.0))


def crossing_chance(level: float, likeness: float) -> float:
    """Chance that a unit Gaussian sequence lies below `level` at one step and at or above it at
    the next. likeness: correlation of neighbours, -1 < likeness < 1. By the definition: the
    integral over x < level of density(x) P(next >= level | x)."""
    cell = _REACH / _CELLS
    at = level - (np.arange(_CELLS) + 0.5) * cell
    rest = sqrt(1.0 - likeness ** 2)
    return float((density(at) * below((likeness * at - level) / rest)).sum()) * cell
