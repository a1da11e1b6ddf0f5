"""The track of a stall run: ratio, dynamic pressure and load factor at ten points a second.

Ticks are averaged in bins of 0.1 s; what is kept is the mean of the last five bins, so every
point is a mean over half a second, and two points half a second apart make a mean over one second.

`lift` here is n/q up to a constant: in steady and in manoeuvring flight the wing's lift
coefficient is n W / (q S). Without an accelerometer n is taken as 1, which holds in steady level
flight only.
"""

from array import array

from micropython import const

BIN_MS = const(100)
POINTS = const(640)  # 64 s: the longest run that can be judged
_MEAN = const(5)
_ONE_G_MG = const(1000)
_N_MOST_MG = const(8000)
_JUMP_MG = const(1000)


class Track:
    """A ring of points. `count` points were made since the start; the latest POINTS are kept."""

    def __init__(self) -> None:
        self._q = array("i", [0] * POINTS)
        self._ratio = array("h", [0] * POINTS)
        self._n = array("h", [0] * POINTS)
        self._bins = array("i", [0] * (3 * _MEAN))
        self.clear()

    def clear(self) -> None:
        """Forget all points."""
        self.count = 0
        self.with_n = True  # every bin so far had a load factor
        self._q_total = 0
        self._ratio_total = 0
        self._n_total = 0
        self._n_count = 0
        self._n_old = self._n_good = _ONE_G_MG
        self._ticks = 0
        self._spent_ms = 0
        self._closed = 0

    def step(self, dt_ms: int, q_dpa: int, ratio_bp: int, n_mg: int, n_known: bool) -> bool:
        """Take in one tick; True when it completed a point. No allocation."""
        self._q_total += q_dpa
        self._ratio_total += ratio_bp
        if n_known:
            if n_mg > _N_MOST_MG:
                n_mg = _N_MOST_MG
            elif n_mg < -_N_MOST_MG:
                n_mg = -_N_MOST_MG
            self._n_total += self._despiked(n_mg)
            self._n_count += 1
        self._ticks += 1
        self._spent_ms += dt_ms
        if self._spent_ms < BIN_MS:
            return False
        self._spent_ms -= BIN_MS
        if self._spent_ms >= BIN_MS:
            self._spent_ms = 0
        return self._close_bin()

    def _despiked(self, n_mg: int) -> int:
        """A word more than 1 g from the one before is held off: no aeroplane does that in a
        tick, and one word of 8 g would lift a half-second mean by 15 %."""
        jump_mg = n_mg - self._n_old
        self._n_old = n_mg
        if -_JUMP_MG <= jump_mg <= _JUMP_MG:
            self._n_good = n_mg
        return self._n_good

    def _close_bin(self) -> bool:
        bins, ticks = self._bins, self._ticks
        at = self._closed % _MEAN * 3
        bins[at] = self._q_total // ticks
        bins[at + 1] = self._ratio_total // ticks
        if self._n_count:
            bins[at + 2] = self._n_total // self._n_count
        else:
            bins[at + 2] = _ONE_G_MG
            self.with_n = False
        self._q_total = self._ratio_total = self._n_total = self._n_count = self._ticks = 0
        self._closed += 1
        if self._closed < _MEAN:
            return False
        i = self.count % POINTS
        self._q[i] = self._mean(0)
        self._ratio[i] = self._mean(1)
        self._n[i] = self._mean(2)
        self.count += 1
        return True

    def _mean(self, at: int) -> int:
        bins = self._bins
        total = bins[at] + bins[at + 3] + bins[at + 6] + bins[at + 9] + bins[at + 12]
        return (total + 2) // 5

    def first(self) -> int:
        """Number of the oldest point that is still kept."""
        return self.count - POINTS if self.count > POINTS else 0

    def q_dpa(self, point: int) -> int:
        """Dynamic pressure of a point, 0.1 Pa, at least 1. No allocation."""
        q = self._q[point % POINTS]
        return q if q > 0 else 1

    def ratio_bp(self, point: int) -> int:
        """Pressure ratio of a point, 1/10 000. No allocation."""
        return self._ratio[point % POINTS]

    def n_mg(self, point: int) -> int:
        """Load factor of a point, 1/1000 g; 1000 where none was measured. No allocation."""
        return self._n[point % POINTS]

    def lift(self, point: int) -> int:
        """n/q of a point, mg per 0.1 Pa times 10 000; about 3000 at a 45 kt stall.

        |n| <= 8000, so the product stays below 2^27. No allocation.
        """
        return self.n_mg(point) * 10000 // self.q_dpa(point)

    def lift_1s(self, point: int) -> int:
        """n/q over the second before a point's end (point at least 5 after the first)."""
        n_mg = self.n_mg(point) + self.n_mg(point - _MEAN)
        return n_mg * 10000 // (self.q_dpa(point) + self.q_dpa(point - _MEAN))

    def ratio_1s(self, point: int) -> int:
        """Ratio over the same second as `lift_1s`."""
        return (self.ratio_bp(point) + self.ratio_bp(point - _MEAN)) >> 1
