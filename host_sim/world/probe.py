"""The probe: a small sphere with one or two ports, beside a true pitot.

Potential flow round a sphere: (p - ps)/qc = 1 - k sin^2(theta), theta the angle between the port
and the flow. k = 9/4 in theory (textbook, from memory), 1.8 to 2.3 on real heads. The growth of k
with Mach number is left out: 0.6 % of the ratio at 100 kt.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.world.atmosphere import Reals

_BASE = -0.4  # (p - ps)/qc in the wake of a sphere (from memory)
_PITOT_GOOD_DEG = 30.0  # a tube feels the whole pressure of a flow so far off (from memory: 20)
_PORT_GOOD_DEG = 45.0
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


def port_in_wake(coefficient: np.ndarray, beta_deg: np.ndarray) -> np.ndarray:
    """(p - ps)/qc of a port, given the ideal one: far off the nose the flow has parted."""
    off_deg = np.abs(beta_deg)
    parted = np.where(off_deg < 90.0, np.maximum(coefficient, _BASE), _BASE)
    return np.where(off_deg <= _PORT_GOOD_DEG, coefficient, parted)


def pitot_coefficient(beta_deg: np.ndarray) -> np.ndarray:
    """(p - ps)/qc of the pitot: 1, but in a wind from the side or from behind on the ground."""
    off = np.radians(np.clip(np.abs(beta_deg) - _PITOT_GOOD_DEG, 0.0, 90.0))
    return np.maximum(1.0 - 2.25 * np.sin(off) ** 2, _BASE)


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
