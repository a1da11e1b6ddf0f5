"""From the aeroplane's bus to the board."""

from schemdraw import elements as elm

from host_sim.drawings.paper import SMALL, SOFT, Sheet
from host_sim.notes.board_pins import SUPPLY_PINS


def draw() -> str:
    """The supply."""
    s = Sheet()
    s.words((-0.2, 4), "bus\n14 or 28 V", "right")
    s.part(elm.FuseIEC(), (0, 4), (2.2, 4), "fuse 1 A")
    s.part(elm.Diode(), (2.2, 4), (4.4, 4), "D1")
    s.dot((4.4, 4))
    s.part(elm.DiodeTVS(), (4.4, 4), (4.4, 1.4), "TVS", below=True)
    s.part(elm.Inductor2(), (4.4, 4), (6.8, 4), "ferrite, 10 uH")
    _converter(s)
    s.words((9.6, 0.6), "one ground wire to the ground point of the avionics", size=SMALL,
            color=SOFT)
    s.words((9.6, 5.4), "fuse at the bus; the rest in the unit's box, in this order", size=SMALL,
            color=SOFT)
    return s.svg()


def _converter(s: Sheet) -> None:
    """From the hold-up capacitor on."""
    s.dot((6.8, 4))
    s.part(elm.Capacitor(polar=True), (6.8, 4), (6.8, 1.4), "C", below=True)
    s.wire((6.8, 4), (8.2, 4))
    s.box((8.2, 2.6), (2.8, 2.0), "converter\nto 5 V")
    s.wire((9.6, 2.6), (9.6, 1.4))
    s.part(elm.Schottky(), (11, 4), (13.2, 4), "D2, Schottky")
    s.box((13.2, 2.6), (2.6, 2.0), f"VSYS ({SUPPLY_PINS['VSYS']})\nboard")
    s.wire((14.5, 2.6), (14.5, 1.4))
    s.wire((4.4, 1.4), (14.5, 1.4))
    s.dot((6.8, 1.4))
    s.dot((9.6, 1.4))
    s.ground((4.4, 1.4))
