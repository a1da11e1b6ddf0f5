"""A sheet to draw on: boxes, wires and words at given places. Units are schemdraw's, y is up."""

import re

import schemdraw
from schemdraw import elements as elm
from schemdraw.segments import Segment, SegmentCircle, SegmentPoly

Point = tuple[float, float]
FONT_SIZE = 12
SMALL = 10
LINE, SOFT, FILL = "#1c2733", "#5b6b7a", "#eef2f5"


class _Piece(elm.Element):
    """Segments in the coordinates of the sheet."""

    def __init__(self, segments: list) -> None:
        super().__init__()
        self.segments.extend(segments)
        self.params["drop"] = (0, 0)


class Sheet:
    """Collects pieces; `svg()` gives the file. The same calls give the same bytes."""

    def __init__(self) -> None:
        schemdraw.use("svg")
        schemdraw.svgconfig.text = "text"  # words stay words: searchable, and the same everywhere
        self.drawing = schemdraw.Drawing(show=False)
        self.drawing.config(fontsize=FONT_SIZE, font="sans-serif", color=LINE, bgcolor="white",
                            margin=0.7)

    def words(self, at: Point, text: str, align: str = "center", size: float = FONT_SIZE,
              color: str = LINE) -> None:
        """Text centred on a height; align: center, left or right of the point."""
        self.drawing.add(elm.Label().at(at).label(
            text, loc="center", halign=align, valign="center", fontsize=size, color=color,
            ofst=0))

    def wire(self, *points: Point, color: str = LINE, style: str = "-", width: float = 1.5,
             arrow: str | None = None) -> None:
        """A line through the points."""
        self._piece([Segment(list(points), color=color, ls=style, lw=width, arrow=arrow)])

    def box(self, corner: Point, size: Point, text: str = "", fill: str = FILL,
            style: str = "-") -> None:
        """A box by its lower left corner, with text in its middle."""
        (x, y), (w, h) = corner, size
        self.shape([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], fill, style)
        if text:
            self.words((x + w / 2, y + h / 2), text)

    def shape(self, points: list[Point], fill: str | None = FILL, style: str = "-") -> None:
        """A closed shape."""
        self._piece([SegmentPoly(points, fill=fill, ls=style, color=LINE, lw=1.5)])

    def circle(self, centre: Point, radius: float, fill: str | None = FILL) -> None:
        """A circle."""
        self._piece([SegmentCircle(centre, radius, fill=fill, color=LINE, lw=1.5)])

    def dot(self, at: Point) -> None:
        """Wires that are joined."""
        self._piece([SegmentCircle(at, 0.07, fill=LINE, color=LINE)])

    def ground(self, at: Point) -> None:
        """A ground symbol hanging from a point."""
        self.drawing.add(elm.Ground().at(at))

    def part(self, element: elm.Element, start: Point, end: Point, text: str = "",
             below: bool = False) -> None:
        """A two-terminal part between two points."""
        part = element.at(start).to(end)
        if text:
            part = part.label(text, loc="bottom" if below else "top", fontsize=SMALL)
        self.drawing.add(part)

    def svg(self) -> str:
        """The drawing; numbers rounded, so that the last digit of a sine does not matter."""
        text = self.drawing.get_imagedata("svg").decode()
        return re.sub(r"-?\d+\.\d{3,}", lambda found: f"{float(found[0]) + 0.0:.2f}", text) + "\n"

    def _piece(self, segments: list) -> None:
        self.drawing.add(_Piece(segments).at((0, 0)).right())
