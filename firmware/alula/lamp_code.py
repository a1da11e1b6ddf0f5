"""The lamp: steady with the warble, in step with the pulses, blinks that name a fault."""

from micropython import const

from alula.health import lamp_blinks
from alula.states import FAULT, PRESSING, STALLING

_ON_MS = const(150)
_BLINK_MS = const(400)
_PAUSE_MS = const(1400)


class LampCode:
    """on: whether the lamp should be lit in this tick."""

    def __init__(self) -> None:
        self.on = False
        self._phase_ms = 0

    def step(self, dt_ms: int, state: int, code: int, level: int) -> None:
        """state, code: of the unit and its health. level: of the tone. No allocation."""
        if state >= FAULT:
            blinks = lamp_blinks(code)
            phase = self._phase_ms + dt_ms
            if phase >= blinks * _BLINK_MS + _PAUSE_MS:
                phase = 0
            self._phase_ms = phase
            self.on = phase < blinks * _BLINK_MS and phase % _BLINK_MS < _ON_MS
        else:
            self._phase_ms = 0
            self.on = state == STALLING or state == PRESSING and level > 0
