"""From the raw words of an MS5525DSO to 0.1 Pa and 0.1 degC, in integers of at most 31 bits.

Data sheet (TE MS5525DSO, by way of two open autopilots that cite it), Qn by pressure range:

    dT   = D2 - C5 * 2^Q5                   TEMP = 20.00 degC + dT * C6 / 2^Q6  (0.01 degC)
    OFF  = C2 * 2^Q2 + C4 * dT / 2^Q4       SENS = C1 * 2^Q1 + C3 * dT / 2^Q3
    P    = (D1 * SENS / 2^21 - OFF) / 2^15  (0.0001 psi)

Its products need 55 bits, and its unit is 0.7 Pa. So it is turned round here. In every range
Q1 + Q3 = Q2 + Q4 = 22, and with s = C1 + C3 * dT / 2^22 and o = C2 + C4 * dT / 2^22

    P = 2^(Q1 - 15) * (D1 * s / 2^21 - 4 * o)    for the 001DS and the 002DS.

s and o change with temperature only: they are worked out once a temperature, to 1/4096. What is
left for every pressure is one product, D1 times a gain, taken in four parts that each fit. The
result lies within 0.08 Pa of the exact formula (0.1 Pa for the 002DS); tests/laws shows both.
"""

from array import array

from micropython import const

LIMIT_DPA = 100000  # as `alula.transfer`: the unit knows no larger pressure
_LIMIT_DPA = const(100000)
# 6.894757293 (0.1 Pa in 0.0001 psi; 1 psi = 6894.757293 Pa, NIST SP 811) / 32 * 2^28
DPA_FACTOR = 57837416
_DPA_FACTOR = const(57837416)
_DT_MOST = const(4194304)  # 2^22: hundreds of degrees from 20 degC with usual coefficients
# The sensor works from -40 to 125 degC (data sheet); a word outside is none of its own.
_COLDEST_DC = const(-450)
_HOTTEST_DC = const(1300)
_HALF = const(8388608)  # middle of the 24 bits


def mul_q28(a: int, b: int) -> int:
    """floor(a * b / 2^28); -2^29 <= a < 2^29, 0 <= b < 2^26. No allocation.

    Parts: a_high * b_high < 2^27, a_high * b_low < 2^29, a_low * b_high < 2^26.
    """
    a_high, a_low = a >> 14, a & 16383
    b_high, b_low = b >> 14, b & 16383
    return a_high * b_high + ((a_high * b_low + a_low * b_high + (a_low * b_low >> 14)) >> 14)


def crc4_step(remainder: int, word: int) -> int:
    """The PROM's CRC-4 (polynomial x^4 + x + 1, in the upper bits of 16) one 16-bit word on.

    Start with 0, end with `remainder >> 12`; the low byte of the last word counts as 0 (TE
    application note AN520). No allocation.
    """
    for shift in (8, 0):
        remainder ^= (word >> shift) & 0xFF
        for _ in range(8):
            remainder <<= 1
            if remainder & 0x10000:
                remainder ^= 0x3000
            remainder &= 0xFFFF
    return remainder


class Compensation:
    """One sensor's coefficients, and what its latest temperature makes of them.

    prom: the eight words of the PROM, as read. temperature_dc: 0.1 degC.
    """

    def __init__(self, doublings: int) -> None:
        """doublings: 0 for the 001DS (+-1 psi), 1 for the 002DS (+-2 psi)."""
        self.prom = array("H", [0] * 8)
        self.temperature_dc = 0
        self._doublings = doublings
        self._remainder = 0
        self._gain_high = 0
        self._gain_low = 0
        self._base = 0

    def take(self, at: int, word: int) -> None:
        """Keep word 0 to 7 of the PROM, in this order; the CRC is carried on with each, because
        all of it at once would take as long as a tick may. No allocation."""
        if at == 0:
            self._remainder = 0
        self.prom[at] = word
        self._remainder = crc4_step(self._remainder, word if at < 7 else word & 0xFF00)

    def believable(self) -> bool:
        """Whether the eight words that were taken can be a sensor's. No allocation.

        A line that is held low reads as zeros, and their CRC is right.
        """
        prom = self.prom
        for i in range(1, 7):
            if not prom[i]:
                return False
        return self._remainder >> 12 == prom[7] & 15

    def warm_to(self, raw: int) -> bool:
        """Take in a temperature word D2, 24 bits; False, and nothing changed, where it can be no
        temperature. No allocation."""
        prom = self.prom
        dt = raw - (prom[5] << 7)  # Q5 = 7
        if not -_DT_MOST <= dt <= _DT_MOST:
            return False
        high, low = dt >> 12, dt & 4095  # |high| <= 2^10: products with 16 bits stay below 2^28
        # Q6 is 21 in the 001DS, 22 in the 002DS; nested floors give the floor of the whole
        centi = (high * prom[6] + (low * prom[6] >> 12)) >> (9 + self._doublings)
        temperature_dc = 200 + (centi + 5) // 10
        if not _COLDEST_DC <= temperature_dc <= _HOTTEST_DC:
            return False
        # s and o times 4096: at most 2^28 + 2^28
        gain = (prom[1] << 12) + (high * prom[3] << 2) + (low * prom[3] >> 10)
        base = (prom[2] << 12) + (high * prom[4] << 2) + (low * prom[4] >> 10)
        if gain <= 0:
            return False
        gain = mul_q28(gain, _DPA_FACTOR)  # 0.1 Pa a count of D1, times 2^28: below 2^27
        self._gain_high, self._gain_low = gain >> 12, gain & 4095
        # 1/16 of 0.1 Pa: the gain times half of 24 bits, less the offset
        self._base = (gain >> 1) - (mul_q28(base, _DPA_FACTOR) >> 1)
        self.temperature_dc = temperature_dc
        return True

    def pressure_dpa(self, raw: int) -> int:
        """The pressure of a word D1, 24 bits, 0.1 Pa, clamped to +-LIMIT_DPA. No allocation.

        D1 is counted from its middle: its parts are 12 bits, the upper with a sign.
        """
        raw -= _HALF
        high, low = raw >> 12, raw & 4095  # -2^11 <= high < 2^11
        gain_high, gain_low = self._gain_high, self._gain_low  # below 2^15 and 2^12
        rest = high * gain_low + low * gain_high + (low * gain_low >> 12)
        sixteenths = high * gain_high + (rest >> 12) + self._base
        doublings = self._doublings
        dpa = (sixteenths + (8 >> doublings)) >> (4 - doublings)
        if dpa > _LIMIT_DPA:
            return _LIMIT_DPA
        if dpa < -_LIMIT_DPA:
            return -_LIMIT_DPA
        return dpa
