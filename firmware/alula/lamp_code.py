"""The lamp: steady with the warble, in step with the pulses, blinks that name a fault."""

from micropython import const

from alula.health import lamp_blinks
from alula.states import FAULT, PRESSING, STALLING, UNCALIBRATED

_ON_MS = const(150)
_BLINK_MS = const(400)
_PAUSE_MS = const(1400)
_EVEN_MS = const(1000)  # half a second on, half a second off: a capture is under way


class LampCode:
    """on: whether the lamp should be lit in this tick."""

    def __init__(self) -> None:
        self.on = False
        self._phase_ms = 0

    def step(self, dt_ms: int, state: int, code: int, level: int, capturing: bool) -> None:
        """state, code: of the unit and its health. level: of the tone. No allocation."""
        if PRESSING <= state <= STALLING:
            self._phase_ms = 0
            self.on = state == STALLING or level > 0
        elif capturing and state != FAULT:
            self._phase_ms = (self._phase_ms + dt_ms) % _EVEN_MS
            self.on = self._phase_ms < _EVEN_MS >> 1
        elif FAULT <= state <= UNCALIBRATED:
            self._blink(dt_ms, lamp_blinks(code))
        else:
            self._phase_ms = 0
            self.on = False

    def guide(self, dt_ms: int, blinks: int) -> None:
        """During a check: so many blinks and a pause; 0 flashes evenly, -1 is lit, -2 dark. No
        allocation."""
        if blinks > 0:
            self._blink(dt_ms, blinks)
            return
        self._phase_ms = (self._phase_ms + dt_ms) % _EVEN_MS
        self.on = blinks == -1 or blinks == 0 and self._phase_ms < _EVEN_MS >> 1

    def _blink(self, dt_ms: int, blinks: int) -> None:
        phase = self._phase_ms + dt_ms
        if phase >= blinks * _BLINK_MS + _PAUSE_MS:
            phase = 0
        self._phase_ms = phase
        self.on = phase < blinks * _BLINK_MS and phase % _BLINK_MS < _ON_MS
