"""Sixteen bits that stand for what the unit did in some ticks beyond its state.

`digest = (digest * 251 + value) mod 2^16` over six values a tick, beginning at 0. 251 is odd, so
one changed value always changes the digest.
"""

import micropython
from micropython import const

UNKNOWN = 0x8000  # stands for a ratio or lift that the unit does not know
_UNKNOWN = const(0x8000)
_FACTOR = const(251)
_MASK = const(0xFFFF)


class LogDigest:
    """value: the digest of the `count` ticks since `clear`."""

    def __init__(self) -> None:
        self.value = 0
        self.count = 0

    def clear(self) -> None:
        """Begin anew. No allocation."""
        self.value = 0
        self.count = 0

    @micropython.native
    def take(self, unit) -> None:
        """Add a tick of the unit: pitch, level, lamp, ratio, lift, pulse rate. No allocation;
        every product stays below 2^24."""
        voice = unit.voice
        value = self.value * _FACTOR + voice.hz & _MASK
        value = value * _FACTOR + voice.level & _MASK
        value = value * _FACTOR + (1 if unit.lamp.on else 0) & _MASK
        value = value * _FACTOR + ((unit.ratio_bp & _MASK) if unit.ratio_known
                                   else _UNKNOWN) & _MASK
        value = value * _FACTOR + (unit.lift_pm if unit.lift_known else _UNKNOWN) & _MASK
        self.value = value * _FACTOR + unit.pulse_millihz & _MASK
        self.count += 1
