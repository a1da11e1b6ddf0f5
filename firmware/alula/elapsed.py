"""Elapsed time between two counters that wrap at 2^30 ms, as MicroPython's `ticks_ms` does."""

from micropython import const

_MASK = const(0x3FFFFFFF)
_HALF = const(0x1FFFFFFF)


def since_ms(now_ms: int, then_ms: int) -> int:
    """Milliseconds from `then_ms` to `now_ms`, both 0..2^30-1; negative if `now_ms` is earlier.

    Right for distances up to 2^29 ms (6.2 days). The subtraction stays within 31 bits: 2^30
    itself is no small integer on the board, so the wrap is taken off in two steps. No allocation.
    """
    distance = (now_ms - then_ms) & _MASK
    if distance > _HALF:
        distance = distance - _MASK - 1
    return distance
