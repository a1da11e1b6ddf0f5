"""Every sound at flight level, one after another, so that it is known before it is needed."""

from array import array

from alula import figures, states
from alula.cues import CALM_HZ, CALM_MILLIHZ, WARBLE_NOTES_MILLIHZ
from alula.intmath import sqrt_floor

STATES = (states.CALM, states.PRESSING, states.PRESSING, states.PRESSING, states.STALLING,
          states.FAULT, states.UNCALIBRATED)
FIGURES = (figures.ARMED, figures.SLOW_NOW, figures.GOOD, figures.MORE, figures.EASE,
           figures.RECOVER, figures.ACCEPTED, figures.REFUSED)
COUNT = len(STATES) + len(FIGURES)
EACH_MS, FIGURE_MS, REST_MS = 3000, 1500, 700
TEXTS = ("calm: a soft tick", "pressing, its slowest", "pressing, its middle",
         "pressing, its fastest: about to stall", "stalling", "cannot know", "uncalibrated",
         "guidance: armed", "guidance: slow down", "guidance: good", "guidance: more",
         "guidance: ease", "guidance: recover now", "guidance: accepted", "guidance: refused")


class SoundTour:
    """at: which sound; COUNT when all have been played. state, pulse_millihz, tone_hz: for the
    voice; figure: to announce now, else `figures.NOTHING`. news: a sound has just begun."""

    def __init__(self, settings) -> None:
        low, high = settings.pulse_low_millihz, settings.pulse_high_millihz
        self._pulses = array("i", (
            CALM_MILLIHZ, low, sqrt_floor(low * high), high, max(WARBLE_NOTES_MILLIHZ, high)))
        self._pitches = array("i", (
            CALM_HZ, settings.pitch_low_hz, (settings.pitch_low_hz + settings.pitch_high_hz) // 2,
            settings.pitch_high_hz, settings.warble_high_hz))
        self.begin()

    def begin(self) -> None:
        """From the first. No allocation."""
        self.at = -1
        self.news = False
        self._left_ms = REST_MS
        self._sounding = False
        self._silent()

    def _silent(self) -> None:
        self.state = states.QUIET
        self.pulse_millihz = self.tone_hz = 0
        self.figure = figures.NOTHING

    def step(self, dt_ms: int) -> None:
        """Let dt_ms pass. No allocation."""
        self.news = False
        self.figure = figures.NOTHING
        self._left_ms -= dt_ms
        if self._left_ms > 0 or self.at >= COUNT:
            return
        if self._sounding:
            self._sounding = False
            self._silent()
            self._left_ms = REST_MS
            if self.at == COUNT - 1:
                self.at = COUNT
            return
        self._sounding = self.news = True
        self.at += 1
        if self.at < len(STATES):
            self._left_ms = EACH_MS
            self.state = STATES[self.at]
            if self.at < len(self._pulses):
                self.pulse_millihz, self.tone_hz = self._pulses[self.at], self._pitches[self.at]
        else:
            self._left_ms = FIGURE_MS
            self.figure = FIGURES[self.at - len(STATES)]
