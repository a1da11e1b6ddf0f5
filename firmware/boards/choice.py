"""Which board file runs: the one for the port of this interpreter, or the builder's own.

A board file is a module of this folder with a class `Board`. `sys.platform` names the port that
MicroPython was built for, "rp2" or "esp32"; so the same files run on either board, and nobody has
to say which. Who has wired another board of the same port puts a `this_board.py` beside this
file; it is taken before the others.
"""

import sys

OWN = "this_board"
BOARDS = {"rp2": "rpi_pico", "esp32": "esp32"}


class NoBoard(Exception):
    """There is no board file for this interpreter."""


def _module(name: str):
    return __import__("boards." + name, None, None, ("Board",))


def choose(platform: str = sys.platform):
    """The class `Board` for a port; NoBoard where there is none. May allocate: at start only.

    A `this_board.py` that is there, but cannot be imported for a reason of its own, is an error
    and no cause to take another: its pins are the ones that are wired.
    """
    try:
        return _module(OWN).Board
    except ImportError as error:
        if OWN not in str(error):
            raise
    if platform not in BOARDS:
        raise NoBoard("no board file for %s; write boards/%s.py" % (platform, OWN))
    return _module(BOARDS[platform]).Board
