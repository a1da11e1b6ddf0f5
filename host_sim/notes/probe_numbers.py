"""Numbers for a home-made head: port angle, bore, drain, place. Formulas beside each function.

Sphere in potential flow: (p - ps)/q = 1 - k sin^2(theta), k = 9/4 (textbook, from memory; real
heads 1.8 to 2.3). A hemisphere on a tube is not a whole sphere: its k is learned in flight.
"""

from math import asin, cos, degrees, pi, radians, sin

from host_sim.world.atmosphere import (
    DENSITY_SEA,
    MS_PER_KT,
    VISCOSITY_PA_S,
    impact_from_cas_pa,
)

K_SPHERE = 9 / 4
STALL_KT, TOP_KT = 45.0, 120.0
PORT_ANGLES_DEG = (35, 40, 45, 50, 55, 60)
CRUISE_DEG, STALL_DEG = 0.0, 15.0
SURFACE_TENSION_N_M = 0.0728  # water against air at 20 degC (textbook, from memory)


def port_share(phi_deg: float, alpha_deg: float) -> float:
    """(p - ps)/q of a port phi below the axis, no sideslip."""
    return 1.0 - K_SPHERE * sin(radians(phi_deg - alpha_deg)) ** 2


def slope_per_deg(phi_deg: float, alpha_deg: float) -> float:
    """Its change for one degree: k sin 2(phi - alpha); greatest where phi - alpha = 45."""
    return K_SPHERE * sin(2.0 * radians(phi_deg - alpha_deg)) * pi / 180.0


def rolled_share(phi_deg: float, roll_deg: float, alpha_deg: float, beta_deg: float) -> float:
    """(p - ps)/q of a port on a head that is turned about its own axis by roll_deg.

    cos(theta) is the wind's direction times the port's: (cos b cos a, sin b, cos b sin a) and
    (cos phi, sin phi sin roll, sin phi cos roll).
    """
    a, b, phi, roll = (radians(x) for x in (alpha_deg, beta_deg, phi_deg, roll_deg))
    along = (cos(b) * cos(a) * cos(phi) + sin(b) * sin(phi) * sin(roll)
             + cos(b) * sin(a) * sin(phi) * cos(roll))
    return 1.0 - K_SPHERE * (1.0 - along * along)


def roll_error_deg(phi_deg: float, roll_deg: float, beta_deg: float) -> float:
    """Angle by which a slip to the left and one to the right read apart, at STALL_DEG."""
    left, right = (rolled_share(phi_deg, roll_deg, STALL_DEG, side * beta_deg)
                   for side in (-1, 1))
    return abs(right - left) / slope_per_deg(phi_deg, STALL_DEG)


def half_cone_deg(bore_mm: float, head_mm: float) -> float:
    """Half the angle that a port's mouth covers on the head: asin(bore/head)."""
    return degrees(asin(bore_mm / head_mm))


def water_held_pa(bore_mm: float) -> float:
    """Most pressure that a water plug in a round hole holds: 4 sigma/d (Laplace)."""
    return 4.0 * SURFACE_TENSION_N_M / (bore_mm * 1e-3)


def drain_loss(drain_mm: float, port_mm: float) -> float:
    """Share of the pressure lost in the port because a drain lets air through: (Ad/Ap)^2.

    Bernoulli and continuity without friction; friction in the port adds to it.
    """
    return (drain_mm / port_mm) ** 4


def reynolds(diameter_mm: float, speed_kt: float) -> float:
    """Re = rho V d/mu at sea level."""
    return DENSITY_SEA * speed_kt * MS_PER_KT * diameter_mm * 1e-3 / VISCOSITY_PA_S


def strut_loss(distance_in_diameters: float) -> float:
    """Share of q lost ahead of a strut across the wind: 1 - (1 - (R/x)^2)^2, x from its centre.

    Cylinder in potential flow (textbook): on the axis the speed is V (1 - (R/x)^2).
    """
    speed = 1.0 - (0.5 / distance_in_diameters) ** 2
    return 1.0 - speed * speed


