"""What must hold after every tick, whatever came in. Runs in both interpreters; no allocation.

Times are counted here, from the words alone, and not taken from the unit.
"""

from alula.health import WORDS
from alula.sample import FRESH
from alula.stall_capture.capture import IDLE
from alula.states import FAULT, PRESSING, STALLING, UNCALIBRATED

LAWS = ("none", "legal state and health", "legal sound", "lamp is on or off",
        "a tick out of order changes nothing", "lift and ratio within their ranges",
        "no number from a channel without usable words", "blind in flight, and quiet",
        "blind past every hold, and still a margin sound", "a stall taken back without data",
        "the warble has a gap", "the pressing pulses have a gap", "a fault that is not said",
        "margins without a calibration", "blind for long, and quiet about it",
        "a stall given up before its time")
_HEALTHS = len(WORDS)
_LONG_MS = 10 ** 8


class Watch:
    """broken: 0, or index into LAWS. states, healths: how many ticks each was met."""

    def __init__(self, unit, settings) -> None:
        self._unit = unit
        self._gap_ms = settings.gap_ms
        self._fault_ms = settings.fault_after_ms
        self._hold_ms = settings.hold_ms
        self._edge_ms = max(settings.edge_ms, 2000 // settings.sample_rate_hz)
        self._half_pulse_ms = 500000 // settings.pulse_low_millihz
        self._reminder_ms = max(settings.fault_every_ms, settings.fault_reminder_ms)
        self.broken = 0
        self.states = [0] * 8
        self.healths = [0] * _HEALTHS
        self._pitot_ms = self._angled_ms = 0
        self._lift_ms = 0
        self._stalling_ms = -1
        self._silent_ms = 0
        self._longest_ms = 0
        self._state = unit.state
        self._disorders = 0
        self._begun = False

    def after(self, dt_ms: int, sample) -> None:
        """Judge the unit after a tick that came dt_ms after the one before. No allocation."""
        unit = self._unit
        self.states[unit.state] += 1
        self.healths[unit.health] += 1
        if not self._begun:
            self._begun = True
            dt_ms = 0  # there was no tick before
        elif dt_ms <= 0:
            if unit.state != self._state or unit.disorders != self._disorders + 1:
                self.broken = 4
            self._disorders = unit.disorders
            return
        self._count(dt_ms, sample)
        self._legal()
        self._honest()
        self._heard(dt_ms)
        self._state = unit.state
        self._disorders = unit.disorders

    def _count(self, dt_ms: int, sample) -> None:
        unit = self._unit
        self._pitot_ms += dt_ms
        self._angled_ms += dt_ms
        if sample.pitot_status == FRESH and self._inside(unit.pitot, sample.pitot_word):
            self._pitot_ms = 0
        if sample.angled_status == FRESH and self._inside(unit.angled, sample.angled_word):
            self._angled_ms = 0
        self._lift_ms = 0 if unit.lift_known else min(_LONG_MS, self._lift_ms + dt_ms)

    def _inside(self, channel, word: int) -> bool:
        transfer = channel._transfer
        return transfer.rail_low < word < transfer.rail_high

    def _legal(self) -> None:
        unit = self._unit
        voice = unit.voice
        if not 0 <= unit.state <= UNCALIBRATED or not 0 <= unit.health < _HEALTHS:
            self.broken = 1
        if not 0 <= voice.level <= 8 or voice.level and not 300 <= voice.hz <= 2500:
            self.broken = 2
        if voice.hz and not 300 <= voice.hz <= 2500 or not 0 <= unit.tone_hz <= 2500:
            self.broken = 2
        if unit.lamp.on is not True and unit.lamp.on is not False:
            self.broken = 3
        if unit.lift_known and not (unit.ratio_known and 0 <= unit.lift_pm <= 1500):
            self.broken = 5
        if unit.ratio_known and not -30000 <= unit.ratio_bp <= 30000:
            self.broken = 5
        if unit.flaps is None and (unit.state < FAULT or unit.lift_known):
            self.broken = 13

    def _honest(self) -> None:
        """Design, promise 2: no data never look like margin, and never for longer than stated."""
        unit = self._unit
        state, blind_ms = unit.state, max(self._pitot_ms, self._angled_ms)
        if blind_ms > self._gap_ms and (unit.lift_known or unit.ratio_known):
            self.broken = 6
        if blind_ms > self._fault_ms and state < STALLING:
            self.broken = 14  # flying or not: the fault is said
        if unit.phase.flying:
            if self._lift_ms > self._fault_ms and state < PRESSING:
                self.broken = 7
            if min(blind_ms, self._lift_ms) > self._hold_ms and state < FAULT:
                self.broken = 8
            if self._state == STALLING and state < STALLING and not unit.lift_known:
                self.broken = 9
            if (self._state == STALLING and state == FAULT and self._lift_ms <= self._hold_ms
                    and unit.zero.known):
                self.broken = 15

    def _heard(self, dt_ms: int) -> None:
        """Sound is never away for long while there is something to say.

        A tick of more than a second is heard as one second (see `alula.voice`).
        """
        unit = self._unit
        state, level = unit.state, unit.voice.level
        dt_ms = min(dt_ms, 1000)
        if state != STALLING:
            self._stalling_ms = -1
        elif self._stalling_ms < 0:
            self._stalling_ms = dt_ms
        elif level == 0 and self._stalling_ms >= self._edge_ms:
            self.broken = 10
        else:
            self._stalling_ms = min(_LONG_MS, self._stalling_ms + dt_ms)
        # a capture that the pilot has armed speaks in place of "uncalibrated"
        guided = state == UNCALIBRATED and unit.capture.state != IDLE
        if level or guided or state < PRESSING or state != self._state:
            self._silent_ms = 0
            self._longest_ms = 0
            return
        self._silent_ms += dt_ms
        self._longest_ms = max(self._longest_ms, dt_ms)
        # a shorter pulse than a tick may be stepped over: only ticks below half of the shortest
        if (state == PRESSING and self._longest_ms < 60
                and self._silent_ms > self._half_pulse_ms + 130):
            self.broken = 11
        if state >= FAULT and self._silent_ms > self._reminder_ms + 2000 + self._longest_ms:
            self.broken = 12
