"""Whether the two pressures can be believed, and if not, which one and why.

Here: no reply, sensor fault, stale for too long, rail, and data that come and go. A channel fault
lasts until *both* channels have filled their windows with fresh data again; a number is never made
from half-old data. What is doubtful although both send data: `doubts`.
"""

from micropython import const

from alula.conditioning import Channel

OK = const(0)
ON_GROUND = const(1)
SEEDING = const(2)  # the windows are filling; not a fault until it lasts
SETTINGS = const(3)
UNCALIBRATED = const(4)
NO_ZERO = const(5)
TOO_SLOW = const(6)
Q_LOST = const(7)  # dynamic pressure fell faster than an aeroplane can slow down
INTERMITTENT = const(8)
JUMP = const(6)  # reasons beside those of `sample` and `conditioning.RAIL`
UNSTEADY = const(7)
_REASONS = ("stale", "no-reply", "sensor-fault", "not-fitted", "rail", "jump", "unsteady")
_EACH = const(7)
_CHANNEL = const(8)  # channel words follow: code = _CHANNEL + _EACH * which + reason
_PAIR = const(29)  # then what `pair_watch` finds: code = _PAIR + found
_CURVE = const(35)  # and `curve_watch`: code = _CURVE + found

WORDS = ("ok", "on-ground", "seeding", "settings", "uncalibrated", "no-zero", "too-slow", "q-lost",
         "intermittent") + tuple(
    channel + "-" + reason for channel in ("pitot", "angled", "both") for reason in _REASONS) + (
    "pitot-frozen", "angled-frozen", "pitot-dead", "angled-dead", "twins", "both-frozen",
    "outside", "unbalanced")
_UNREADY_MOST_MS = const(600000)


class Health:
    """Judges both channels every tick.

    fault: the pressures cannot be believed. code: index into WORDS. unready_ms: time since both
    channels were last ready.
    """

    def __init__(self, fault_after_ms: int, window_ms: int) -> None:
        self._limit_ms = fault_after_ms
        self._unready_limit_ms = fault_after_ms + window_ms
        self.fault = False
        self.code = SEEDING
        self.unready_ms = 0

    def step(self, dt_ms: int, pitot: Channel, angled: Channel) -> None:
        """Judge the channels after their own step. No allocation."""
        if pitot.ready and angled.ready:
            if self.code != OK:
                self.fault = False
                self.code = OK
                self.unready_ms = 0
            return
        if self.unready_ms < _UNREADY_MOST_MS:
            self.unready_ms += dt_ms
        limit_ms = self._limit_ms
        pitot_bad = pitot.age_ms > limit_ms
        angled_bad = angled.age_ms > limit_ms
        if pitot_bad or angled_bad:
            self.fault = True
            self._blame(pitot if pitot_bad else angled, pitot_bad, angled_bad)
        elif self.unready_ms > self._unready_limit_ms and not self.fault:
            self.fault = True
            self.code = INTERMITTENT
        elif not self.fault:
            self.code = SEEDING

    def _blame(self, channel: Channel, pitot_bad: bool, angled_bad: bool) -> None:
        which = 0
        if angled_bad:
            which = 2 if pitot_bad else 1
        # An old channel always has a reason: a word that could be used sets the age to zero.
        self.code = channel_code(which, channel.reason)


def channel_code(which: int, reason: int) -> int:
    """The code for a reason; which: 0 pitot, 1 angled, 2 both. No allocation."""
    return _CHANNEL + _EACH * which + reason


def pair_code(found: int) -> int:
    """The code for what `pair_watch` found; OK for nothing. No allocation."""
    return _PAIR + found if found else OK


def curve_code(found: int) -> int:
    """The code for what `curve_watch` found; OK for nothing. No allocation."""
    return _CURVE + found if found else OK


def lamp_blinks(code: int) -> int:
    """How often the lamp blinks for a code: 1 pitot, 2 angled, 3 both or the two together,
    4 uncalibrated or no zero, 5 settings; 0 for no fault. No allocation."""
    if code > _PAIR + 4:
        return 3
    if code > _PAIR:
        return 2 - (code - _PAIR) % 2
    if code > INTERMITTENT:
        return (code - _CHANNEL - 1) // _EACH + 1
    if UNCALIBRATED <= code <= NO_ZERO:
        return 4
    if code == SETTINGS:
        return 5
    return 3 if code >= TOO_SLOW else 0
