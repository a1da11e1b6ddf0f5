"""From a state of flight to two pressures, and back to a lift share by the firmware itself.

Pressures: impact pressure of a calibrated airspeed and a port on a sphere (`host_sim.world`). The
wing is straight up to four degrees before its stall and rounded there; no upwash.
"""

from dataclasses import dataclass

from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Case
from host_sim.sizing.quantity import KT_MS
from host_sim.world.airframe import Airframe, FlapShape, alpha_for_lift_deg
from host_sim.world.atmosphere import impact_from_cas_pa
from host_sim.world.calibration_truth import true_calibration
from host_sim.world.probe import Probe, port_coefficient

use_firmware()

from alula.lift_curve import LiftCurve  # noqa: E402
from alula.pressure_ratio import PLUMBINGS as PLUMBINGS  # noqa: E402
from alula.pressure_ratio import ratio_bp  # noqa: E402
from alula.transfer import LIMIT_DPA  # noqa: E402

ROUNDING_DEG = 4.0  # width of the round top of the lift curve (common practice, no source)
_CL_MAX = 1.45  # drops out of every answer: only shares of it are used


def impact_pa(speed_kt: float) -> float:
    """Impact pressure at a calibrated airspeed."""
    return float(impact_from_cas_pa(speed_kt * KT_MS))


@dataclass(frozen=True)
class Wing:
    """The case's wing and probe, with the calibration that a perfect capture would give."""

    case: Case

    @property
    def shape(self) -> FlapShape:
        """Lift against angle of attack."""
        stall_deg = self.case.stall_deg
        return FlapShape(0.0, self.case.zero_lift_deg, stall_deg - ROUNDING_DEG, stall_deg,
                         _CL_MAX, 0.03)

    @property
    def probe(self) -> Probe:
        """The case's port angle on a head of the usual strength, no errors."""
        return Probe(angle_deg=self.case.probe_deg)

    def speed_kt(self, lift: float) -> float:
        """Speed of steady 1 g flight at a lift share: Vs / sqrt(lift)."""
        return self.case.stall_kt / lift ** 0.5

    def alpha_deg(self, lift: float) -> float:
        """Angle of attack, before the stall, at a lift share (negative: pushing)."""
        return alpha_for_lift_deg(self.shape, lift * _CL_MAX)

    def angled_pa(self, impact: float, alpha_deg: float, beta_deg: float = 0.0) -> float:
        """What the angled sensor feels at an impact pressure, in Pa, signed as it is plumbed."""
        lower = float(port_coefficient(self.probe, self.case.probe_deg, alpha_deg, beta_deg))
        if self.case.plumbing == "pitot-port":
            return impact * (1.0 - lower)
        if self.case.plumbing == "opposed":
            return impact * (lower - float(port_coefficient(
                self.probe, -self.case.probe_deg, alpha_deg, beta_deg)))
        return impact * lower

    def pressures_pa(self, lift: float) -> tuple[float, float]:
        """(pitot, angled) in steady 1 g flight at a lift share."""
        impact = impact_pa(self.speed_kt(lift))
        return impact, self.angled_pa(impact, self.alpha_deg(lift))

    def points(self) -> list[tuple[int, int]]:
        """Eight (ratio_bp, lift_pm)."""
        return true_calibration(Airframe(shapes=(self.shape,)), self.probe, self.case.plumbing, 0)

    def curve(self) -> LiftCurve:
        """The firmware's own curve through these points."""
        return LiftCurve(self.points())


@dataclass(frozen=True)
class Reader:
    """The firmware's way from two pressures to a lift share."""

    wing: Wing
    curve: LiftCurve

    @property
    def plumbing(self) -> int:
        """The plumbing as the firmware counts it."""
        return PLUMBINGS.index(self.wing.case.plumbing)

    def ratio_bp(self, pitot_pa: float, angled_pa: float) -> int:
        """The firmware's ratio of two pressures > 0.1 Pa. Both are scaled up first: the ratio
        stays, and the rounding to 0.1 Pa (judged elsewhere) does not show."""
        scale = 0.9 * LIMIT_DPA / max(pitot_pa, abs(angled_pa))
        return ratio_bp(self.plumbing, max(1, round(scale * pitot_pa)), round(scale * angled_pa))

    def lift_pm(self, pitot_pa: float, angled_pa: float) -> int:
        """The firmware's lift share of two pressures, per mille."""
        return self.curve.lift_pm(self.ratio_bp(pitot_pa, angled_pa))

    def slope_pm(self, lift: float) -> float:
        """Lift, per mille, by ratio (1, not 1/10 000) at a lift share: of the line in use there,
        and where two lines meet of the steeper."""
        at = self.ratio_bp(*self.wing.pressures_pa(lift))
        points = self.wing.points()
        lines = list(zip(points, points[1:], strict=False))
        near = [line for line in lines if line[0][0] - 1 <= at <= line[1][0] + 1] or lines[-1:]
        return 10000.0 * max((end[1] - start[1]) / (end[0] - start[0]) for start, end in near)

