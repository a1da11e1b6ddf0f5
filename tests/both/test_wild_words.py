"""Case A2: words that are wild, fresh and within the sensor's band, and too many for a median of
three. Whichever tick they meet, they are never heard as a margin that is not there."""

from alula.states import FAULT, QUIET
from tests.both.test_bus_campaign import SIDES, with_garbage

WILD = (1700, 3000, 5000, 7000, 9000, 10000, 12000, 14500)  # 1638 to 14746 is the band


def at_reads(first: int, words):
    """These words from a certain read on; None for a good one."""
    def answer(number: int, buffer: bytearray) -> None:
        at = number - first
        if 0 <= at < len(words) and words[at] is not None:
            buffer[0], buffer[1] = words[at] >> 8, words[at] & 255
    return answer


def test_a2_two_wild_words_among_three_are_not_heard_on_an_even_or_an_odd_tick():
    for side in SIDES:
        for wild in WILD:
            for words in ((wild, wild), (wild, None, wild), (wild,) * 5, (wild, wild, None, wild)):
                for first in (10, 11):
                    bench, _ = with_garbage(side, at_reads(first, words))
                    rows = bench.fly(300, 120)
                    assert {state for state, _ in rows} == {QUIET}, (side, words, first)
                    assert not any(hz for _, hz in rows)


def test_a2_a_word_that_turns_wild_for_good_is_a_doubt_and_no_margin():
    """A step that stays: told as soon as `fault_after_ms` is over, whichever tick it met."""
    for side in SIDES:
        for wild in (3000, 5000, 12000, 14500):
            for first in (10, 11):
                bench, _ = with_garbage(side, at_reads(first, (wild,) * 200))
                rows = bench.fly(300, 200)
                assert {state for state, _ in rows} <= {QUIET, FAULT}, (side, wild, first)
                assert rows[-1][0] == FAULT, (side, wild, first)
