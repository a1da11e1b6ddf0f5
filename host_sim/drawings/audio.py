"""Tone output: into an intercom, and to a sounder."""

from schemdraw import elements as elm

from host_sim.drawings.paper import SMALL, SOFT, Sheet
from host_sim.notes.board_pins import PIN_OF_GP, constants
from host_sim.notes.electric_numbers import FLOOR_OHM, POT_OHM, SERIES_OHM, SHUNT_F


def _pin() -> str:
    gp = constants()["TONE"]
    return f"GP{gp} ({PIN_OF_GP[gp]})"


def _intercom(s: Sheet, y: float) -> None:
    s.words((0, y + 1.7), "into an intercom", "left")
    s.words((-0.2, y), _pin(), "right")
    s.part(elm.Resistor(), (0, y), (2.4, y), f"{SERIES_OHM / 1000:.0f} k")
    s.dot((2.4, y))
    s.part(elm.Capacitor(), (2.4, y), (2.4, y - 2.2), f"{SHUNT_F * 1e9:.0f} n", below=True)
    s.part(elm.Capacitor(), (2.4, y), (4.6, y), "2.2 u")
    s.dot((4.6, y))
    s.dot((7.0, y))
    s.part(elm.ResistorVar(), (4.6, y), (7.0, y), f"volume {POT_OHM / 1000:.0f} k")
    s.wire((4.6, y), (4.6, y - 1.0))
    s.part(elm.Resistor(), (4.6, y - 1.0), (7.0, y - 1.0), f"{FLOOR_OHM / 1000:.1f} k",
           below=True)
    s.wire((7.0, y - 1.0), (7.0, y))
    s.wire((7.0, y), (8.4, y))
    _isolated(s, y)


def _isolated(s: Sheet, y: float) -> None:
    """Transformer, screened pair, intercom."""
    s.box((8.4, y - 2.5), (2.4, 3.0), "transformer\n600:600\nno joint\nacross")
    s.wire((8.4, y - 2.2), (2.4, y - 2.2))
    s.ground((2.4, y - 2.2))
    s.wire((10.8, y), (13.2, y))
    s.wire((10.8, y - 2.2), (13.2, y - 2.2))
    s.box((13.2, y - 2.5), (2.4, 3.0), "intercom\nauxiliary\ninput")
    s.wire((11.4, y - 2.7), (11.4, y + 0.5), (12.6, y + 0.5), (12.6, y - 2.7), (11.4, y - 2.7),
           color=SOFT, style="--")
    s.words((12.0, y + 0.9), "screen", size=SMALL, color=SOFT)
    s.wire((12.6, y - 2.5), (13.2, y - 2.5), color=SOFT, style="--")
    s.words((11.2, y - 3.2), "screen joined at the intercom's end only", size=SMALL, color=SOFT)


def _sounder(s: Sheet, y: float) -> None:
    s.words((0, y + 1.7), "to a sounder, for an aeroplane without an intercom", "left")
    s.words((-0.2, y), _pin(), "right")
    s.part(elm.Resistor(), (0, y), (2.4, y), f"{SERIES_OHM / 1000:.0f} k")
    s.box((2.4, y - 0.8), (3.0, 1.6), "MOSFET to\nground")
    s.wire((3.9, y - 0.8), (3.9, y - 1.6))
    s.ground((3.9, y - 1.6))
    s.wire((5.4, y), (7.4, y))
    s.box((7.4, y - 0.8), (2.4, 1.6), "sounder")
    s.wire((9.8, y), (11.2, y))
    s.words((11.4, y), "5 V", "left")
    s.dot((6.4, y))
    s.dot((10.5, y))
    s.wire((6.4, y), (6.4, y - 1.5), (7.4, y - 1.5))
    s.part(elm.Resistor(), (7.4, y - 1.5), (9.8, y - 1.5), "1 k", below=True)
    s.wire((9.8, y - 1.5), (10.5, y - 1.5), (10.5, y))


def draw() -> str:
    """Both outputs."""
    s = Sheet()
    _intercom(s, 8)
    _sounder(s, 1.5)
    return s.svg()
