"""The unit is not started, so that files can be copied: no watchdog runs and the prompt is free.

It must not be taken for a quiet unit: the lamp is lit and a note comes every ten seconds.
"""

from micropython import const

PERIOD_MS = const(50)  # of the timer
EVERY = const(200)  # in timer periods
LENGTH = const(3)
NOTE_HZ = const(600)
_FULL = const(32768)
LINE = "maintenance: unit not started; power off and on to fly"
kept: list = []  # what must live on when the program has ended


class Reminder:
    """Sounds the note; called by a timer, perhaps from the interrupt."""

    def __init__(self, pwm) -> None:
        """pwm: `freq(hz)`, `duty_u16(duty)`."""
        self._pwm = pwm
        self._at = 0

    def tick(self, timer=None) -> None:
        """One timer period. No allocation."""
        if self._at == 0:
            self._pwm.freq(NOTE_HZ)
            self._pwm.duty_u16(_FULL)
        elif self._at == LENGTH:
            self._pwm.duty_u16(0)
        self._at += 1
        if self._at == EVERY:
            self._at = 0


def enter(board) -> None:
    """Say, light and sound that the unit is in maintenance; the caller then ends the program."""
    reminder = Reminder(board.pwm)
    board.lamp_pin.value(1)
    kept.extend((board, reminder, board.start_timer(PERIOD_MS, reminder.tick)))
    board.console.say(LINE)
