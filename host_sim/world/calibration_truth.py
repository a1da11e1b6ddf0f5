"""The calibration that a perfect capture of this probe on this aeroplane would give."""

import numpy as np

from host_sim.world.airframe import Airframe, alpha_for_lift_deg
from host_sim.world.probe import Probe, ratio_of

POINTS = 8


def true_calibration(
    airframe: Airframe, probe: Probe, plumbing: str, flap: int
) -> list[tuple[int, int]]:
    """Eight (ratio_bp, lift_pm) from lift 200 to 1000 per mille, both strictly rising.

    `flap` is the index of the flap setting, 0 for flap up. The lift steps are even.
    """
    shape = airframe.shapes[flap]
    points = []
    for share in np.linspace(0.2, 1.0, POINTS):
        cl = share * shape.cl_max
        alpha_deg = alpha_for_lift_deg(shape, cl)
        ratio = float(ratio_of(probe, plumbing, alpha_deg, cl))
        points.append((round(10000.0 * ratio), round(1000.0 * share)))
    return points
