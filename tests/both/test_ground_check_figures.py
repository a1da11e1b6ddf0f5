"""The figures of the checks are told from every other sound. Both interpreters."""

from alula import figures
from alula.ground_check.telling import FIGURE_OF_NEWS, PORT_FIGURES
from tests.both.core_rig import settings_with

NEW = (figures.NEXT_STEP,) + PORT_FIGURES


def notes(figure: int) -> list:
    """(pitch, ms) of each note."""
    found = figures.FIGURES[figure]
    return [(found[i], found[i + 1]) for i in range(len(found)) if i % 2 == 0 and found[i]]


def test_a_new_figure_is_like_no_other():
    """Apart in count of notes, in the way their pitch goes, in pitch by a fifth of it, or in
    length by half (own choice; NUREG-0700: signals that differ in one way must differ much)."""
    for one in NEW:
        for other in range(len(figures.FIGURES)):
            if one == other:
                continue
            a, b = notes(one), notes(other)
            if len(a) != len(b) or len(a) > 1 and ways(a) != ways(b):
                continue
            pitch = max(a[0][0], b[0][0]) * 100 // min(a[0][0], b[0][0])
            length = max(total(a), total(b)) * 100 // min(total(a), total(b))
            assert pitch >= 120 or length >= 150, (one, other)


def ways(found: list) -> list:
    return [(found[i][0] > found[i - 1][0]) - (found[i][0] < found[i - 1][0])
            for i in range(1, len(found))]


def total(found: list) -> int:
    return sum([ms for _, ms in found])


def test_figures_of_the_checks_are_like_no_warning():
    settings = settings_with()
    for figure in NEW:
        pitches = [hz for hz, _ in notes(figure)]
        assert max(pitches) > settings.warble_high_hz * 12 // 10  # above every warning
        assert min(pitches) >= 500 and max(pitches) <= 2500  # ISO 7731, from memory
        falling = pitches == sorted(pitches, reverse=True) and len(set(pitches)) > 1
        assert not falling  # falling is for trouble
        assert total(notes(figure)) < 1000


def test_ports_are_told_by_the_number_of_notes():
    for i in range(4):
        assert len(notes(PORT_FIGURES[i])) == i + 1
        rests = [figures.FIGURES[PORT_FIGURES[i]][k + 1]
                 for k in range(0, len(figures.FIGURES[PORT_FIGURES[i]]), 2)
                 if figures.FIGURES[PORT_FIGURES[i]][k] == 0]
        assert all(ms >= 100 for ms in rests)  # or they would be counted as one (own choice)
    assert len(FIGURE_OF_NEWS) == 26
