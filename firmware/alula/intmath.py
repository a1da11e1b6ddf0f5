"""Whole numbers: what is one, square root, and airspeed from dynamic pressure."""

from micropython import const

# 2 / rho0 in (0.01 kt)^2 per 0.1 Pa: 2 * 0.1 / 1.225 / (1852 / 360000)^2, with rho0 of the
# standard atmosphere (ICAO Doc 7488) and the international knot.
_CKT2_PER_DPA = const(6169)


def is_whole(value) -> bool:
    """Whether a value from a file is a whole number: a bool is none, though Python counts it."""
    return isinstance(value, int) and not isinstance(value, bool)


def sqrt_floor(value: int) -> int:
    """The largest whole number whose square is at most value (0..2^30-1). No allocation."""
    if value < 2:
        return value
    guess = value >> 1 if value < 64 else 32768
    better = (guess + value // guess) >> 1
    while better < guess:  # Newton's iteration falls towards the root, then stops
        guess = better
        better = (guess + value // guess) >> 1
    return guess


def airspeed_ckt(q_dpa: int) -> int:
    """Equivalent airspeed in 0.01 kt for a dynamic pressure of 0..100 000 (0.1 Pa); 0 below.

    Incompressible: at 100 kt it reads 0.3 kt high. No allocation.
    """
    return sqrt_floor(q_dpa * _CKT2_PER_DPA) if q_dpa > 0 else 0
