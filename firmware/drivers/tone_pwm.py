"""Tone output: one PWM channel, loudness by the width of the pulse.

The n-th harmonic of a pulse wave of duty d has the amplitude 2/(n pi) |sin(n pi d)| (Fourier
series), so the fundamental is at its largest at d = 1/2 and has `a` eighths of that at
d = asin(a/8)/pi. The harmonics above are what the board's output filter takes away.
"""

from micropython import const

from drivers.retry import count_up

LEVEL_MOST = const(8)
_HZ_LEAST = const(20)
_HZ_MOST = const(20000)
_UNKNOWN = const(-1)
# asin(a/8)/pi * 65536 for a = 0..8, rounded; duty_u16 counts 65536 as one whole period
DUTY_U16 = (0, 2614, 5271, 8019, 10923, 14084, 17691, 22226, 32768)


class TonePwm:
    """Turns a tone request (pitch, level) into PWM settings; silent from the start.

    errors: PWM calls that raised, counted up to `retry.COUNT_MOST`.
    """

    def __init__(self, pwm) -> None:
        """pwm: anything with `freq(hz)` and `duty_u16(duty)`."""
        self.errors = 0
        self._pwm = pwm
        self._hz = _UNKNOWN
        self._duty = _UNKNOWN  # unknown: a soft reset may have left the hardware sounding
        self.silence()

    def apply(self, hz: int, level: int) -> None:
        """Sound `hz` at `level`; 0 of either is silence.

        hz: 20..20000, clamped. level: 0..8, amplitude in eighths, clamped.
        Touches the hardware only when something changes. Never raises. No allocation.
        """
        if hz <= 0 or level <= 0:
            self.silence()
            return
        hz = min(max(hz, _HZ_LEAST), _HZ_MOST)
        duty = DUTY_U16[min(level, LEVEL_MOST)]
        if hz != self._hz or self._duty <= 0:
            self._set_both(hz, duty)
        elif duty != self._duty:
            self._set_duty(duty)

    def forget(self) -> None:
        """Somebody else has used the PWM: write the next request in full. No allocation."""
        self._hz = _UNKNOWN
        self._duty = _UNKNOWN

    def silence(self) -> None:
        """No sound; retried at the next call if the hardware refused. No allocation."""
        if self._duty != 0:
            self._set_duty(0)

    def _set_both(self, hz: int, duty: int) -> None:
        """Pitch first, then the duty at once: some ports let the duty drift when the frequency
        alone is set, as far as silence. Out of a silence the pitch changes at zero duty, so the
        divider steps unheard."""
        try:
            self._pwm.freq(hz)
            self._pwm.duty_u16(duty)
            self._hz = hz
            self._duty = duty
        except Exception:
            self._refused()

    def _set_duty(self, duty: int) -> None:
        try:
            self._pwm.duty_u16(duty)
            self._duty = duty
        except Exception:
            self._refused()

    def _refused(self) -> None:
        self._duty = _UNKNOWN  # so the next request, or silence, is written in full
        self.errors = count_up(self.errors)
