"""Short figures of notes: what the unit says besides the margin sounds.

A figure is a flat tuple of pitch in Hz and length in ms, in turn; pitch 0 is a rest. They are our
own: falling for trouble, rising for good news, level for a remark. None is like the margin
sounds (pulses on one pitch, two-pitch warble), Morse or a marker beacon.
"""

NOTHING = -1
CANNOT_KNOW = 0  # a fault: the unit cannot know the margin
UNCALIBRATED = 1  # no valid calibration: there will be no margin sounds
STARTED = 2  # self-test of the sound at every start
ZERO_KEPT = 3  # the start was not still enough for a new zero; the stored one is in use
AIR_START = 4  # started while flying: stored zero and calibration in use
FLAP_UNKNOWN = 5  # no curve for this flap setting; the most cautious one is in use
# Guidance in a stall capture, all of it higher and shorter than anything above
ARMED = 6  # the capture is armed: hold steady
SLOW_NOW = 7  # steady enough: slow down by 1 kt a second
GOOD = 8  # the pace is right
EASE = 9  # too quick: slow down more gently
MORE = 10  # too slow: raise the nose a little more
RECOVER = 11  # the stall has passed: recover now
ACCEPTED = 12  # the run counts
REFUSED = 13  # the run does not count
CANCELLED = 14  # nothing was stored
SAVED = 15  # stored, read back, in use
NOTED = 16  # the reference point is stored
AMISS = 17  # a stored record is damaged or does not fit: connect a computer and read why
# Guidance in a check on the ground, the highest of all
NEXT_STEP = 18  # a step of the checks begins
PORT_ONE = 19  # so many notes: breathe at this port, press this line
PORT_TWO = 20
PORT_THREE = 21
PORT_FOUR = 22

FIGURES = (
    (900, 200, 0, 40, 600, 300),
    (900, 160, 0, 40, 750, 160, 0, 40, 600, 260),
    (600, 120, 0, 30, 800, 120, 0, 30, 1000, 200),
    (750, 150, 0, 100, 750, 150),
    (750, 150, 0, 100, 750, 150, 0, 100, 750, 150),
    (750, 150, 0, 100, 750, 150, 0, 100, 750, 150, 0, 100, 750, 150),
    (1250, 100, 0, 80, 1250, 100),
    (1250, 350),
    (1250, 80),
    (1500, 90, 0, 20, 1250, 120),
    (1250, 90, 0, 20, 1500, 120),
    (1500, 90, 0, 40, 1500, 90, 0, 40, 1500, 90, 0, 40, 1500, 90),
    (1250, 120, 0, 30, 1500, 120, 0, 30, 1800, 200),
    (1500, 120, 0, 30, 1350, 120, 0, 30, 1250, 200),
    (1250, 60, 0, 30, 1250, 60, 0, 30, 1250, 60),
    (1250, 100, 0, 30, 1500, 100, 0, 30, 1800, 100, 0, 30, 2100, 250),
    (1250, 80, 0, 40, 1800, 160),
    (750, 900),
    (1800, 70, 0, 30, 1350, 70, 0, 30, 1800, 70),
    (2100, 130),
    (2100, 130, 0, 130, 2100, 130),
    (2100, 130, 0, 130, 2100, 130, 0, 130, 2100, 130),
    (2100, 130, 0, 130, 2100, 130, 0, 130, 2100, 130, 0, 130, 2100, 130),
)


class FigurePlayer:
    """Walks through one figure in time.

    hz: the pitch that should sound now, 0 in a rest or when nothing is playing.
    playing: whether a figure is under way.
    """

    def __init__(self) -> None:
        self.hz = 0
        self.playing = False
        self._figure: tuple = FIGURES[0]
        self._at = 0
        self._left_ms = 0

    def start(self, figure: int) -> None:
        """Begin a figure from its first note. No allocation."""
        self._figure = FIGURES[figure]
        self._at = 0
        self.hz = self._figure[0]
        self._left_ms = self._figure[1]
        self.playing = True

    def stop(self) -> None:
        """Fall silent. No allocation."""
        self.playing = False
        self.hz = 0

    def step(self, dt_ms: int) -> None:
        """Let dt_ms pass. No allocation."""
        if not self.playing:
            return
        self._left_ms -= dt_ms
        while self._left_ms <= 0:
            self._at += 2
            if self._at >= len(self._figure):
                self.stop()
                return
            self._left_ms += self._figure[self._at + 1]
            self.hz = self._figure[self._at]
