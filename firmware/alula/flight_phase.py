"""Flying or on the ground, from the two pressures alone.

Flying begins when dynamic pressure has been above `flying_q_dpa` for `flying_ms`, or at once if
the very first data lie nearer to that than to `min_q_dpa`: then the unit was started in the air,
and perhaps close to the stall. It ends

- by slowing down: dynamic pressure sinks below `min_q_dpa` while no warning sounds, not faster
  than wheel brakes can do it (`lost_ms` from flying to there), and after the wing has carried what
  it must carry to fly slowly (`landing_pm` within `landing_ms`): a pitot that ices up in the
  cruise looks like a slow-down, too, but the wing does not work harder for it. Nor while there is
  a doubt about the pressures; or
- by standing still: both pressures within `ground_q_dpa` of zero for `ground_ms`.

A dynamic pressure that is lost in another way was not slowed away: `lost` stays set until there is
enough of it again, and nothing but that ends the flight.
"""

from alula.settings import Settings
from alula.states import PRESSING

_TIME_MOST_MS = 600000
LIFT_UNKNOWN = -1
LIFT_DOUBTED = -2


class FlightPhase:
    """flying: margins matter. aloft: for longer than a take-off takes, or started in the air too
    fast for the ground: no wheel carries.
    settled: aloft, or started in the air (a start on the take-off roll looks the same).
    has_flown: since power-up. lost: dynamic pressure vanished too fast. air_start: see above."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._flying_q_dpa = settings.flying_q_dpa
        self._min_q_dpa = settings.min_q_dpa
        self._air_start_q_dpa = (settings.min_q_dpa + settings.flying_q_dpa) // 2
        self.flying = False
        self.has_flown = False
        self.lost = False
        self.air_start = False
        self.settled = False
        self.aloft = False
        self._flying_for_ms = 0
        self._first = True
        self._fast_ms = 0
        self._slow_ms = 0
        self._still_ms = 0
        self._enough = False
        self._worked_ms = 0  # since the wing last worked as hard as for a landing

    def step(self, dt_ms: int, q_dpa: int, angled_dpa: int, band: int, lift_pm: int) -> None:
        """Judge two conditioned pressures, both ready. No allocation.

        band: what the cues say. lift_pm: lift share, LIFT_UNKNOWN or LIFT_DOUBTED.
        """
        if self._first and q_dpa >= self._air_start_q_dpa:
            self.air_start = self.flying = self.has_flown = self.settled = True
            self.aloft = q_dpa >= 2 * self._flying_q_dpa  # 1.34 Vs: nobody is on wheels so fast
        if q_dpa >= self._flying_q_dpa:
            self._fast(dt_ms)
        else:
            self._fast_ms = 0
            if self._slow_ms < _TIME_MOST_MS:
                self._slow_ms += dt_ms
        self._first = False
        if not self.settled or lift_pm >= self._settings.landing_pm:
            self._worked_ms = 0
        elif lift_pm >= 0 and self._worked_ms < _TIME_MOST_MS:
            self._worked_ms += dt_ms
        if q_dpa >= self._min_q_dpa:
            self._enough = True
            self.lost = False
            self._still_ms = 0
        elif self.flying:
            if self._enough:
                self._fell_below(band, lift_pm)
            self._stand_still(dt_ms, q_dpa, angled_dpa)

    def _fast(self, dt_ms: int) -> None:
        self._slow_ms = 0
        if self.flying:
            self._settle(dt_ms)
            return
        self._fast_ms += dt_ms
        if self._fast_ms >= self._settings.flying_ms:
            self.flying = self.has_flown = True
            self.settled = self.aloft = False
            self._flying_for_ms = 0

    def _settle(self, dt_ms: int) -> None:
        if not self.aloft:
            self._flying_for_ms += dt_ms
            self.aloft = self._flying_for_ms >= self._settings.calm_after_ms
            self.settled = self.settled or self.aloft

    def _fell_below(self, band: int, lift_pm: int) -> None:
        self._enough = False
        settings = self._settings
        if (self._slow_ms < settings.lost_ms or self._worked_ms > settings.landing_ms
                or lift_pm == LIFT_DOUBTED):
            self.lost = True
        elif band < PRESSING:
            self.flying = False

    def _stand_still(self, dt_ms: int, q_dpa: int, angled_dpa: int) -> None:
        limit = self._settings.ground_q_dpa
        if self.lost or not -limit < q_dpa < limit or not -limit < angled_dpa < limit:
            self._still_ms = 0
            return
        self._still_ms += dt_ms
        if self._still_ms >= self._settings.ground_ms:
            self.flying = False
