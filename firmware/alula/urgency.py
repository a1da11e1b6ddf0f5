"""Pulse rates that make perceived urgency climb in equal steps. Runs at start-up; may allocate.

Perceived urgency grows as a power of pulse speed (Stevens' law; the exponent 1.35 for speed is
from Hellier, Edworthy and Dennis 1993, from memory, and is a setting). For urgency to be linear
in lift the rate must follow r(x) = (r0^e + x (r1^e - r0^e))^(1/e), x from 0 to 1.

Powers are taken through integer logarithms to base 2, not floats: a board's single precision and
a desk's double would make two different tables, and a replay would not be what was heard.
"""

from array import array

STEPS = 32
BITS = 20  # fraction bits of the logarithms
_ONE = 1 << 30  # 1.0 of the mantissas


def log2_fixed(value: int) -> int:
    """log2 of a whole number >= 1, scaled by 2^20, floored (within 2 of the exact value)."""
    whole = 0
    while value >> (whole + 1):
        whole += 1
    mantissa = (value << 30) >> whole  # 1.0 <= mantissa < 2.0
    result = whole
    for _ in range(BITS):
        mantissa = (mantissa * mantissa) >> 30
        result <<= 1
        if mantissa >> 31:
            mantissa >>= 1
            result += 1
    return result


def exp2_rounded(power: int, roots: list) -> int:
    """2 to a power that is scaled by 2^20 (power >= 0), rounded; relative error below 2e-6.

    roots: from `roots_of_two`.
    """
    mantissa = _ONE
    for k in range(BITS):
        if (power >> (BITS - 1 - k)) & 1:
            mantissa = (mantissa * roots[k]) >> 30
    whole = power >> BITS
    return ((mantissa << whole) + (_ONE >> 1)) >> 30


def roots_of_two() -> list:
    """2^(1/2), 2^(1/4), ... scaled by 2^30: BITS numbers, each the root of the one before."""
    roots = []
    square = 2 * _ONE
    for _ in range(BITS):
        guess = square
        better = (guess + (square << 30) // guess) >> 1
        while better < guess:  # Newton's iteration falls towards the root, then stops
            guess = better
            better = (guess + (square << 30) // guess) >> 1
        roots.append(guess)
        square = guess
    return roots


def pulse_rates(low_millihz: int, high_millihz: int, exponent_pm: int) -> array:
    """STEPS + 1 pulse rates, 1/1000 Hz, from low to high, equal steps of urgency apart."""
    roots = roots_of_two()
    base = log2_fixed(low_millihz)
    # Urgency of the high end, where that of the low end is 2^20.
    top = exp2_rounded(
        (log2_fixed(high_millihz) - base) * exponent_pm // 1000 + (20 << BITS), roots)
    rates = array("i", [0] * (STEPS + 1))
    for i in range(STEPS + 1):
        urgency = (1 << 20) + (top - (1 << 20)) * i // STEPS
        power = (log2_fixed(urgency) - (20 << BITS)) * 1000 // exponent_pm
        rates[i] = exp2_rounded(power + base, roots)
    rates[0], rates[STEPS] = low_millihz, high_millihz
    return rates
