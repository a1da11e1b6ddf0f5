"""Whether the aeroplane stands still: a press of the button while it rolls begins no checks.

It cannot be known for certain. A roll with the wind, slower than some 8 kt through the air, looks
like standing to the pressures; then only the accelerometer, if there is one, may feel the wheels.
"""

from micropython import const

from alula.sample import FRESH

STILL_MS = const(2000)
BLOCK_MS = const(500)
# Mean distance of the load factor from its own mean. The sensors' own noise is below 10 mg (data
# sheets), 24 in the simulated flights; wheels on grass some 100. Estimated, no source.
ROUGH_MG = const(40)


class Stillness:
    """still: for STILL_MS both pressures within `ground_q_dpa` of zero (where no zero is known:
    of where they were), and the load factor steady."""

    def __init__(self, settings, pitot, angled, zero) -> None:
        self.still = False
        self._limit_dpa = settings.ground_q_dpa
        self._pitot, self._angled, self._zero = pitot, angled, zero
        self._base_pitot = self._base_angled = 0
        self._still_ms = 0
        self._mean_mg = 1000
        self._sum_mg = self._off_mg = self._count = self._block_ms = 0

    def step(self, dt_ms: int, sample) -> None:
        """Take in one tick on the ground. No allocation."""
        pitot, angled = self._pitot, self._angled
        if not pitot.ready or not angled.ready:
            return  # a window fills anew, as after a zero: the next pressures will tell
        if self._zero.known:
            self._base_pitot = self._base_angled = 0
        limit = self._limit_dpa
        if not (-limit < pitot.dpa - self._base_pitot < limit
                and -limit < angled.dpa - self._base_angled < limit):
            self._moved(pitot.dpa, angled.dpa)
        elif self._still_ms < STILL_MS:
            self._still_ms += dt_ms
        if sample.nz_status == FRESH:
            self._sum_mg += sample.nz_mg
            self._off_mg += abs(sample.nz_mg - self._mean_mg)
            self._count += 1
        self._block_ms += dt_ms
        if self._block_ms >= BLOCK_MS:
            self._close_block(pitot.dpa, angled.dpa)
        self.still = self._still_ms >= STILL_MS

    def _moved(self, pitot_dpa: int, angled_dpa: int) -> None:
        self.still = False
        self._still_ms = 0
        self._base_pitot, self._base_angled = pitot_dpa, angled_dpa

    def _close_block(self, pitot_dpa: int, angled_dpa: int) -> None:
        """The load factor of half a second, against the mean of the half before."""
        count = self._count
        if count:
            if self._off_mg // count > ROUGH_MG:
                self._moved(pitot_dpa, angled_dpa)
            self._mean_mg = self._sum_mg // count
        self._sum_mg = self._off_mg = self._count = self._block_ms = 0
