"""Things worth saying once a power-up, when no warning sounds."""

from alula import figures


class Remarks:
    """Announces each remark at most once.

    voice: what to announce with. zero, phase: watched; flaps: the curves, or None.
    """

    def __init__(self, voice, zero, phase, flaps) -> None:
        self._voice = voice
        self._zero = zero
        self._phase = phase
        self._flaps = flaps
        self._said_zero = False
        self._said_air_start = False
        self._said_flap = False

    def due(self) -> bool:
        """Whether `step` could have anything to say; it need not be called otherwise."""
        phase = self._phase
        return (not phase.flying or phase.air_start
                or self._flaps is not None and not self._flaps.known)

    def step(self) -> None:
        """Say what is new: an old zero kept, a start in the air, a flap setting without a curve.

        No allocation.
        """
        if not self._said_zero and self._zero.refusals and self._zero.known:
            self._said_zero = True
            self._voice.announce(figures.ZERO_KEPT)
        if not self._said_air_start and self._phase.air_start:
            self._said_air_start = True
            self._voice.announce(figures.AIR_START)
        if not self._said_flap and self._flaps is not None and not self._flaps.known:
            self._said_flap = True
            self._voice.announce(figures.FLAP_UNKNOWN)
