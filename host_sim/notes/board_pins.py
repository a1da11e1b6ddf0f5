"""Which pin of a board does what: read from the board file's own constants, never typed here.

The file imports `machine`, which is only on the board, so its text is parsed, not run.
"""

import ast

from host_sim.runtimes.paths import ROOT

BOARD = ROOT / "firmware" / "boards" / "rpi_pico.py"
ESP32 = ROOT / "firmware" / "boards" / "esp32.py"
# GP number to pin of the board, from the pinout card of the Raspberry Pi Pico (R3). Every fifth
# pin from 3 on is ground.
PIN_OF_GP = dict(zip((*range(23), 26, 27, 28),
                     (1, 2, 4, 5, 6, 7, 9, 10, 11, 12, 14, 15, 16, 17, 19, 20, 21, 22, 24, 25,
                      26, 27, 29, 31, 32, 34), strict=True))
SUPPLY_PINS = {"VSYS": 39, "3V3": 36, "GND": 38}
USES = {
    "PITOT_SDA": ("SDA, bus 0", "pitot sensor and accelerometer"),
    "PITOT_SCL": ("SCL, bus 0", "pitot sensor and accelerometer"),
    "ANGLED_SDA": ("SDA, bus 1", "angled sensor"),
    "ANGLED_SCL": ("SCL, bus 1", "angled sensor"),
    "TONE": ("tone", "filter and transformer"),
    "LAMP": ("lamp", "resistor, lamp, ground"),
    "BUTTON": ("button", "contact to ground"),
    "FLAP_1": ("flap 1", "first flap contact (flaps up) to ground"),
    "FLAP_2": ("flap 2", "second flap contact to ground"),
    "FLAP_3": ("flap 3", "third flap contact to ground"),
}


def constants(text: str | None = None) -> dict[str, int]:
    """Use to GP number. KeyError where the board file no longer names one of USES."""
    found: dict[str, int] = {}
    for node in ast.parse(text or BOARD.read_text()).body:
        if not isinstance(node, ast.Assign) or not isinstance(node.targets[0], ast.Name):
            continue
        name, value = node.targets[0].id, node.value
        if isinstance(value, ast.Call) and value.args:
            value = value.args[0]  # const(4)
        if name == "FLAPS":
            numbers = ast.literal_eval(value)
            found |= {f"FLAP_{i + 1}": gp for i, gp in enumerate(numbers)}
        elif name in USES:
            found[name] = ast.literal_eval(value)
    return {use: found[use] for use in USES}


def table() -> list[str]:
    """The table of wiring.md."""
    lines = ["| pin of the board | GP | what | goes to |", "|---|---|---|---|"]
    rows = sorted((PIN_OF_GP[gp], gp, *USES[use]) for use, gp in constants().items())
    lines += [f"| {pin} | GP{gp} | {what} | {to} |" for pin, gp, what, to in rows]
    return lines + [f"| {pin} | {name} | supply | "
                    + {"VSYS": "5 V from the converter, through a Schottky diode",
                       "3V3": "sensors and pull-ups", "GND": "ground, also 3, 8, 13, 18, 23"}[name]
                    + " |" for name, pin in SUPPLY_PINS.items()]


def table_esp32() -> list[str]:
    """The same for the second board, whose pins bear their GPIO number on most makers' boards."""
    lines = ["| GPIO | what | goes to |", "|---|---|---|"]
    return lines + [f"| {gpio} | {what} | {to} |" for gpio, what, to in sorted(
        (gpio, *USES[use]) for use, gpio in constants(ESP32.read_text()).items())]
