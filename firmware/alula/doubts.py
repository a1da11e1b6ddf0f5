"""Why two channels that both send data may not be believed, in one place, the weightiest first."""

from micropython import const

from alula import health
from alula.conditioning import Channel
from alula.curve_watch import CurveWatch
from alula.jump_watch import JumpWatch
from alula.lift_curve import LiftCurve
from alula.pair_watch import PairWatch
from alula.read_watch import ReadWatch
from alula.sample import Sample
from alula.settings import Settings

_PAIR_LOOK_MS = const(100)
_CURVE_LOOK_MS = const(50)


class Doubts:
    """code: index into `health.WORDS`, OK while there is no doubt.

    last: the latest doubt, until a lift share is known again: while the windows fill anew.
    jumping: a step has made the pressures useless for everything, the phase of flight too.
    """

    def __init__(self, settings: Settings) -> None:
        # A `direct` word is a number that somebody computed: it may step, and need not be noisy.
        self._raw = "direct" not in (settings.word("pitot_output"), settings.word("angled_output"))
        self._jumps = JumpWatch(settings)
        self._reads = ReadWatch(settings.unsteady_ms, settings.unsteady_pm)
        self._pair = PairWatch(settings, self._raw)
        self._curve = CurveWatch(settings)
        self.code = health.OK
        self.last = health.OK
        self.jumping = False
        self._flying = False
        self._pair_ms = 0
        self._curve_ms = 0

    def watch(self, dt_ms: int, pitot: Channel, angled: Channel, flying: bool) -> None:
        """Every tick, before the pressures are used. flying: and q not lost. No allocation."""
        self._reads.step(dt_ms, pitot, angled)
        if self._raw:
            if flying != self._flying or self._pair.found:
                self._flying = flying
                self._jumps.restart()
            else:
                self._jumps.step(dt_ms, pitot, angled)
            self.jumping = self._jumps.off and flying

    def step(self, dt_ms: int, pitot: Channel, angled: Channel, flying: bool) -> None:
        """Compare two channels that are ready, ten times a second. No allocation.

        On the ground, an angled pressure that has just stepped says nothing about the pitot.
        """
        self._pair_ms += dt_ms
        if self._pair_ms < _PAIR_LOOK_MS:
            return
        self._pair.step(self._pair_ms, pitot, angled, flying,
                        not flying and self._jumps.off and self._jumps.which != 0)
        self._pair_ms = 0

    def weigh(self, dt_ms: int, curve: LiftCurve, ratio_bp: int, lift_pm: int, q_dpa: int,
              sample: Sample, aloft: bool) -> None:
        """In flight, twenty times a second: compare the lift share with what the wing must carry.

        No allocation.
        """
        self._curve_ms += dt_ms
        if self._curve_ms < _CURVE_LOOK_MS:
            return
        self._curve.step(self._curve_ms, curve, ratio_bp, lift_pm, q_dpa, sample, aloft)
        self._curve_ms = 0

    def land(self) -> None:
        """On the ground. No allocation."""
        self._curve.land()

    def restart(self) -> None:
        """After a gap in the data. No allocation."""
        self._reads.restart()
        self._pair.restart()
        self._curve.restart()

    def conclude(self, lift_known: bool) -> None:
        """Sum up this tick in `code`. No allocation."""
        if self.jumping:
            self.code = health.channel_code(self._jumps.which, health.JUMP)
        elif self._reads.which >= 0:
            self.code = health.channel_code(self._reads.which, health.UNSTEADY)
        elif self._pair.found:
            self.code = health.pair_code(self._pair.found)
        elif self._curve.found:
            self.code = health.curve_code(self._curve.found)
        else:
            self.code = health.OK
            if lift_known:
                self.last = health.OK
            return
        self.last = self.code
