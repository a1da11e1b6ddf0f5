"""The probe: a small sphere with one or two ports, beside a true pitot.

Potential flow round a sphere: (p - ps)/qc = 1 - k sin^2(theta), theta the angle between the port
and the flow. k = 9/4 in theory (textbook, from memory), 1.8 to 2.3 on real heads. The growth of k
with Mach number is left out: 0.6 % of the ratio at 100 kt.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.world.atmosphere import Reals

PLUMBINGS = ("port-static", "pitot-port", "opposed")


@dataclass(frozen=True)
class Probe:
    """Where the ports look and where the probe sits.

    `angle_deg`: ports below (and, opposed, above) the body axis. `static_error`: error of the
    static source as a share of impact pressure. `upwash_deg_per_cl`: the wing bends the flow up.
    `ahead_m`, `outboard_m`: lever arms ahead of the centre of gravity and out on the right wing
    (left: negative); pitching and rolling change the angle there.
    """

    angle_deg: float = 45.0
    strength: float = 2.1
    static_error: float = 0.0
    upwash_deg_per_cl: float = 0.0
    ahead_m: float = 0.0
    outboard_m: float = 0.0


def port_coefficient(
    probe: Probe, angle_deg: float, alpha_deg: Reals, beta_deg: float | np.ndarray = 0.0
) -> Reals:
    """(p - ps)/qc of a port `angle_deg` below the axis (above: negative).

    theta follows from cos(theta) = cos(beta) cos(phi - alpha); angles in degrees.
    """
    along = np.cos(np.radians(beta_deg)) * np.cos(np.radians(angle_deg - alpha_deg))
    return 1.0 - probe.strength * (1.0 - along * along)


def local_alpha_deg(probe: Probe, alpha_deg: Reals, cl: Reals) -> Reals:
    """Angle of attack at the probe: the wing's own, plus its upwash there."""
    return alpha_deg + probe.upwash_deg_per_cl * cl


def ratio_of(probe: Probe, plumbing: str, alpha_deg: Reals, cl: Reals) -> Reals:
    """The ratio that rises with angle of attack, as an ideal unit would form it, no sideslip.

    port-static: angled/pitot; pitot-port: 1 - angled/pitot (the same number); opposed:
    angled/pitot. "pitot" is what the pitot sensor feels, position error of the static included.
    """
    local = local_alpha_deg(probe, alpha_deg, cl)
    lower = port_coefficient(probe, probe.angle_deg, local)
    felt = 1.0 - probe.static_error
    if plumbing == "opposed":
        return (lower - port_coefficient(probe, -probe.angle_deg, local)) / felt
    return (lower - probe.static_error) / felt
