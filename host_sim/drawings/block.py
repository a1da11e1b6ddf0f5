"""The whole unit in boxes, from the air to the ear."""

from host_sim.drawings.paper import SMALL, SOFT, Sheet

_W, _H = 3.4, 1.5


def draw() -> str:
    """Boxes and arrows."""
    s = Sheet()
    for x, y, text in ((0, 8, "pitot"), (0, 5.5, "static"), (0, 3, "angled port"),
                       (5.6, 8, "pitot\nsensor"), (5.6, 3, "angled\nsensor"),
                       (5.6, 0.5, "accelerometer\n(wing normal)"),
                       (16.8, 8, "intercom or\nsounder"), (16.8, 5.5, "lamp")):
        s.box((x, y), (_W, _H), text)
    s.box((11.2, 0.5), (_W, 9.0), "board:\ntwo pressures,\none ratio,\none sound")
    for y in (8.75, 3.75):
        s.wire((_W, y), (5.6, y), arrow="->")
    s.wire((_W, 6.25), (7.3, 6.25))
    s.wire((7.3, 6.25), (7.3, 8.0), arrow="->")
    s.wire((7.3, 6.25), (7.3, 4.5), arrow="->")
    s.dot((7.3, 6.25))
    for y, text in ((8.75, "bus 0"), (3.75, "bus 1"), (1.25, "bus 0")):
        s.wire((9.0, y), (11.2, y), arrow="->")
        s.words((10.1, y + 0.3), text, size=SMALL, color=SOFT)
    _board(s)
    s.words((4.5, 9.1), "tubes", size=SMALL, color=SOFT)
    s.words((8.3, 10.2), "drawn for port minus static; the other two plumbings change the tubes "
            "only", size=SMALL, color=SOFT)
    return s.svg()


def _board(s: Sheet) -> None:
    """What goes out of the board, and into it."""
    for y, text in ((8.75, "tone"), (6.25, "blinks")):
        s.wire((14.6, y), (16.8, y), arrow="->")
        s.words((15.7, y + 0.3), text, size=SMALL, color=SOFT)
    for y, text in ((3.75, "button"), (2.75, "flap contacts"), (1.75, "5 V, fused"),
                    (0.9, "USB, on the ground")):
        s.wire((16.8, y), (14.6, y), arrow="->")
        s.words((17.0, y), text, "left")
