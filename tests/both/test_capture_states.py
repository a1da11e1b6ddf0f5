"""The table of states: every state and every event, driven from outside."""

from alula import figures
from alula.press import LONG, SHORT
from alula.sample import FLAP_UNCLEAR
from alula.stall_capture import refusals
from alula.stall_capture.capture import (
    IDLE,
    JUDGING,
    READY,
    RECOVERING,
    SLOWING,
    STEADY,
    StallCapture,
)
from tests.both.capture_rig import HELD, RUN
from tests.both.core_rig import settings_with

STATES = (IDLE, STEADY, SLOWING, RECOVERING, JUDGING, READY)
NAMES = ("idle", "steady", "slowing", "recovering", "judging", "ready")


class Flown:
    """A capture without a unit round it, fed with whole runs."""

    def __init__(self) -> None:
        self.capture = StallCapture(settings_with())
        self.figures = []

    def row(self, row, flap=0) -> None:
        _, q, x, n = row
        self.capture.step(10, True, q, x, n, True, flap)
        figure = self.capture.take_figure()
        if figure != figures.NOTHING:
            self.figures.append(figure)

    def to(self, state):
        """Fly runs until the capture is in a state; returns itself."""
        if state == IDLE:
            return self
        self.capture.press(LONG, True, 6000, 0)
        for _ in range(4):
            for row in RUN:
                if self.capture.state == state:
                    return self
                self.row(row)
        assert self.capture.state == state, (state, self.capture.state)
        return self


def after(state, event):
    """The state that an event leads to."""
    flown = Flown().to(state)
    event(flown)
    return flown.capture.state


def test_the_runs_of_these_tests_reach_every_state():
    for state in STATES:
        assert Flown().to(state).capture.state == state


def test_a_long_press_in_flight_arms_or_cancels():
    found = [after(state, lambda f: f.capture.press(LONG, True, 6000, 0)) for state in STATES]
    assert found == [STEADY, IDLE, IDLE, IDLE, IDLE, IDLE]


def test_a_long_press_on_the_ground_is_refused_aloud_and_arms_nothing():
    flown = Flown()
    flown.capture.press(LONG, False, 37, 0)
    capture = flown.capture
    assert capture.state == IDLE and capture.take_figure() == figures.REFUSED
    assert (capture.refusal, capture.number) == (refusals.NOT_FLYING, 37)


def test_an_unclear_flap_setting_is_refused_aloud():
    flown = Flown()
    flown.capture.press(LONG, True, 6000, FLAP_UNCLEAR)
    assert flown.capture.state == IDLE and flown.capture.refusal == refusals.FLAP_MOVED
    assert flown.capture.take_figure() == figures.REFUSED


def test_a_short_press_marks_only_while_slowing():
    def late(flown):
        for _ in range(300):  # at least two seconds into the run
            if flown.capture.state == SLOWING:
                flown.row(RUN[500])
        flown.capture.press(SHORT, True, 6000, 0)
    found = [after(state, late) for state in STATES]
    assert found == [IDLE, STEADY, RECOVERING, RECOVERING, JUDGING, READY]


def test_a_short_press_at_the_very_start_of_a_run_does_nothing():
    assert after(SLOWING, lambda f: f.capture.press(SHORT, True, 6000, 0)) == SLOWING


def test_a_fault_ends_a_run_and_nothing_else():
    found = [after(state, lambda f: f.capture.broken(7)) for state in STATES]
    assert found == [IDLE, STEADY, STEADY, STEADY, STEADY, READY]
    flown = Flown().to(SLOWING)
    flown.capture.broken(7)
    assert (flown.capture.refusal, flown.capture.number) == (refusals.FAULT, 7)
    assert flown.capture.take_figure() == figures.REFUSED


def test_cancel_and_saved_end_everything():
    for event, figure in ((StallCapture.cancel, figures.CANCELLED),
                          (lambda capture: capture.end(True), figures.SAVED),
                          (lambda capture: capture.end(False), figures.REFUSED)):
        for state in STATES:
            flown = Flown().to(state)
            event(flown.capture)
            assert flown.capture.state == IDLE
            assert flown.capture.book.count == 0 and flown.capture.book.best == -1
            assert flown.capture.take_figure() == figure


def test_flaps_that_move_end_the_run_and_forget_the_others():
    for state, expected in ((SLOWING, STEADY), (RECOVERING, STEADY), (STEADY, STEADY)):
        flown = Flown().to(state)
        # 600 ms; at the start of the recovery, so that the run is not over before
        at = 500 if state != RECOVERING else RUN.index(next(r for r in RUN if r[0] == HELD))
        for row in RUN[at:at + 60]:
            flown.row(row, flap=1)
        capture = flown.capture
        assert capture.state == expected and capture.flap == 1
        assert capture.book.count == 0
        moved = capture.refusal == refusals.FLAP_MOVED
        assert moved == (state != STEADY)
        assert (figures.REFUSED in flown.figures) == (state != STEADY)


def test_flap_bounce_does_nothing():
    plain, bounced = Flown().to(SLOWING), Flown().to(SLOWING)
    rows = RUN[600:1400]
    for i, row in enumerate(rows):
        plain.row(row)
        bounced.row(row, flap=1 if i % 60 < 49 else 0)  # 490 ms of every 600 elsewhere
    assert bounced.capture.state == plain.capture.state
    assert bounced.figures == plain.figures and bounced.capture.flap == 0


def test_unknown_ratio_for_longer_than_a_moment_starts_the_steady_part_anew():
    flown = Flown().to(SLOWING)
    for _ in range(20):
        flown.capture.step(10, False, 0, 0, 1000, True, 0)
    assert flown.capture.state == SLOWING


def test_a_run_without_a_stall_ends_in_time():
    flown = Flown().to(SLOWING)
    ticks = 0
    while flown.capture.state == SLOWING:
        flown.row(RUN[100])
        ticks += 1
        assert ticks < 6200
    # capture_longest_s: 60
    assert 5800 < ticks <= 6110
    assert flown.capture.refusal == refusals.NO_STALL and figures.REFUSED in flown.figures


def test_three_good_runs_make_it_ready_and_it_waits():
    flown = Flown().to(READY)
    assert flown.capture.book.count == 3 and flown.capture.verdicts == 3
    assert flown.figures.count(figures.ACCEPTED) == 3
    for row in RUN:
        flown.row(row)
    assert flown.capture.state == READY and flown.capture.book.count == 3


def test_every_word_has_its_number_and_its_remedy():
    count = len(refusals.WORDS)
    assert len(refusals.NUMBERS) == len(refusals.REMEDIES) == count
    assert len(set(refusals.WORDS)) == count
    assert all(len(text) > 10 for text in refusals.REMEDIES[1:])
