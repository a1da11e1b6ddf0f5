"""Lag of tubes and what unequal tubes cost. The lag is `host_sim.world.plumbing.Line`'s."""

from math import pi

from host_sim.world.atmosphere import (
    DENSITY_SEA,
    GRAVITY_MS2,
    M_PER_FT,
    MS_PER_KT,
    PRESSURE_SEA_PA,
    impact_from_cas_pa,
    static_pressure_pa,
)
from host_sim.world.plumbing import Line

LENGTHS_M = (1.0, 3.0, 5.0, 8.0)
BORES_MM = (1.5, 2.0, 3.0, 4.0)
STALL_KT = 45.0
CASE_CM3 = 200.0  # a panel instrument on the same line (no source: measure yours)
WATER_DENSITY = 998.0


def line_ms(length_m: float, bore_mm: float, volume_cm3: float = 1.0) -> tuple[float, float]:
    """(time constant, sound delay) in ms."""
    line = Line(length_m, bore_mm, volume_cm3)
    return 1e3 * line.tau_s, 1e3 * line.delay_s


def lag_table() -> list[str]:
    """Time constant and delay together, ms."""
    lines = ["| length | " + " | ".join(f"bore {bore} mm" for bore in BORES_MM) + " |",
             "|---|" + "---|" * len(BORES_MM)]
    for length in LENGTHS_M:
        cells = [f"{tau:.1f} + {delay:.1f} ms" for tau, delay in
                 (line_ms(length, bore) for bore in BORES_MM)]
        lines.append(f"| {length:.0f} m | " + " | ".join(cells) + " |")
    return lines


def ratio_error(lag_apart_s: float, slowing_kt_s: float, speed_kt: float = STALL_KT) -> float:
    """Share by which the ratio is wrong while speed changes: (dq/dt)/q times the difference.

    q goes with the square of speed, so (dq/dt)/q = 2 (dV/dt)/V.
    """
    return lag_apart_s * 2.0 * slowing_kt_s / speed_kt


def climb_error_pa(lag_apart_s: float, climb_ft_min: float) -> float:
    """Pressure that appears between a fast and a slow line in a climb: rho g w times the lag."""
    return DENSITY_SEA * GRAVITY_MS2 * climb_ft_min * M_PER_FT / 60.0 * lag_apart_s


def mismatch_table() -> list[str]:
    """What a difference between the two lines costs."""
    cases = [("angled line 5 m, pitot line 3 m, both 3 mm",
              sum(line_ms(5, 3)) - sum(line_ms(3, 3))),
             ("both 3 m, one 3 mm, one 1.5 mm", sum(line_ms(3, 1.5)) - sum(line_ms(3, 3))),
             (f"both 3 m and 3 mm, an instrument of {CASE_CM3:.0f} cm3 on one",
              sum(line_ms(3, 3, CASE_CM3)) - sum(line_ms(3, 3)))]
    stall_pa = impact_from_cas_pa(STALL_KT * MS_PER_KT)
    lines = ["| lines | apart | ratio wrong at 1 kt/s | at 5 kt/s | in a gust front of 20 kt/s | "
             "climbing 1000 ft/min |", "|---|---|---|---|---|---|"]
    for text, apart_ms in cases:
        cells = [f"{100 * ratio_error(apart_ms * 1e-3, rate):.2f} %" for rate in (1, 5, 20)]
        pressure = climb_error_pa(apart_ms * 1e-3, 1000)
        lines.append(f"| {text} | {apart_ms:.0f} ms | " + " | ".join(cells)
                     + f" | {pressure:.1f} Pa, {100 * pressure / stall_pa:.1f} % of q at "
                     f"{STALL_KT:.0f} kt |")
    return lines


def water_pa(height_mm: float) -> float:
    """Pressure of a water column: rho g h."""
    return WATER_DENSITY * GRAVITY_MS2 * height_mm * 1e-3


def height_factor(height_ft: float) -> float:
    """How much longer the lag is in thin air: p0/p."""
    return PRESSURE_SEA_PA / static_pressure_pa(height_ft * M_PER_FT)


def low_point_table() -> list[str]:
    """Water, and room for it."""
    stall_pa = impact_from_cas_pa(STALL_KT * MS_PER_KT)
    lines = ["| water standing in a line | pressure | of q at 45 kt |", "|---|---|---|"]
    lines += [f"| {high} mm high | {water_pa(high):.0f} Pa | "
              f"{100 * water_pa(high) / stall_pa:.0f} % |" for high in (3, 10, 30)]
    drop_mm3 = 50.0  # twenty drops of water make a cubic centimetre (common practice, no source)
    fills = [f"{drop_mm3 / (0.25 * pi * bore * bore):.0f} mm of a {bore} mm tube"
             for bore in (2.0, 3.0, 4.0)]
    return lines + ["", "One drop of 0.05 cm3 fills " + ", ".join(fills) + ". The lag at "
                    f"10 000 ft is {height_factor(10_000):.2f} times that at sea level."]
