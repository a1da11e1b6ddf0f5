"""The head: a hemisphere on a tube, cut along its middle plane."""

from math import cos, radians, sin

from host_sim.drawings.paper import SMALL, SOFT, Point, Sheet

R = 2.0  # the head's radius on the sheet
HEAD_MM, PORT_MM, DRAIN_MM, PORT_DEG = 16, 2.0, 0.6, 45
_TUBE_END = 8.0


def _on_head(deg: float, radius: float = R) -> Point:
    """Nose to the left; positive angles are below the axis."""
    return (-radius * cos(radians(deg)), -radius * sin(radians(deg)))


def _head(s: Sheet) -> None:
    rim = [_on_head(deg) for deg in range(-90, 91, 3)]
    s.shape([(_TUBE_END, R), *rim, (_TUBE_END, -R)], fill="#dde4ea")


def _channel(s: Sheet, deg: float, y: float, style: str) -> None:
    inner = _on_head(deg, 0.9)
    s.wire(_on_head(deg), inner, (1.2, y), (_TUBE_END + 0.8, y), width=4, style=style,
           color="#35608a")


def _angles(s: Sheet) -> None:
    s.wire((-5.2, 0), (0, 0), style="--", color=SOFT)
    for deg in (PORT_DEG, -PORT_DEG):
        s.wire((0, 0), _on_head(deg, 1.9 * R), style="--", color=SOFT)
    arc = [_on_head(deg, 1.55 * R) for deg in range(0, PORT_DEG + 1, 3)]
    s.wire(*arc, color=SOFT)
    x, y = _on_head(PORT_DEG / 2, 1.6 * R)
    s.words((x - 0.2, y), f"{PORT_DEG} deg", "right")


def draw() -> str:
    """The section, with sizes."""
    s = Sheet()
    _head(s)
    _channel(s, PORT_DEG, -0.8, "-")
    _channel(s, -PORT_DEG, 0.8, ":")
    _angles(s)
    s.words((-5.4, 0), "wind", "right")
    s.words((-2.4, -4.2), f"angled port, {PORT_MM:.0f} mm", "center")
    s.words((-2.4, 4.2), "upper port: only for\ntwo opposed ports", "center")
    s.wire((4.6, -0.8), (4.6, -R), width=2.5, color="#35608a")
    s.wire((4.6, -2.3), (4.6, -3.2), color=SOFT, arrow="<-")
    s.words((4.6, -3.6), f"drain, {DRAIN_MM} mm, at the lowest\npoint of the angled line")
    s.wire((6.8, -R), (6.8, R), color=SOFT, arrow="<->")
    s.words((6.6, 0.0), f"{HEAD_MM} mm", "right")
    s.words((5.4, 3.0), "straight tube, then the stem", size=SMALL, color=SOFT)
    s.words((2.0, -5.2), "not to scale; a head of its own, derived from flow round a sphere; "
            "the pitot stands beside it", size=SMALL, color=SOFT)
    return s.svg()
