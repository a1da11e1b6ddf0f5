"""Noise of both sensors' raw words while nothing moves: too much, and none at all.

A limit from the data sheet's resolution: sensors of the 14-bit family resolve 12 bits of their
range (data sheets, from memory); twice that step is the most that their noise may be. A sensor
whose word never changes for five seconds is stuck, or is no sensor.
"""

from micropython import const

from alula.intmath import sqrt_floor
from alula.sample import FRESH

LENGTH_MS = const(5000)
_MOST = const(500)  # counts from the first word: a thousand squares stay within 2^30


class _Words:
    """Sums over the words of one sensor, counted from the first."""

    def __init__(self, step_dpa: int, span_dpa: int) -> None:
        self._step_dpa = step_dpa
        self.limit_dpa = max(span_dpa >> 11, 1)
        self.begin()

    def begin(self) -> None:
        self.count = self._first = self._sum = self._squares = 0
        self.moved = False

    def add(self, word: int) -> None:
        if self.count == 0:
            self._first = word
        by = min(max(word - self._first, -_MOST), _MOST)
        if by:
            self.moved = True
        self.count += 1
        self._sum += by
        self._squares += by * by

    def deviation_dpa(self) -> int:
        """Standard deviation in 0.1 Pa: of (10 x words)^2, so that a tenth of a step counts."""
        count = self.count
        if count == 0:
            return 0
        whole, part = self._squares // count, self._squares % count
        mean = self._sum * 10 // count
        square = 100 * whole + 100 * part // count - mean * mean
        return sqrt_floor(max(square, 0)) * self._step_dpa // 10


class NoiseTest:
    """pitot, angled: `deviation_dpa()`, `limit_dpa`, `fits()` once `step` has been true."""

    def __init__(self, settings, pitot_step_dpa: int, angled_step_dpa: int) -> None:
        self.pitot = _Words(pitot_step_dpa, settings.pitot_high_dpa - settings.pitot_low_dpa)
        self.angled = _Words(angled_step_dpa, settings.angled_high_dpa - settings.angled_low_dpa)
        self._spent_ms = 0
        self._least = LENGTH_MS * settings.sample_rate_hz // 4000

    def begin(self) -> None:
        """Start anew. No allocation."""
        self._spent_ms = 0
        self.pitot.begin()
        self.angled.begin()

    def step(self, dt_ms: int, sample) -> bool:
        """Take in a sample; true when there are enough. No allocation."""
        if sample.pitot_status == FRESH and self.pitot.count < 1000:
            self.pitot.add(sample.pitot_word)
        if sample.angled_status == FRESH and self.angled.count < 1000:
            self.angled.add(sample.angled_word)
        self._spent_ms += dt_ms
        return self._spent_ms >= LENGTH_MS

    def fits(self, words: _Words) -> bool:
        """Enough words, neither stuck nor noisier than the limit. No allocation."""
        return (words.count >= self._least and words.moved
                and words.deviation_dpa() <= words.limit_dpa)
