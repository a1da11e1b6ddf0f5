"""What the checks tell: figure, lamp, sounds to be known, and news for whoever writes them out."""

from micropython import const

from alula import figures, states
from alula.ground_check import steps

_RING = const(8)
PORT_FIGURES = (figures.PORT_ONE, figures.PORT_TWO, figures.PORT_THREE, figures.PORT_FOUR)
_FIGURES = {
    steps.STEP_BEGINS: figures.NEXT_STEP,
    steps.ASK_PORT: figures.PORT_ONE,  # stands for the figure of the port
    steps.PUSH: figures.PORT_ONE,
    steps.TAKEN: figures.GOOD,
    steps.TOO_STRONG: figures.EASE,
    steps.SILENT: figures.MORE,
    steps.WRONG: figures.REFUSED,
    steps.RIGHT: figures.ACCEPTED,
    steps.HOLDING: figures.GOOD,
    steps.LEAK_RESULT: figures.SLOW_NOW,  # one long note: let go
    steps.NOT_A_TEST: figures.REFUSED,
    steps.OTHER_MOVES: figures.REFUSED,
    steps.TOO_MUCH: figures.EASE,
    steps.ENDED: figures.CANCELLED,
    steps.MOVING: figures.REFUSED,
}
FIGURE_OF_NEWS = tuple([_FIGURES.get(news, figures.NOTHING) for news in range(steps.NEWS_COUNT)])


class Telling:
    """heard, pulse_millihz, tone_hz: for the voice, in place of its quiet. lamp_blinks: see
    `LampCode.guide`. told: how many news so far; `news(i)` is number i of the latest eight."""

    def __init__(self) -> None:
        self.told = 0
        self._ring = bytearray(_RING)
        self._figure = figures.NOTHING
        self.lamp_blinks = 0
        self.quiet()

    def quiet(self) -> None:
        """No sound but figures. No allocation."""
        self.heard = states.QUIET
        self.pulse_millihz = self.tone_hz = 0

    def play(self, tour) -> None:
        """What the tour of sounds plays now. No allocation."""
        self.heard = tour.state
        self.pulse_millihz, self.tone_hz = tour.pulse_millihz, tour.tone_hz
        if tour.figure != figures.NOTHING:
            self._figure = tour.figure

    def take_figure(self) -> int:
        """The figure to announce, once. No allocation."""
        figure = self._figure
        self._figure = figures.NOTHING
        return figure

    def forget_figure(self) -> None:
        """The unit has something to say of its own. No allocation."""
        self._figure = figures.NOTHING

    def tell(self, news: int) -> None:
        """News, with its figure if it has one. No allocation."""
        self._ring[self.told & _RING - 1] = news
        self.told += 1
        if self.told > 0xFFFFF:
            self.told = 0
        figure = FIGURE_OF_NEWS[news]
        if figure != figures.NOTHING:
            self._figure = figure

    def tell_port(self, news: int, port: int) -> None:
        """News of a port: so many notes, so many blinks. No allocation."""
        self.tell(news)
        self._figure = PORT_FIGURES[port]
        self.lamp_blinks = port + 1

    def conclude(self, failed_row: int) -> None:
        """The verdict: lit and good news, or the row that failed, blinked. No allocation."""
        self.tell(steps.VERDICT_COMES)
        self._figure = figures.ACCEPTED if failed_row < 0 else figures.REFUSED
        self.lamp_blinks = -1 if failed_row < 0 else failed_row + 1

    def news(self, number: int) -> int:
        """One of the latest news. No allocation."""
        return self._ring[number & _RING - 1]
