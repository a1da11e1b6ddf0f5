"""What the calibration says cannot be, with both pressures alive.

- outside: for seconds the ratio is far below any that carries the aeroplane, or far past the stall
  at a speed at which the wing cannot be stalled for so long; or for `balance_ms`, between 1.2 and
  2 times the slowest stalling speed, the wing carries less than 0.6 of the least weight there is.
  Swapped hoses, a line that is open.
- unbalanced (needs the accelerometer): lift share times dynamic pressure over load factor is the
  weight over the wing's greatest lift. It is learned in the first seconds past the take-off in
  which it can be measured, and then changes with the fuel only. Where it moves by more than the
  limit, one of the pressures has lost its scale: ice, a leak, a hose. A new flap setting is
  learned anew; what was unbalanced before stays so, with nothing left to compare. Slower than
  1.05 times the stalling speed that follows from it, the wheels may carry the aeroplane.

Definition of lift coefficient, n W = q S CL; no other source.
"""

from micropython import const

from alula.lift_curve import LIFT_MOST_PM, LiftCurve
from alula.sample import FRESH, STALE, Sample
from alula.settings import Settings

NOTHING = const(0)
OUTSIDE = const(1)
UNBALANCED = const(2)
_BLOCK_MS = const(1000)
_LEARN = const(8)  # blocks
_LIFT_LOW_PM = const(200)
_LIFT_HIGH_PM = const(850)
_N_LEAST_MG = const(500)
_STUCK_MS = const(1000)
_BACK_MS = const(1000)
_Q_STALL = const(8)  # q at a stall with 1 g is eight of the weight's units
_SHIFT = const(9)  # the weight follows with 2^9 blocks, about nine minutes


class CurveWatch:
    """found: NOTHING or what cannot be."""

    def __init__(self, settings: Settings) -> None:
        self.found = NOTHING
        self._outside_ms = settings.outside_ms
        self._fast_q_dpa = settings.flying_q_dpa * 3 // 2
        self._least_carried = settings.flying_q_dpa * 600 >> 4
        self._light_ms = 0
        self._limit_pm = settings.balance_pm
        self._balance_ms = settings.balance_ms
        self._out_ms = 0
        self._in_ms = 0
        self._outside = False
        self._weigh = _Weight()
        self._off_ms = 0
        self._unbalanced = False
        self._latched = False
        self._curve: LiftCurve | None = None

    def restart(self) -> None:
        """After a gap or on the ground; the weight learned stays. No allocation."""
        self.found = NOTHING
        self._out_ms = self._in_ms = self._off_ms = self._light_ms = 0
        self._outside = self._unbalanced = self._latched = False
        self._weigh.restart_block()

    def land(self) -> None:
        """On the ground: the next flight may have another weight. No allocation."""
        self.restart()
        self._weigh.forget()

    def step(self, dt_ms: int, curve: LiftCurve, ratio_bp: int, lift_pm: int, q_dpa: int,
             sample: Sample, aloft: bool) -> None:
        """Judge a tick of flight. aloft: past the take-off. No allocation."""
        if curve is not self._curve:
            self._curve = curve
            self._weigh.forget()
            self._latched = self._unbalanced
        self._step_outside(dt_ms, self._light(dt_ms, lift_pm, q_dpa)
                           or ratio_bp < curve.floor_bp
                           or lift_pm >= LIFT_MOST_PM and q_dpa >= self._fast_q_dpa)
        if 10 * q_dpa < 11 * _Q_STALL * self._weigh.usual:
            self._off_ms = 0
            self._weigh.restart_block()
        elif aloft and self._weigh.step(dt_ms, lift_pm, q_dpa, sample):
            self._step_balance()
        self.found = (OUTSIDE if self._outside else
                      UNBALANCED if self._unbalanced else NOTHING)

    def _light(self, dt_ms: int, lift_pm: int, q_dpa: int) -> bool:
        """Whether the wing has carried too little for long, and has not been seen to carry since.

        q at the slowest stall is 1.1 flying_q_dpa.
        """
        fast_dpa = self._fast_q_dpa
        found = self._light_ms >= self._balance_ms
        if not fast_dpa <= q_dpa <= fast_dpa * 8 // 3:
            if not found:
                self._light_ms = 0
        elif lift_pm * (q_dpa >> 4) >= self._least_carried:
            self._light_ms = 0
        elif not found:
            self._light_ms += dt_ms
        return found

    def _step_outside(self, dt_ms: int, out: bool) -> None:
        if out:
            self._in_ms = 0
            if self._out_ms < self._outside_ms:
                self._out_ms += dt_ms
            else:
                self._outside = True
            return
        self._out_ms = 0
        if self._outside:
            self._in_ms += dt_ms
            self._outside = self._in_ms < _BACK_MS

    def _step_balance(self) -> None:
        """A block of the weight is complete."""
        weigh = self._weigh
        limit = weigh.usual * self._limit_pm // 1000
        if -limit <= weigh.now - weigh.usual <= limit:
            self._off_ms = 0
            self._unbalanced = self._latched
            weigh.follow()
        else:
            self._off_ms += _BLOCK_MS
            if self._off_ms >= self._balance_ms:
                self._off_ms = self._balance_ms
                self._unbalanced = True


class _Weight:
    """Lift share times dynamic pressure over load factor, in a scale of its own.

    now: mean of the last complete block; usual: what was learned, 0 until then.
    """

    def __init__(self) -> None:
        self._nz_mg = 0
        self._same_ms = 0
        self.forget()

    def forget(self) -> None:
        self.now = 0
        self.usual = 0
        self._usual_fine = 0
        self._learned = 0
        self.restart_block()

    def restart_block(self) -> None:
        self._spent_ms = 0
        self._lift_q = 0
        self._n = 0

    def step(self, dt_ms: int, lift_pm: int, q_dpa: int, sample: Sample) -> bool:
        """True where a block is complete that can be compared with what is usual."""
        nz_mg = sample.nz_mg
        if nz_mg != self._nz_mg:
            self._nz_mg = nz_mg
            self._same_ms = 0
        elif self._same_ms < _STUCK_MS:
            self._same_ms += dt_ms
        if (sample.nz_status != FRESH and sample.nz_status != STALE or nz_mg < _N_LEAST_MG
                or self._same_ms >= _STUCK_MS or not _LIFT_LOW_PM <= lift_pm <= _LIFT_HIGH_PM):
            self.restart_block()
            return False
        # Products stay below 2^23, the sums of a block (even of 200 looks) below 2^25.
        self._lift_q += lift_pm * (q_dpa >> 4) >> 6
        self._n += nz_mg
        self._spent_ms += dt_ms
        if self._spent_ms < _BLOCK_MS:
            return False
        return self._close()

    def _close(self) -> bool:
        self.now = self._lift_q // (self._n >> 7)
        self.restart_block()
        if self._learned < _LEARN:
            self._learned += 1
            self._usual_fine += self.now * (1 << _SHIFT) // _LEARN
            self.usual = self._usual_fine >> _SHIFT if self._learned == _LEARN else 0
            return False
        return True

    def follow(self) -> None:
        """Fuel burns slowly."""
        self._usual_fine += self.now - self.usual
        self.usual = self._usual_fine >> _SHIFT
