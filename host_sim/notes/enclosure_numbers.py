"""What acceleration does to a pressure sensor: its own parts and the air in the tubes weigh.

A layer of density rho and thickness t on the die presses with rho t a when the acceleration is
square to it (plain statics). Thicknesses are examples, no data sheet was found that states them.
"""

from host_sim.world.atmosphere import (
    DENSITY_SEA,
    GRAVITY_MS2,
    MS_PER_KT,
    cas_from_impact_ms,
    impact_from_cas_pa,
)

STALL_KT = 45.0
LAYERS = (  # text, density in kg/m3, thickness in mm
    ("bare silicon membrane, 0.02 mm", 2330.0, 0.02),
    ("membrane with a thick centre, 0.3 mm of silicon", 2330.0, 0.3),
    ("protective gel, 0.5 mm", 970.0, 0.5),
    ("protective gel, 2 mm", 970.0, 2.0),
)
HEIGHTS_M = (0.2, 1.0)


def layer_pa(density: float, thickness_mm: float, load_factor: float) -> float:
    """Pressure of a layer at a load factor, Pa; the axis square to the die."""
    return density * thickness_mm * 1e-3 * GRAVITY_MS2 * load_factor


def speed_error_kt(error_pa: float, load_factor: float) -> float:
    """Knots by which airspeed reads wrong at the stall of that load factor."""
    speed_ms = STALL_KT * load_factor**0.5 * MS_PER_KT
    felt = cas_from_impact_ms(impact_from_cas_pa(speed_ms) + error_pa)
    return (felt - speed_ms) / MS_PER_KT


def air_column_pa(height_m: float, load_factor: float) -> float:
    """Between two openings of which one is higher: rho g (n - 1) h. At 1 g nothing is left, as
    the air outside has the same weight."""
    return DENSITY_SEA * GRAVITY_MS2 * (load_factor - 1.0) * height_m


def _row(text: str, per_g_pa: float, at_4_pa: float) -> str:
    stall_4_pa = impact_from_cas_pa(STALL_KT * 2.0 * MS_PER_KT)
    return (f"| {text} | {per_g_pa:.1f} Pa | {speed_error_kt(per_g_pa, 1.0):.2f} kt | "
            f"{at_4_pa:.1f} Pa | {speed_error_kt(at_4_pa, 4.0):.2f} kt | "
            f"{100 * at_4_pa / stall_4_pa:.2f} % |")


def axis_table() -> list[str]:
    """Layers on the die, the die lying flat, so that the load factor presses on it.

    The zero on the ground takes 1 g away: what is left in flight is the load factor less one.
    """
    lines = ["| what lies on the die | turned from flat to upright, 1 g | at 45 kt | in a pull of "
             "4 g, zero taken flat: 3 g left | at 90 kt, the stall there | of q |",
             "|---|---|---|---|---|---|"]
    return lines + [_row(text, layer_pa(density, thick, 1.0), layer_pa(density, thick, 3.0))
                    for text, density, thick in LAYERS]


def column_table() -> list[str]:
    """Air in the lines."""
    lines = ["| probe above or below the static source by | at 2 g | at 4 g | at 4 g, of q at the "
             "stall there |", "|---|---|---|---|"]
    stall_4_pa = impact_from_cas_pa(STALL_KT * 2.0 * MS_PER_KT)
    return lines + [f"| {high} m | {air_column_pa(high, 2):.1f} Pa | {air_column_pa(high, 4):.1f} "
                    f"Pa | {100 * air_column_pa(high, 4) / stall_4_pa:.1f} % |"
                    for high in HEIGHTS_M]
