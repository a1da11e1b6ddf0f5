"""What the capture's tests share: a stall in whole numbers, tick by tick, and a unit to fly it.

Runs in both interpreters: firmware and bench only.

The wing: its ratio x (1/10 000) is the angle of attack. Lift u (per mille of its peak) is
straight, (x + 1000) * 2 / 15, up to x = 5000; from there a parabola takes off
(x - 5000)^2 / 45 000, so that u is flat at its peak, 1000 at x = 8000; beyond, 100 are lost for
each 1000 of x.
"""

from alula.sample import FRESH, NOT_FITTED, Sample
from alula.unit import Unit
from tests.both.core_rig import settings_with

STALL_BP = 8000
STALL_Q_DPA = 3000
STALL_CKT = 4302  # sqrt(2 q / rho0) at 300 Pa: 22.13 m/s, 43.02 kt
STEADY, SLOW, HELD, DOWN = 0, 1, 2, 3  # phases of a run


def lift_pm(x):
    """u of the wing at a ratio."""
    u = (x + 1000) * 2 // 15
    if x > STALL_BP:
        return 1000 - (x - STALL_BP) // 10
    if x > 5000:
        u -= (x - 5000) * (x - 5000) // 45000
    return u


def stall_run(rate_ckts=100, hold_bp=500, start_pm=1500, mush=False):
    """Ticks of 10 ms: (phase, q_dpa, ratio_bp, n_mg); steady, slow, held past the stall, down.

    start_pm: speed at the start over stalling speed. mush: lift stays at its peak beyond.
    """
    rows = []
    v_cckt = STALL_CKT * start_pm // 10  # 0.0001 kt
    x, phase, left = 0, STEADY, 400
    while phase != DOWN or left:
        q = STALL_Q_DPA * (v_cckt // 100) * (v_cckt // 100) // (STALL_CKT * STALL_CKT)
        u = 1000 if mush and x > STALL_BP else lift_pm(x)
        if phase == DOWN:
            x = max(2000, x - 30)
            v_cckt += 150
            left -= 1
        else:
            if phase != STEADY:
                v_cckt -= rate_ckts
            if phase == HELD:
                x += 10
            while x < STALL_BP and lift_pm(x) * q < 1000 * STALL_Q_DPA:
                x += 1
            u = 1000 if mush and x > STALL_BP else lift_pm(x)
            if phase == STEADY:
                left -= 1
                if not left:
                    phase = SLOW
            elif phase == SLOW and x >= STALL_BP:
                phase = HELD
            elif phase == HELD and x >= STALL_BP + hold_bp:
                phase, left = DOWN, 600
        rows.append((phase, q, x, u * q // STALL_Q_DPA))
    return rows


RUN = stall_run()


class CaptureRig:
    """A unit that is flown through runs. figures: (ms, figure) of everything announced."""

    def __init__(self, curves=None, zero=(0, 0), with_n=True, **changes) -> None:
        changes.setdefault("flying_q_dpa", 2700)
        self.unit = Unit(settings_with(**changes), curves, zero)
        self.sample = Sample()
        self.sample.flap = -1
        self.sample.nz_status = FRESH if with_n else NOT_FITTED
        self.now_ms = 0
        self.figures = []
        self.heard = []  # (ms, state, level, hz)
        self._inner = self.unit.voice.announce
        self.unit.voice.announce = self._announce

    def _announce(self, figure) -> None:
        self.figures.append((self.now_ms, figure))
        self._inner(figure)

    def tick(self, q, x, n_mg=1000, button=0, pitot=FRESH) -> None:
        """One tick at a dynamic pressure, a ratio and a load factor."""
        sample = self.sample
        sample.pitot_status, sample.pitot_word = pitot, q
        sample.angled_status, sample.angled_word = FRESH, x * q // 10000
        sample.nz_mg, sample.button = n_mg, button
        self.unit.tick(self.now_ms, sample)
        voice = self.unit.voice
        self.heard.append((self.now_ms, self.unit.state, voice.level,
                           voice.hz if voice.level else 0))
        self.now_ms += 10

    def cruise(self, ms=10, button=0, q=6749, pitot=FRESH) -> None:
        """1.5 times the stalling speed, steadily."""
        for _ in range(0, ms, 10):
            self.tick(q, 2330, button=button, pitot=pitot)

    def long_press(self) -> None:
        """As a pilot does it: held for 1.6 s, then let go."""
        self.cruise(1600, button=1)
        self.cruise(200)

    def short_press(self) -> None:
        self.cruise(200, button=1)
        self.cruise(200)

    def armed(self):
        """Switched on in flight, everything said, armed; returns itself."""
        self.cruise(2500)
        self.long_press()
        return self

    def fly(self, rows=RUN, until=None) -> None:
        """Fly the ticks of a run; with `until`, only while that is False."""
        for _, q, x, n in rows:
            if until is not None and until():
                return
            self.tick(q, x, n)

    def said(self) -> list:
        return [figure for _, figure in self.figures]


def rig_at(state, **kwargs):
    """A rig whose capture is in a state."""
    rig = CaptureRig(**kwargs).armed()
    for _ in range(4):
        rig.fly(until=lambda: rig.unit.capture.state == state)
    assert rig.unit.capture.state == state
    return rig
