"""Steps that no aeroplane can fly: water in a line, a transmitter, a hose that comes off.

Severe turbulence, a sharp gust and an abrupt pull-up move either pressure by less than a sixth of
the dynamic pressure within 20 ms (one angled port; by a quarter where the angled sensor feels two
ports), in the independent flights and in simulated ones. What moves further has stepped.

A step makes the channel doubtful until the steps add up to nothing again: what is added to a
pressure and taken away later leaves the flight in between out of the sum, however long it was.
Steps that keep coming make it doubtful until they have stopped for a while. A step that stays is
believed after `jump_clear_ms`, but not on an angled line that has fallen to zero: that is a hose.
Sources: field cases of water in pitot lines and of sensors upset by a transmission.
"""

from micropython import const

from alula.conditioning import Channel
from alula.settings import Settings

_SPAN_MS = const(20)
_LOOK_MS = const(15)
_GAP_MS = const(100)
_MANY = const(5)
_STOPPED_MS = const(5000)
_NEAR_ZERO_DPA = const(40)
_SUM_MOST_DPA = const(200000)
_TIME_MOST_MS = const(600000)


class _Steps:
    """off: the pressure has stepped away, and not back."""

    def __init__(self, clear_ms: int, never_zero: bool) -> None:
        self._clear_ms = clear_ms
        self._never_zero = never_zero
        self.restart()

    def restart(self) -> None:
        """Forget everything. No allocation."""
        self.off = False
        self._known = False
        self._last = 0
        self._moving = False
        self._base = 0
        self._sum = 0
        self._count = 0
        self._calm_ms = _TIME_MOST_MS

    def gap(self) -> None:
        """Values before and after a gap are not compared. No allocation."""
        self._known = False
        self._moving = False

    def leaps(self, dpa: int, limit_dpa: int) -> bool:
        """A step so large that it must be looked at before it is used. No allocation."""
        return self._known and not -limit_dpa <= dpa - self._last <= limit_dpa

    def step(self, spent_ms: int, dpa: int, limit_dpa: int) -> None:
        """A despiked pressure, spent_ms after the one before. No allocation."""
        before = self._last
        self._last = dpa
        if not self._known:
            self._known = True
            return
        limit = limit_dpa if spent_ms <= _SPAN_MS else limit_dpa * spent_ms // _SPAN_MS
        if self._calm_ms < _TIME_MOST_MS:
            self._calm_ms += spent_ms
        if not -limit <= dpa - before <= limit:
            if not self._moving:
                self._begin(before)
        elif self._moving:
            self._moving = False
            self._sum = max(-_SUM_MOST_DPA, min(_SUM_MOST_DPA, self._sum + dpa - self._base))
        elif self.off:
            self._judge(dpa, limit_dpa)

    def _begin(self, before: int) -> None:
        self._count = 1 if self._calm_ms > 2 * _STOPPED_MS else self._count + 1
        self._base = before
        self._moving = self.off = True
        self._calm_ms = 0

    def _judge(self, dpa: int, limit_dpa: int) -> None:
        """Whether the pressure may be believed again."""
        back = -limit_dpa <= self._sum <= limit_dpa
        if back and (self._count < _MANY or self._calm_ms >= _STOPPED_MS):
            self.off = False
        elif self._calm_ms >= self._clear_ms:
            self.off = self._never_zero and -_NEAR_ZERO_DPA < dpa < _NEAR_ZERO_DPA
        if not self.off:
            self._sum = 0


class JumpWatch:
    """off: a step has made the pressures doubtful; which: 0 pitot, 1 angled, 2 both."""

    def __init__(self, settings: Settings) -> None:
        self.off = False
        self.which = 0
        self._least_dpa = settings.jump_dpa
        self._share_pm = settings.jump_pm
        self._two_ports = settings.word("plumbing") != "port-static"
        self._pitot = _Steps(settings.jump_clear_ms, False)
        self._angled = _Steps(settings.jump_clear_ms, True)
        self._q_dpa = 0
        self._pitot_limit_dpa = self._angled_limit_dpa = _SUM_MOST_DPA
        self._spent_ms = 0
        self._gaps = 0

    def restart(self) -> None:
        """Not in flight: nothing that was is held against the channels. No allocation."""
        self.off = False
        self._pitot.restart()
        self._angled.restart()

    def step(self, dt_ms: int, pitot: Channel, angled: Channel) -> None:
        """Look at both channels every 20 ms or so, and at once at a leap, before it is used.

        Once a doubt is over, both seed anew. No allocation.
        """
        self._spent_ms += dt_ms
        first, second = self._pitot, self._angled
        if self._spent_ms < _LOOK_MS and not (
                first.leaps(pitot.middle_dpa, self._pitot_limit_dpa)
                or second.leaps(angled.middle_dpa, self._angled_limit_dpa)):
            return
        spent_ms = self._spent_ms
        self._spent_ms = 0
        if not pitot.seeded or not angled.seeded:
            first.gap()
            second.gap()
            return
        if not first.off and pitot.ready:
            self._q_dpa = pitot.dpa
        limit = self._q_dpa * self._share_pm // 1000
        if limit < self._least_dpa:
            limit = self._least_dpa
        self._pitot_limit_dpa = limit
        self._angled_limit_dpa = limit * 5 // 3 if self._two_ports else limit
        if spent_ms >= _GAP_MS:
            self._gaps = 2  # the loop was held up; the median shows it one sample later
        if self._gaps:
            self._gaps -= 1
            first.gap()
            second.gap()
        first.step(spent_ms, pitot.middle_dpa, limit)
        second.step(spent_ms, angled.middle_dpa, self._angled_limit_dpa)
        off = first.off or second.off
        if off:
            self.which = (2 if second.off else 0) if first.off else 1
        elif self.off:
            pitot.clear()
            angled.clear()
        self.off = off
