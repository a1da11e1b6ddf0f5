"""Numbers for the tone output, the lamp and the supply. Ohm's law, Fourier series, energy."""

from math import log10, pi, sin, sqrt

from host_sim.runtimes.paths import use_firmware

use_firmware()

from drivers.tone_pwm import DUTY_U16  # noqa: E402

SUPPLY_V = 3.3
SERIES_OHM, SHUNT_F = 1000.0, 100e-9
INTERCOM_OHM = 600.0
FLOOR_OHM, POT_OHM = 2200.0, 10_000.0
DIODE_V, CONVERTER_LEAST_V = 0.7, 9.0
PITCHES_HZ = (600, 1000, 1400, 2500)


def fundamental_v(level: int, harmonic: int = 1) -> float:
    """RMS of one harmonic of the pin's pulse wave: (2 V/(n pi)) sin(n pi d)/sqrt 2."""
    duty = DUTY_U16[level] / 65536
    part = sin(harmonic * pi * duty) / harmonic
    return 2.0 * SUPPLY_V / pi * abs(part) / sqrt(2.0)


def at_intercom_v(hz: float, level: int = 8, harmonic: int = 1, pot_ohm: float = 0.0) -> float:
    """RMS at an input of INTERCOM_OHM behind the filter, a 1:1 transformer and the volume pot.

    The pot is in series and lies beside FLOOR_OHM, so it can never open the circuit.
    """
    volume = pot_ohm * FLOOR_OHM / (pot_ohm + FLOOR_OHM) if pot_ohm else 0.0
    load = volume + INTERCOM_OHM
    omega = 2.0 * pi * hz * harmonic
    across = 1.0 / (1.0 / load + 1j * omega * SHUNT_F)
    share = abs(across / (SERIES_OHM + across)) * INTERCOM_OHM / load
    return fundamental_v(level, harmonic) * share


def pin_ma() -> float:
    """Most current that the pin gives: the capacitor shorts fast edges to ground."""
    return 1e3 * SUPPLY_V / SERIES_OHM


def tone_table() -> list[str]:
    """Voltage at the intercom over pitch, and how much of the third harmonic is left."""
    lines = ["| pitch | at the intercom, loudest | third harmonic below it | volume at its least "
             "|",
             "|---|---|---|---|"]
    for hz in PITCHES_HZ:
        full, third = at_intercom_v(hz), at_intercom_v(hz, harmonic=3)
        low = at_intercom_v(hz, pot_ohm=POT_OHM)
        lines.append(f"| {hz} Hz | {full:.2f} V | {20 * log10(full / third):.0f} dB | "
                     f"{low:.2f} V, {20 * log10(full / low):.0f} dB less |")
    return lines


def lamp_ma(ohm: float, drop_v: float) -> float:
    """Current of the lamp: (3.3 V - drop)/R."""
    return 1e3 * (SUPPLY_V - drop_v) / ohm


def lamp_table() -> list[str]:
    """Resistors for the lamp."""
    lines = ["| lamp | drop (from memory) | resistor | current |", "|---|---|---|---|"]
    for name, drop in (("red or amber LED", 2.0), ("green, older type", 2.2)):
        for ohm in (330.0, 470.0):
            lines.append(f"| {name} | {drop} V | {ohm:.0f} ohm | {lamp_ma(ohm, drop):.1f} mA |")
    return lines


def most_bus_pf(pull_up_ohm: float, rise_s: float = 300e-9) -> float:
    """Largest bus capacitance for a pull-up: the rise from 30 to 70 % takes 0.8473 R C.

    300 ns at 400 kHz: I2C specification, from memory.
    """
    return 1e12 * rise_s / (0.8473 * pull_up_ohm)


def bus_table() -> list[str]:
    """How long the wires of a bus may be."""
    cable_pf_m, parts_pf = 100.0, 30.0  # both from memory
    lines = ["| pull-up | bus may have at 400 kHz | wire, at 100 pF a metre and 30 pF of parts |",
             "|---|---|---|"]
    for ohm in (2200.0, 3300.0, 4700.0):
        most = most_bus_pf(ohm)
        lines.append(f"| {ohm / 1000:.1f} kOhm | {most:.0f} pF | "
                     f"{max(0.0, most - parts_pf) / cable_pf_m:.1f} m |")
    return lines


def hold_up_uf(watts: float, seconds: float, from_v: float, to_v: float, yield_: float) -> float:
    """Capacitor that bridges a gap: C = 2 P t/(yield (V1^2 - V2^2)), microfarads."""
    return 2e6 * watts * seconds / (yield_ * (from_v * from_v - to_v * to_v))


def hold_up_table() -> list[str]:
    """Capacitors for short gaps; 0.5 W, four fifths of it used well, a diode drop before it."""
    lines = ["| bus | gap of 20 ms | of 50 ms |", "|---|---|---|"]
    for bus in (12.0, 14.0, 24.0, 28.0):
        cells = [f"{hold_up_uf(0.5, gap, bus - DIODE_V, CONVERTER_LEAST_V, 0.8):.0f} uF"
                 for gap in (0.02, 0.05)]
        lines.append(f"| {bus:.0f} V | " + " | ".join(cells) + " |")
    return lines
