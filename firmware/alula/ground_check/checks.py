"""Leads through the checks: which step comes when. On the ground only.

The unit asks `handling` and `leak.excused` before it judges pressures, and plays what `telling`
says in place of its own quiet; it calls `leave` as soon as it flies or has anything to say itself.
"""

from micropython import const

from alula.ground_check import steps
from alula.ground_check.measures import Measures
from alula.ground_check.stillness import Stillness
from alula.ground_check.telling import Telling
from alula.press import LONG

ALL = const(64)  # `begin` with the sum of this and a step goes on with those behind it
BY_HAND = const(192)  # as ALL, from a press of the button
PASS_MS, FAIL_MS = const(5000), const(15000)


class GroundCheck:
    """step: which check runs, `steps.OFF` if none. handling: somebody moves the pressures.

    telling, results: what is told, and the table so far. puff, leak, sounds: the tests themselves.
    stillness: whether the aeroplane stands; the unit feeds it on the ground while no check runs.
    """

    def __init__(self, settings, pitot, angled, zero) -> None:
        self.step = steps.OFF
        self.handling = False
        self.telling = Telling()
        self._measures = Measures(settings, pitot, angled, zero, self.telling)
        self.results = self._measures.results
        self.puff = self._measures.puff
        self.leak = self._measures.leak
        self.sounds = self._measures.sounds
        self.stillness = Stillness(settings, pitot, angled, zero)
        self._on = False
        self._spent_ms = 0

    def begin(self, code: int) -> None:
        """One step, ALL and a step to begin with, or BY_HAND: all, if the aeroplane stands. No
        allocation."""
        if code == BY_HAND and not self.stillness.still:
            self.telling.tell(steps.MOVING)
            return
        self._on = code >= ALL
        step = code - ALL if self._on else code
        if not steps.ZERO <= step <= steps.LAST or (
                step == steps.LEAK_UPPER and self.puff.wiring.ports < 4):
            step = steps.ZERO
        self._enter(step)

    def refuse(self) -> None:
        """It cannot begin now. No allocation."""
        self.telling.tell(steps.REFUSED)

    def press(self, event: int) -> None:
        """Long: end. Short: go on, or what the step makes of it. No allocation."""
        if event == LONG:
            self.end()
        elif self.step == steps.BUTTON:
            self._measures.pressed()
            self._next()
        else:
            self.go_on()

    def go_on(self) -> None:
        """Confirm what was heard or seen, skip a leak check. A puff test begins again: there is
        no way round it. What ends by itself is left to end. No allocation."""
        step = self.step
        if step == steps.PUFF:
            self._enter(step)
        elif steps.LEAK_PITOT <= step <= steps.LEAK_UPPER:
            self._measures.skip(steps.ROW_LEAK + step - steps.LEAK_PITOT)
            self._next()
        elif step == steps.SOUNDS or step == steps.LAMP:
            self._measures.confirm(step)
            self._next()
        elif step == steps.VERDICT:
            self._stop()

    def end(self) -> None:
        """The pilot has enough. No allocation."""
        if self.step != steps.OFF:
            self._stop()
            self.telling.tell(steps.ENDED)

    def leave(self) -> None:
        """The unit has something to say of its own. No allocation."""
        self._stop()
        self.telling.forget_figure()
        self.telling.tell(steps.LEFT)

    def tick(self, dt_ms: int, sample) -> None:
        """One tick of the step that runs. No allocation."""
        if self.step != steps.VERDICT:
            if self._measures.tick(self.step, dt_ms, sample):
                self._next()
            return
        self._spent_ms += dt_ms
        if self._spent_ms >= (PASS_MS if self.telling.lamp_blinks < 0 else FAIL_MS):
            self._stop()

    def _enter(self, step: int) -> None:
        self.step = step
        self.handling = steps.PUFF <= step <= steps.LEAK_UPPER
        self.telling.quiet()
        self.telling.lamp_blinks = 0
        self.telling.tell(steps.STEP_BEGINS)
        self._measures.begin(step)

    def _stop(self) -> None:
        self.leak.leave()
        self.step = steps.OFF
        self.handling = False
        self.telling.quiet()

    def _next(self) -> None:
        """The step behind this one, or the verdict."""
        step = self.step + 1
        if step == steps.LEAK_UPPER and self.puff.wiring.ports < 4:
            step += 1
        if self._on and step <= steps.LAST:
            self._enter(step)
            return
        self._stop()
        self.step = steps.VERDICT
        self._spent_ms = 0
        self.telling.conclude(self.results.first_failed())
