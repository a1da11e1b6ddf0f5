"""The wiring of both boards; pins come from the board files."""

from collections.abc import Callable

from schemdraw import elements as elm

from host_sim.drawings.paper import SMALL, SOFT, Sheet
from host_sim.notes.board_pins import ESP32, PIN_OF_GP, SUPPLY_PINS, USES, constants

_LEFT, _RIGHT, _TOP, _BOTTOM = 9.0, 14.0, 17.0, 0.0
_PULL_UP = "2.2 to 4.7 k"
Label = Callable[[str], str]


def label(use: str) -> str:
    """As written in the drawing: what it is, GP number, pin of the board."""
    gp = constants()[use]
    return f"{USES[use][0].split(',')[0]} GP{gp} ({PIN_OF_GP[gp]})"


def label_esp32(use: str) -> str:
    """The same for the second board: what it is, and its GPIO number."""
    return f"{USES[use][0].split(',')[0]} GPIO{constants(ESP32.read_text())[use]}"


def _bus(s: Sheet, label: Label, y: float, sda: str, scl: str, text: str) -> None:
    """One sensor and its bus; y: the SDA line. Pull-ups go up to 3V3."""
    s.box((0, y - 2.2), (3.4, 3.4), text)
    for use, line in ((sda, y), (scl, y - 1.0)):
        s.wire((3.4, line), (_LEFT, line))
        s.words((_LEFT + 0.15, line), label(use), "left", SMALL)
    for x, line, mark in ((5.4, y, _PULL_UP), (6.8, y - 1.0, "")):
        s.dot((x, line))
        s.wire((x, line), (x, y + 0.3))
        s.part(elm.Resistor(), (x, y + 0.3), (x, y + 2.3))
        s.words((x, y + 2.6), "3V3", size=SMALL)
        if mark:
            s.words((5.0, y + 1.4), mark, "right", SMALL, SOFT)
    s.wire((3.4, y - 1.7), (4.2, y - 1.7))
    s.ground((4.2, y - 1.7))
    s.wire((3.4, y + 0.7), (4.0, y + 0.7))
    s.words((4.1, y + 0.7), "3V3", "left", SMALL)


def _accelerometer(s: Sheet, y: float) -> None:
    """Shares bus 0: y is the SDA line of the pitot sensor."""
    s.box((0, y - 6.2), (3.4, 2.6), "accelerometer")
    for x, line, at in ((8.2, y, y - 4.4), (7.6, y - 1.0, y - 5.2)):
        s.dot((x, line))
        s.wire((x, line), (x, at), (3.4, at))
    s.words((3.6, y - 4.1), "SDA", "left", SMALL, SOFT)
    s.words((3.6, y - 4.9), "SCL", "left", SMALL, SOFT)
    s.words((1.7, y - 5.9), "3V3, GND", size=SMALL, color=SOFT)


def _contact(s: Sheet, label: Label, y: float, use: str, text: str) -> None:
    s.words((_RIGHT - 0.15, y), label(use), "right", SMALL)
    s.part(elm.Switch(), (_RIGHT, y), (_RIGHT + 3.0, y))
    s.wire((_RIGHT + 3.0, y), (_RIGHT + 3.6, y))
    s.words((_RIGHT + 4.4, y), text, "left", SMALL)
    s.ground((_RIGHT + 3.6, y))


def _outputs(s: Sheet, label: Label) -> None:
    s.words((_RIGHT - 0.15, 14.5), label("TONE"), "right", SMALL)
    s.wire((_RIGHT, 14.5), (_RIGHT + 3.0, 14.5), arrow="->")
    s.words((_RIGHT + 3.2, 14.5), "to audio.svg", "left", SMALL)
    s.words((_RIGHT - 0.15, 12.5), label("LAMP"), "right", SMALL)
    s.part(elm.Resistor(), (_RIGHT, 12.5), (_RIGHT + 2.4, 12.5), "330")
    s.part(elm.LED(), (_RIGHT + 2.4, 12.5), (_RIGHT + 4.6, 12.5))
    s.ground((_RIGHT + 4.6, 12.5))
    s.words((_RIGHT + 5.2, 12.5), "lamp", "left", SMALL)


def draw() -> str:
    """The whole board."""
    return _board(label, "Raspberry Pi Pico\nGP number\n(pin of the board)",
                  {name: f"{name} ({pin})" for name, pin in SUPPLY_PINS.items()})


def draw_esp32() -> str:
    """The whole second board."""
    return _board(label_esp32, "ESP32\n(WROOM module)\nGPIO number",
                  {"VSYS": "5V", "3V3": "3V3", "GND": "GND"})


def _board(label: Label, title: str, supply: dict[str, str]) -> str:
    s = Sheet()
    s.box((_LEFT, _BOTTOM), (_RIGHT - _LEFT, _TOP - _BOTTOM))
    s.words((11.5, 8.6), title, size=SMALL)
    _bus(s, label, 13.6, "PITOT_SDA", "PITOT_SCL", "pitot\nsensor")
    _accelerometer(s, 13.6)
    _bus(s, label, 3.0, "ANGLED_SDA", "ANGLED_SCL", "angled\nsensor")
    _outputs(s, label)
    for y, use, text in ((10.0, "BUTTON", "button"), (7.6, "FLAP_1", "flap contact 1 (up)"),
                         (5.2, "FLAP_2", "flap contact 2"), (2.8, "FLAP_3", "flap contact 3")):
        _contact(s, label, y, use, text)
    for x, name, text in ((10.2, "VSYS", "from power.svg"), (12.8, "3V3", "to sensors")):
        s.words((x, _TOP - 0.4), supply[name], size=SMALL)
        s.wire((x, _TOP), (x, _TOP + 0.8))
        s.words((x, _TOP + 1.1), text, size=SMALL)
    s.words((11.5, 0.4), supply["GND"], size=SMALL)
    s.wire((11.5, 0), (11.5, -0.4))
    s.ground((11.5, -0.4))
    return s.svg()
