"""The puff test: a gentle breath towards one port after another, and what both channels did."""

from micropython import const

from alula.ground_check.steps import (
    ASK_PORT,
    NO_NEWS,
    RIGHT,
    SILENT,
    TAKEN,
    TOO_STRONG,
    UNSTILL,
    WRONG,
)
from alula.ground_check.wiring import Wiring

LEAST_DPA = const(150)  # 15 Pa: the breath of a hand's breadth away (estimated, no source)
MOST_DPA = const(1000)  # 100 Pa: far below any sensor's limit, and 27 ft on an altimeter
STEPS = const(6)  # or so many steps of the sensor, if that is more
STILL_MS = const(500)
ENDED_MS = const(300)
LONGEST_MS = const(3000)
PATIENCE_MS = const(20000)
_STILL, _WAIT, _PUFF, _SEARCH = const(0), const(1), const(2), const(3)


class PuffTest:
    """port: which one is asked for; wiring: what was found, once RIGHT or WRONG."""

    def __init__(self, settings, pitot_step_dpa: int, angled_step_dpa: int) -> None:
        self.wiring = Wiring(settings.plumbing)
        self.least_dpa = max(LEAST_DPA, STEPS * pitot_step_dpa, STEPS * angled_step_dpa)
        self.most_dpa = max(2 * self.least_dpa, min(MOST_DPA, settings.flying_q_dpa * 3 // 4))
        self.begin()

    def begin(self) -> None:
        """From the first port. No allocation."""
        self.port = 0
        self._go(_STILL)
        self._base_pitot = self._base_angled = 0
        self._peak_pitot = self._peak_angled = 0

    def _go(self, stage: int) -> None:
        self._stage = stage
        self._spent_ms = 0
        self._quiet_ms = 0

    def step(self, dt_ms: int, pitot_dpa: int, angled_dpa: int) -> int:
        """What is new, see `steps`. No allocation."""
        self._spent_ms += dt_ms
        stage = self._stage
        if stage == _SEARCH:
            if not self.wiring.search():
                return NO_NEWS
            self.port = 0
            self._go(_STILL)
            return RIGHT if self.wiring.mistakes == 0 else WRONG
        pitot = pitot_dpa - self._base_pitot
        angled = angled_dpa - self._base_angled
        larger = max(pitot, -pitot, angled, -angled)
        if stage == _STILL:
            return self._await_stillness(dt_ms, pitot_dpa, angled_dpa, larger)
        if stage == _WAIT:
            if larger >= self.least_dpa:
                self._peak_pitot = self._peak_angled = 0
                self._go(_PUFF)
            elif self._spent_ms >= PATIENCE_MS:
                return self._answer(0, 0, SILENT)
            return NO_NEWS
        return self._feel(dt_ms, pitot, angled, larger)

    def _await_stillness(self, dt_ms: int, pitot_dpa: int, angled_dpa: int, larger: int) -> int:
        self._quiet_ms += dt_ms
        if larger > self.least_dpa // 3 or self._quiet_ms == dt_ms:
            self._base_pitot, self._base_angled = pitot_dpa, angled_dpa
            self._quiet_ms = 0 if larger > self.least_dpa // 3 else self._quiet_ms
        elif self._quiet_ms >= STILL_MS:
            self._go(_WAIT)
            return ASK_PORT
        if self._spent_ms >= PATIENCE_MS:
            self._spent_ms = 0
            return UNSTILL
        return NO_NEWS

    def _feel(self, dt_ms: int, pitot: int, angled: int, larger: int) -> int:
        """While the breath lasts: the farthest that each channel went."""
        if abs(pitot) > abs(self._peak_pitot):
            self._peak_pitot = pitot
        if abs(angled) > abs(self._peak_angled):
            self._peak_angled = angled
        self._quiet_ms = self._quiet_ms + dt_ms if larger < self.least_dpa // 2 else 0
        if self._quiet_ms < ENDED_MS and self._spent_ms < LONGEST_MS:
            return NO_NEWS
        most = max(abs(self._peak_pitot), abs(self._peak_angled))
        if most > self.most_dpa:
            self._go(_STILL)
            return TOO_STRONG
        return self._answer(self._sign(self._peak_pitot, most),
                            self._sign(self._peak_angled, most), TAKEN)

    def _sign(self, peak: int, most: int) -> int:
        """1, 2 for -1, or 0 where the channel moved less than a quarter as far as the other."""
        if 4 * abs(peak) < most or 2 * abs(peak) < self.least_dpa:
            return 0
        return 1 if peak > 0 else 2

    def _answer(self, pitot: int, angled: int, news: int) -> int:
        seen = self.wiring.seen
        seen[2 * self.port] = pitot
        seen[2 * self.port + 1] = angled
        self.port += 1
        if self.port < self.wiring.ports:
            self._go(_STILL)
        else:
            self.port -= 1
            self.wiring.begin()
            self._go(_SEARCH)
        return news
