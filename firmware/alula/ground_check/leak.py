"""The leak check of one line: a step of pressure, then how much is lost in a minute.

A pressure of some hundred pascals on the pitot or suction on the static line looks like flight to
the unit. `excused` says that it is not, and is therefore given grudgingly: only from a quick step
out of stillness, which no take-off makes, and only as long as the pressure does not rise and the
other channel does what this test must do to it. All else ends it, and the unit judges as ever.
"""

from micropython import const

from alula.ground_check.steps import (
    GIVEN_UP,
    HOLDING,
    LEAK_PITOT,
    LEAK_RESULT,
    LEAK_STATIC,
    LET_GO,
    NO_NEWS,
    NOT_A_TEST,
    OTHER_MOVES,
    TOO_MUCH,
)
from alula.ground_check.wiring import EXPECTED

LEAST_DPA, MOST_DPA = const(5000), const(15000)  # 500 to 1500 Pa: 56 to 96 kt
BEGUN_DPA = const(300)
STILL_MS = const(1000)  # so long below that, before a step counts as one
QUICK_MS = const(1000)  # from BEGUN_DPA to flying_q_dpa: 0.8 g would not do it on wheels
RISE_MS, SETTLE_MS, HOLD_MS, MEAN_MS = const(3000), const(5000), const(60000), const(1000)
PATIENCE_MS = const(60000)
_SLACK_DPA = const(250)
_ODD_MS = const(200)
_WAIT, _RISE, _SETTLE, _HOLD, _RELEASE, _OVER = range(6)


class LeakTest:
    """lost_pm: per mille of the pressure lost in a minute, valid after LEAK_RESULT.

    excused: this pressure is no flight. over: nothing more will come."""

    def __init__(self, settings) -> None:
        self._plumbing = settings.plumbing
        self._high_dpa = min(settings.pitot_high_dpa, settings.angled_high_dpa)
        self.least_dpa = min(LEAST_DPA, self._high_dpa * 2 // 5)
        self.most_dpa = min(MOST_DPA, self._high_dpa * 9 // 10)
        self._quick_dpa = min(settings.flying_q_dpa, self.least_dpa)
        self._quick = False
        self.excused = False
        self.over = True
        self.lost_pm = 0
        self._angled = False
        self._sign = self._factor = 1
        self._stage = _OVER
        self._spent_ms = self._odd_ms = self._still_ms = 0
        self._low_dpa = self._total = self._count = self._first_dpa = 0

    def begin(self, step: int) -> None:
        """Test the line of a step, LEAK_PITOT to LEAK_UPPER. No allocation."""
        line = step - LEAK_PITOT
        expected = EXPECTED[self._plumbing]
        way = -1 if step == LEAK_STATIC else 1  # there it is suction
        self._angled = expected[2 * line] == 0
        self._sign = way * expected[2 * line + (1 if self._angled else 0)]
        other = 0 if self._angled else way * expected[2 * line + 1]
        self._factor = self._sign * other
        self.excused = self.over = False
        self.lost_pm = 0
        self._still_ms = 0
        self._go(_WAIT)

    def leave(self) -> None:
        """No more excuse. No allocation."""
        self.excused = False
        self.over = True
        self._stage = _OVER

    def _go(self, stage: int) -> None:
        self._stage = stage
        self._spent_ms = self._odd_ms = 0
        self._total = self._count = 0

    def step(self, dt_ms: int, pitot_dpa: int, angled_dpa: int) -> int:
        """What is new, see `steps`. No allocation."""
        self._spent_ms += dt_ms
        value = self._sign * (angled_dpa if self._angled else pitot_dpa)
        other = pitot_dpa if self._angled else angled_dpa
        stage = self._stage
        if stage == _WAIT:
            return self._await(dt_ms, value)
        if stage == _OVER:
            return NO_NEWS
        if self._is_odd(dt_ms, value, other):
            self.leave()
            return LET_GO if stage == _RELEASE else OTHER_MOVES
        if value > self.most_dpa:
            self.leave()
            return TOO_MUCH
        if stage == _RISE:
            return self._rise(value)
        if value > self._low_dpa + (self._low_dpa >> 4) + 100:
            self.leave()
            return NOT_A_TEST
        if value < self._low_dpa:
            self._low_dpa = value
        if stage == _SETTLE:
            if self._spent_ms >= SETTLE_MS:
                self._go(_HOLD)
            return NO_NEWS
        return self._hold(value) if stage == _HOLD else self._release(value)

    def _await(self, dt_ms: int, value: int) -> int:
        """Stillness, then the beginning of a step. Without stillness no excuse is given."""
        if -BEGUN_DPA <= value <= BEGUN_DPA:
            self._still_ms += dt_ms
        elif value > 0 and self._still_ms >= STILL_MS:
            self.excused = not self._angled
            self._quick = False
            self._go(_RISE)
        else:
            self._still_ms = 0
        if self._spent_ms >= PATIENCE_MS:
            self.leave()
            return GIVEN_UP
        return NO_NEWS

    def _is_odd(self, dt_ms: int, value: int, other: int) -> bool:
        """The other channel does not do what this test must do to it."""
        off = other - self._factor * value
        slack = _SLACK_DPA + (abs(value) >> 4)
        self._odd_ms = 0 if -slack <= off <= slack else self._odd_ms + dt_ms
        return self._odd_ms > _ODD_MS

    def _rise(self, value: int) -> int:
        if value >= self._quick_dpa:
            self._quick = True
        if self._spent_ms < QUICK_MS or self._quick and self._spent_ms < RISE_MS:
            return NO_NEWS
        if not self._quick or value < self.least_dpa:
            self.leave()
            return NOT_A_TEST
        self._low_dpa = value
        self._go(_SETTLE)
        return HOLDING

    def _hold(self, value: int) -> int:
        """Mean over the first and over the last second of the minute."""
        if self._spent_ms <= MEAN_MS or self._spent_ms > HOLD_MS:
            self._total += value
            self._count += 1
        elif self._count:
            self._first_dpa = self._total // self._count
            self._total = self._count = 0
        lost = self._spent_ms > MEAN_MS and 2 * value < self._first_dpa
        if not lost and self._spent_ms < HOLD_MS + MEAN_MS:
            return NO_NEWS
        last = value if lost else self._total // max(self._count, 1)
        self.lost_pm = (self._first_dpa - last) * 1000 // max(self._first_dpa, 1)
        if lost:  # sooner than in a minute: at least this much
            self.lost_pm = 1000
        self._go(_RELEASE)
        return LEAK_RESULT

    def _release(self, value: int) -> int:
        """The excuse lasts until the pressure is let go."""
        if value >= BEGUN_DPA:
            if self._spent_ms >= PATIENCE_MS:
                self.leave()
                return NOT_A_TEST
            self._odd_ms = 0
            return NO_NEWS
        self.leave()
        return LET_GO
