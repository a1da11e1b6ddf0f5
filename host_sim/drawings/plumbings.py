"""The three plumbings: which tube goes to which connector of which sensor."""

from host_sim.drawings.paper import SMALL, SOFT, Sheet

_TITLES = {
    "port-static": ("port, pitot and static", "static"),
    "pitot-port": ("port against pitot", "pitot"),
    "opposed": ("two opposed ports", "upper port"),
}


def _sensor(s: Sheet, x: float, y: float, text: str) -> None:
    s.box((x, y), (3.4, 2.0), "")
    s.words((x + 2.0, y + 1.0), text)
    s.words((x + 0.3, y + 1.5), "P1", size=SMALL, color=SOFT)
    s.words((x + 0.3, y + 0.5), "P2", size=SMALL, color=SOFT)


def _panel(s: Sheet, y: float, name: str) -> None:
    title, second = _TITLES[name]
    s.words((-3.0, y + 5.6), f"{name}: {title}", "left")
    _sensor(s, 5.0, y + 3.0, "pitot\nsensor")
    _sensor(s, 5.0, y, "angled\nsensor")
    s.words((-0.2, y + 4.5), "pitot", "right")
    s.words((-0.2, y + 3.5), "static", "right")
    s.wire((0, y + 4.5), (5.0, y + 4.5))
    s.wire((0, y + 3.5), (5.0, y + 3.5))
    if name == "port-static":
        _from_port(s, y + 1.5, "angled port")
        _branch(s, 2.8, y + 3.5, y + 0.5)
    elif name == "pitot-port":
        _branch(s, 2.0, y + 4.5, y + 1.5)
        _from_port(s, y + 0.5, "angled port")
    else:
        _from_port(s, y + 1.5, "lower port")
        _from_port(s, y + 0.5, second)


def _from_port(s: Sheet, y: float, text: str) -> None:
    s.words((-0.2, y), text, "right")
    s.wire((0, y), (5.0, y))


def _branch(s: Sheet, x: float, top: float, bottom: float) -> None:
    """A tee down to the other sensor; where it crosses a tube there is no joint."""
    s.dot((x, top))
    s.wire((x, top), (x, bottom), (5.0, bottom))


def draw() -> str:
    """Three panels, one above the other."""
    s = Sheet()
    for row, name in enumerate(_TITLES):
        _panel(s, -7.4 * row, name)
    s.words((-3.0, -16.2), "a dot is a tee; lines that cross without a dot are not joined", "left",
            SMALL, SOFT)
    s.words((-3.0, -17.0), "P1: the output rises when the pressure there is the higher one;",
            "left", SMALL, SOFT)
    s.words((-3.0, -17.8), "prove it by a puff, not by the print", "left", SMALL, SOFT)
    return s.svg()
