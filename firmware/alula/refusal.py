"""A unit that must not measure, its settings being missing or wrong. It says so, nothing else."""

from alula import health, states
from alula.elapsed import since_ms
from alula.lamp_code import LampCode
from alula.sample import Sample
from alula.settings import Settings
from alula.voice import Voice


class Refusal:
    """Stands in for `Unit` where there is nothing to measure with: only the fault sound."""

    def __init__(self) -> None:
        self.voice = Voice(Settings())
        self.lamp = LampCode()
        self.state = states.FAULT
        self.health = health.SETTINGS
        self._last_ms = 0
        self._begun = False

    def tick(self, now_ms: int, sample: Sample) -> None:
        """Keep the fault sound going; the sample is not looked at. No allocation."""
        dt_ms = since_ms(now_ms, self._last_ms) if self._begun else 0
        self._begun = True
        self._last_ms = now_ms
        if dt_ms > 0:
            self.voice.step(dt_ms, self.state, 0, 0)
            self.lamp.step(dt_ms, self.state, self.health, self.voice.level, False)
