"""Tells a listening computer how a stall capture goes; the sounds say the same."""

from alula.stall_capture import refusals

_STEPS = (
    "capture: over", "capture: hold steady, level, above 1.3 times the stalling speed",
    "capture: slow down by 1 kt each second", "capture: the stall has passed: recover now",
    "capture: judging the run", "capture: enough runs agree; storing as soon as all is calm")


class Narrator:
    """Called once a tick; says a line when something has changed. say: takes a line of text."""

    def __init__(self, unit, say) -> None:
        self._unit = unit
        self._say = say
        self._state = unit.capture.state
        self._verdicts = 0
        self._refusals = 0

    def step(self) -> None:
        """No allocation while nothing changes."""
        capture = self._unit.capture
        if capture.refused != self._refusals:
            self._refusals = capture.refused
            self._say("refused: %s (%d, %s); %s" % (
                refusals.WORDS[capture.refusal], capture.number,
                refusals.NUMBERS[capture.refusal], refusals.REMEDIES[capture.refusal]))
        if capture.verdicts != self._verdicts:
            self._verdicts = capture.verdicts
            if capture.judge.refusal == refusals.ACCEPTED:
                self._say("accepted: stall at ratio %d, entry %d (0.01 kt/s)" % (
                    capture.judge.stall_bp, capture.judge.entry_ckts))
        if capture.state != self._state:
            self._state = capture.state
            self._say(_STEPS[capture.state])