def upwash_deg(distance_in_chords: float, cl: float) -> float:
    """Extra angle ahead of a wing: c Cl/(4 pi x) rad, x from the quarter chord.

    A bound vortex in two dimensions: an upper bound for a wing of finite span.
    """
    return degrees(cl / (4.0 * pi * distance_in_chords))


def swing_deg(rate_deg_s: float, arm_m: float, speed_kt: float) -> float:
    """Extra angle at a probe on an arm while the aeroplane turns about its centre of gravity."""
    return degrees(radians(rate_deg_s) * arm_m / (speed_kt * MS_PER_KT))


def port_angle_table() -> list[str]:
    """Ratio and slope for each port angle, and what the sensor must bear."""
    stall_pa, top_pa = (impact_from_cas_pa(kt * MS_PER_KT) for kt in (STALL_KT, TOP_KT))
    lines = ["| ports at | ratio at 0 degrees | at 15 degrees | a degree there, ratio | "
             f"in Pa at {STALL_KT:.0f} kt | sensor at {TOP_KT:.0f} kt, 0 degrees, Pa |",
             "|---|---|---|---|---|---|"]
    for phi in PORT_ANGLES_DEG:
        slope = slope_per_deg(phi, STALL_DEG)
        lines.append(
            f"| {phi} degrees | {port_share(phi, CRUISE_DEG):+.3f} | "
            f"{port_share(phi, STALL_DEG):+.3f} | {slope:.4f} | {slope * stall_pa:.1f} | "
            f"{port_share(phi, CRUISE_DEG) * top_pa:+.0f} |")
    return lines


def head_table() -> list[str]:
    """Head and port sizes."""
    lines = ["| head | port | the port's mouth covers | water plug holds | drain 0.6 mm loses | "
             f"Reynolds number at {STALL_KT:.0f} kt |", "|---|---|---|---|---|---|"]
    for head_mm, bore_mm in ((10, 1.5), (16, 1.5), (16, 2.0), (16, 3.0), (25, 3.0)):
        lines.append(
            f"| {head_mm} mm | {bore_mm} mm | +-{half_cone_deg(bore_mm, head_mm):.1f} degrees | "
            f"{water_held_pa(bore_mm):.0f} Pa | {100 * drain_loss(0.6, bore_mm):.1f} % | "
            f"{reynolds(head_mm, STALL_KT):.0f} |")
    return lines


def alignment_table() -> list[str]:
    """What a head that is turned on its axis costs."""
    lines = ["| head turned on its axis by | slip left and right of 5 degrees read apart by | "
             "of 10 degrees |", "|---|---|---|"]
    for roll in (1, 2, 5):
        lines.append(f"| {roll} degrees | {roll_error_deg(45, roll, 5):.1f} degrees | "
                     f"{roll_error_deg(45, roll, 10):.1f} degrees |")
    return lines


def place_table() -> list[str]:
    """Distance from struts and wing."""
    lines = ["| distance ahead | of a strut or tube, in its diameters: q lost | of the quarter "
             "chord, in chords: extra angle at CL 1.0 |", "|---|---|---|"]
    for strut, chords in ((2, 0.5), (5, 1.0), (10, 1.5)):
        lines.append(f"| {strut} diameters; {chords} chords | {100 * strut_loss(strut):.1f} % | "
                     f"{upwash_deg(chords, 1.0):.1f} degrees |")
    return lines


def swing_table() -> list[str]:
    """Pitching and rolling."""
    return ["| motion | arm | extra angle at 45 kt |", "|---|---|---|",
            f"| pitching up, 10 degrees a second | 1 m ahead | "
            f"{-swing_deg(10, 1.0, STALL_KT):.1f} degrees |",
            f"| rolling, 20 degrees a second | 3 m out, on the wing that goes down | "
            f"{swing_deg(20, 3.0, STALL_KT):+.1f} degrees |",
            f"| rolling, 20 degrees a second | 3 m out, on the wing that goes up | "
            f"{-swing_deg(20, 3.0, STALL_KT):+.1f} degrees |"]
