"""What an error in the pressures costs: how late the unit is, in lift and in knots.

The firmware's ratio and curve read the pressures with the error in them, the two sensors' errors
in the worst of their four combinations of signs. Lift that is missing in the answer is a speed
that seems to be in hand and is not: V = Vs / sqrt(lift).
"""

from dataclasses import dataclass

from host_sim.sizing.wing import Reader

SIGNS = ((1, 1), (1, -1), (-1, 1), (-1, -1))
LEAST_PM = 40  # with less lift read than this the unit does not see the wing at all


@dataclass(frozen=True)
class Late:
    """lift_pm: lift missing in the answer; speed_kt: speed by which a threshold comes late;
    infinite where less than LEAST_PM is read: such a unit is blind."""

    lift_pm: float
    speed_kt: float


def late_by(reader: Reader, lift: float, pitot_pa: float, angled_pa: float) -> Late:
    """At a lift share in steady 1 g flight, with errors of at most +-pitot_pa and +-angled_pa."""
    pitot, angled = reader.wing.pressures_pa(lift)
    read = [reader.lift_pm(max(0.2, pitot + a * pitot_pa), angled + b * angled_pa)
            for a, b in SIGNS]
    return from_reading(reader, lift, min(read))


def from_reading(reader: Reader, lift: float, read_pm: float) -> Late:
    """How late a unit is that reads read_pm where the wing uses `lift`."""
    right_pm = reader.lift_pm(*reader.wing.pressures_pa(lift))
    missing_pm = max(0.0, right_pm - read_pm)
    believed = lift - missing_pm / 1000.0
    if believed * 1000.0 < LEAST_PM:
        return Late(missing_pm, float("inf"))
    return Late(missing_pm, reader.wing.speed_kt(believed) - reader.wing.speed_kt(lift))
