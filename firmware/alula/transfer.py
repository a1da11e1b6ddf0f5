"""From a raw sensor word to a pressure in 0.1 Pa: the sensor's transfer function, in integers."""

import micropython
from micropython import const

LIMIT_DPA = 100000  # pressures are clamped to +-10 000 Pa, so that dpa * 10000 stays below 2^30
_LIMIT_DPA = const(100000)

# Output at the low and high end of the pressure range, in tenths of a count.
# Sources: MS4525DO data sheet (10..90 % and 5..95 % of 16383); Honeywell HSC/SSC/ABP by way of
# the Linux driver hsc030pa, which cites data sheet 50099148 (whole counts out of 2^14).
OUTPUT_TENTHS = {
    "ms4525-a": (16383, 147447),
    "ms4525-b": (8192, 155638),
    "hsc-a": (16380, 147460),
    "hsc-b": (8190, 155650),
    "hsc-c": (8190, 139260),
    "hsc-f": (6550, 154010),
}

# Sensors whose driver hands over the pressure in 0.1 Pa, and the largest they are made for: 1 and
# 2 psi, the latter past what the unit reads. The place is the number of doublings of the range.
COMPENSATED = ("ms5525-001ds", "ms5525-002ds")
COMPENSATED_MOST_DPA = (68948, LIMIT_DPA)
COMPENSATED_ADDRESSES = (118, 119)  # 0x76 and 0x77, by the level of its pin CSB


class Transfer:
    """One sensor's words to pressures.

    output: a key of OUTPUT_TENTHS; a word of COMPENSATED, or "direct", for words that are 0.1 Pa
        already.
    low_dpa, high_dpa: pressures at the ends of the sensor's range, 0.1 Pa.
    sense: +1, or -1 where the hoses sit on the sensor's ports the other way round.

    A word further outside the sensor's output band than half the band's margin is a rail: the
    sensor is over-ranged, unplugged or shorted, and its pressure is not known. A compensated one
    is further outside its range than a sixteenth of it, as with the other family's type A.
    """

    def __init__(self, output: str, low_dpa: int, high_dpa: int, sense: int) -> None:
        self.sense = sense
        span = high_dpa - low_dpa
        if output not in OUTPUT_TENTHS:
            self._whole, self._part, self._base, self._base_part = 1, 0, 0, 0
            self.rail_low, self.rail_high = -LIMIT_DPA, LIMIT_DPA
            if output in COMPENSATED:
                self.rail_low = max(low_dpa - span // 16, -LIMIT_DPA)
                self.rail_high = min(high_dpa + span // 16, LIMIT_DPA)
            self.step_dpa = 1
            return
        low_tenths, high_tenths = OUTPUT_TENTHS[output]
        width = high_tenths - low_tenths
        # Scaled by 2^14 once, here, where large integers do no harm; a tick then needs no
        # product above 2^28.
        slope = (10 * span * 16384 + width // 2) // width
        start = ((low_dpa * width - low_tenths * span) * 16384 + width // 2) // width
        self._whole, self._part = slope >> 14, slope & 16383
        self._base, self._base_part = start >> 14, (start & 16383) + 8192
        self.rail_low = low_tenths // 20
        self.rail_high = 16383 - (16383 - high_tenths // 10) // 2
        self.step_dpa = (10 * span + width - 1) // width

    @micropython.native
    def to_dpa(self, word: int) -> int:
        """The pressure of a word inside the rails, 0.1 Pa, within 1 of the exact value.

        `>>` floors; half a unit was added to the base, so this rounds. No allocation.
        """
        dpa = self._whole * word + self._base + ((self._part * word + self._base_part) >> 14)
        if self.sense < 0:
            dpa = -dpa
        if dpa > _LIMIT_DPA:
            return _LIMIT_DPA
        if dpa < -_LIMIT_DPA:
            return -_LIMIT_DPA
        return dpa
