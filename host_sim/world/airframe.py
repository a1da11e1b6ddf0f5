"""The Lark 2: an invented two-seater of round numbers. No such aeroplane exists.

Wing section data are invented too; they keep to what is common for light aeroplanes (lift slope
by Helmbold for an aspect ratio of 7 to 8, flaps raise the top by 0.25 to 0.4 and stall 2 to 3
degrees earlier: common practice, no source). Built in: one stall angle for each flap setting at
every weight, height and bank. Not modelled: ground effect, slipstream, ice, rain, hysteresis,
buffet, wing drop, upwash by the fuselage, negative stalls (lift simply stops falling).
"""

from dataclasses import dataclass
from math import pi, sin, sqrt

from host_sim.world.atmosphere import DENSITY_SEA, GRAVITY_MS2, MS_PER_KT

_BREAK_DEG = 5.0  # the lift falls by a fifth over this much angle past the top
_BREAK_SHARE = 0.20
_MUSH_PER_DEG = 0.010  # then by this share of the top a degree
_MUSH_FLOOR = 0.45
_STALL_DRAG_PER_DEG2 = 0.004  # separation drag, grows from one degree before the top
_PLATE_DRAG = 0.9


@dataclass(frozen=True)
class FlapShape:
    """Lift and drag of one flap setting: straight, then rounded to the top at the stall.

    Angles are body angles of attack in degrees, coefficients refer to the wing area.
    """

    flap_deg: float
    zero_lift_deg: float
    rounding_deg: float  # where the lift curve leaves its straight line
    stall_deg: float
    cl_max: float
    cd_zero: float

    @property
    def slope_per_deg(self) -> float:
        """Lift slope of the straight part; follows from the corner points of the curve."""
        return self.cl_max / (0.5 * (self.rounding_deg + self.stall_deg) - self.zero_lift_deg)


SHAPES = (
    FlapShape(0.0, -3.5, 11.5, 15.5, 1.45, 0.032),
    FlapShape(20.0, -7.5, 10.0, 13.5, 1.70, 0.055),
    FlapShape(35.0, -9.0, 9.5, 12.5, 1.85, 0.085),
)


@dataclass(frozen=True)
class Airframe:
    """Geometry, weight and engine; SI units. `shapes` are in order of flap angle."""

    name: str = "Lark 2"
    mass_kg: float = 600.0
    wing_area_m2: float = 12.4
    aspect_ratio: float = 7.4
    span_efficiency: float = 0.75
    static_thrust_n: float = 1900.0
    zero_thrust_speed_ms: float = 95.0
    idle_share: float = 0.03
    windmill_cd: float = 0.012
    ground_attitude_deg: float = 3.0
    rolling_friction: float = 0.03
    braking_friction: float = 0.35
    shapes: tuple[FlapShape, ...] = SHAPES

    @property
    def weight_n(self) -> float:
        """Weight in newtons."""
        return self.mass_kg * GRAVITY_MS2

    @property
    def induced_factor(self) -> float:
        """k in CD = CD0 + k CL^2 = 1/(pi e AR)."""
        return 1.0 / (pi * self.span_efficiency * self.aspect_ratio)

    def shape_at(self, flap_deg: float) -> FlapShape:
        """The lift curve at any flap angle: corner values on straight lines between settings."""
        for low, high in zip(self.shapes, self.shapes[1:], strict=False):
            if flap_deg <= low.flap_deg:
                return low
            if flap_deg < high.flap_deg:
                return _between(low, high, flap_deg)
        return self.shapes[-1]

    def slot_of(self, flap_deg: float) -> int:
        """Index of the nearest flap setting, 0 for flap up."""
        gaps = [abs(shape.flap_deg - flap_deg) for shape in self.shapes]
        return gaps.index(min(gaps))

    def max_thrust_n(self, speed_ms: float, density: float) -> float:
        """Full thrust; falls on a straight line with speed and in proportion with density."""
        share = max(0.0, 1.0 - speed_ms / self.zero_thrust_speed_ms)
        return self.static_thrust_n * share * density / DENSITY_SEA

    def stall_speed_kt(self, flap_deg: float = 0.0, load_factor: float = 1.0) -> float:
        """Equivalent airspeed at which CLmax carries the weight: sqrt(2 n W/(rho0 S CLmax))."""
        top = self.shape_at(flap_deg).cl_max
        load = 2.0 * load_factor * self.weight_n
        return sqrt(load / (DENSITY_SEA * self.wing_area_m2 * top)) / MS_PER_KT


def _between(low: FlapShape, high: FlapShape, flap_deg: float) -> FlapShape:
    share = (flap_deg - low.flap_deg) / (high.flap_deg - low.flap_deg)
    mixed = {
        name: getattr(low, name) + share * (getattr(high, name) - getattr(low, name))
        for name in FlapShape.__dataclass_fields__
    }
    return FlapShape(**mixed)


def lift_coefficient(shape: FlapShape, alpha_deg: float) -> float:
    """CL at a body angle of attack: straight, rounded top at `stall_deg`, break, mush."""
    if alpha_deg <= shape.rounding_deg:
        line = shape.slope_per_deg * (alpha_deg - shape.zero_lift_deg)
        return max(line, -0.8)
    past = alpha_deg - shape.stall_deg
    if past <= 0.0:
        width = shape.stall_deg - shape.rounding_deg
        return shape.cl_max - 0.5 * shape.slope_per_deg / width * past * past
    if past < _BREAK_DEG:
        part = past / _BREAK_DEG
        return shape.cl_max * (1.0 - _BREAK_SHARE * part * part * (3.0 - 2.0 * part))
    mush = 1.0 - _BREAK_SHARE - _MUSH_PER_DEG * (past - _BREAK_DEG)
    return shape.cl_max * max(mush, _MUSH_FLOOR)


def alpha_for_lift_deg(shape: FlapShape, cl: float) -> float:
    """Angle of attack before the stall that gives `cl`; at or above CLmax the stall angle."""
    slope = shape.slope_per_deg
    alpha = shape.zero_lift_deg + cl / slope
    if alpha <= shape.rounding_deg:
        return alpha
    width = shape.stall_deg - shape.rounding_deg
    short = max(0.0, shape.cl_max - cl)
    return shape.stall_deg - sqrt(2.0 * short * width / slope)


def drag_coefficient(frame: Airframe, shape: FlapShape, alpha_deg: float, cl: float) -> float:
    """Parabolic polar, plus the drag of separated flow from a degree before the stall on."""
    drag = shape.cd_zero + frame.induced_factor * cl * cl
    past = alpha_deg - shape.stall_deg + 1.0
    if past > 0.0:
        plate = _PLATE_DRAG * sin(alpha_deg * pi / 180.0) ** 2
        drag += min(_STALL_DRAG_PER_DEG2 * past * past, plate)
    return drag
