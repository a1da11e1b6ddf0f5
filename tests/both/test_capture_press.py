"""One button: what is a short press, a long one, and neither."""

from alula.press import LONG, NONE, SHORT, Press


def events(levels, dt_ms=10):
    """(ms, event) of a button whose level is given in stretches of (ms, level)."""
    press, found, now = Press(), [], 0
    for ms, level in levels:
        for _ in range(0, ms, dt_ms):
            now += dt_ms
            event = press.step(dt_ms, level)
            if event != NONE:
                found.append((now, event))
    return found


def kinds(levels, dt_ms=10):
    return [event for _, event in events(levels, dt_ms)]


def test_a_short_press_counts_when_it_ends():
    (at, event), = events([(500, 0), (300, 1), (500, 0)])
    assert event == SHORT and 800 < at <= 860


def test_a_long_press_counts_while_held_and_once():
    (at, event), = events([(500, 0), (4000, 1), (500, 0)])
    assert event == LONG and 2000 <= at <= 2100


def test_in_between_is_neither():
    for held in (900, 1200, 1400):
        assert kinds([(500, 0), (held, 1), (2000, 0)]) == []


def test_the_borders_of_short_and_long():
    assert kinds([(500, 0), (780, 1), (500, 0)]) == [SHORT]
    assert kinds([(500, 0), (1600, 1), (500, 0)]) == [LONG]


def test_bounce_at_both_ends_is_one_press():
    bounce = [(10, 1), (10, 0), (20, 1), (10, 0)]
    assert kinds([(500, 0)] + bounce + [(300, 1)] + bounce + [(500, 0)]) == [SHORT]
    assert kinds([(500, 0)] + bounce + [(1800, 1)] + bounce + [(500, 0)]) == [LONG]


def test_a_glitch_is_nothing():
    assert kinds([(500, 0), (20, 1), (3000, 0)]) == []
    # nor does a glitch in a long press begin it anew
    assert kinds([(500, 0), (800, 1), (20, 0), (900, 1), (500, 0)]) == [LONG]


def test_a_button_stuck_from_the_start_says_one_thing_at_most():
    # A short circuit looks like a press that never ends: one long press, which on the ground arms
    # nothing, and never more.
    found = kinds([(60000, 1), (2000, 0)])
    assert found in ([], [LONG])


def test_two_presses_are_two():
    assert kinds([(500, 0), (200, 1), (200, 0), (200, 1), (500, 0)]) == [SHORT, SHORT]
    assert kinds([(500, 0), (1700, 1), (200, 0), (1700, 1), (500, 0)]) == [LONG, LONG]


def test_other_tick_lengths():
    for dt_ms in (5, 8, 20):
        assert kinds([(480, 0), (320, 1), (480, 0)], dt_ms) == [SHORT]
        assert kinds([(480, 0), (1760, 1), (480, 0)], dt_ms) == [LONG]
        assert kinds([(480, 0), (1120, 1), (480, 0)], dt_ms) == []
