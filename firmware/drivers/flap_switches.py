"""Flap switches: one contact to ground for each calibrated setting, flaps up included.

Exactly one closed contact tells the setting. None or several, as in transit or with a broken wire,
tell nothing: with one contact for "down" alone, a broken wire would look like flaps up, and a
curve for flaps up warns late with flaps down.
"""

from alula.sample import FLAP_NOT_WIRED, FLAP_UNCLEAR


class FlapSwitches:
    """Raw setting only; bounce is judged where time is known.

    pins: inputs with `value()`, low while closed, in the order of the flap settings; may be empty.
    """

    def __init__(self, pins) -> None:
        self._pins = tuple(pins)

    def setting(self) -> int:
        """0 for the first contact and so on, FLAP_UNCLEAR, or FLAP_NOT_WIRED. No allocation."""
        found = FLAP_UNCLEAR if self._pins else FLAP_NOT_WIRED
        for i in range(len(self._pins)):
            if not self._pins[i].value():
                if found >= 0:
                    return FLAP_UNCLEAR
                found = i
        return found
