"""The sound's own heartbeat: when the loop stops, a timer turns the tone to the fault sound.

The timer's callback runs in the interrupt, so a Python loop that never ends, or a call that does
not come back, cannot hold it up. An erase of the flash stops interrupts too, for tens of
milliseconds; that is shorter than the limit.
"""

from micropython import const

PERIOD_MS = const(50)  # of the timer
LIMIT_MS = const(600)  # a loop that has been silent for longer has stopped
_FULL = const(32768)
_HIGH_HZ, _LOW_HZ = const(900), const(600)  # the falling pair of `alula.figures`
_LOW_AT, _REST_AT, _AGAIN_AT = const(4), const(10), const(40)  # in timer periods
_COUNT_MOST = const(100000)


class Heartbeat:
    """Shares the PWM with a `TonePwm`, which it tells to write anew once the loop is back.

    taken: the timer has the tone now. losses: how often it took it.
    """

    def __init__(self, pwm, tone) -> None:
        """pwm: `freq(hz)`, `duty_u16(duty)`. tone: `forget()`."""
        self.taken = False
        self.losses = 0
        self._pwm = pwm
        self._tone = tone
        self._periods = 0

    def beat(self) -> None:
        """The loop is alive. No allocation."""
        self._periods = 0
        if self.taken:
            self.taken = False
            self._tone.forget()

    def tick(self, timer=None) -> None:
        """Once a timer period, from the interrupt. Never raises. No allocation."""
        if self._periods < _COUNT_MOST:
            self._periods += 1
        late = self._periods - LIMIT_MS // PERIOD_MS
        if late < 0:
            return
        if not self.taken:
            self.taken = True
            self.losses += 1
        at = late % _AGAIN_AT
        try:
            if at == 0:
                self._pwm.freq(_HIGH_HZ)
                self._pwm.duty_u16(_FULL)
            elif at == _LOW_AT:
                self._pwm.freq(_LOW_HZ)
                self._pwm.duty_u16(_FULL)
            elif at == _REST_AT:
                self._pwm.duty_u16(0)
        except Exception:
            pass
