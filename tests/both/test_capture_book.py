"""The curve of a run and the book of runs: rising, short, agreeing, the lowest counts."""

from alula.stall_capture.book import RUNS_MOST, RunBook
from alula.stall_capture.curve_fit import POINTS_MOST, CurveFit


class Verdict:
    """What the book reads of a judge."""

    def __init__(self, stall_bp, slope_bp=600, method=1) -> None:
        self.stall_bp, self.slope_bp, self.method = stall_bp, slope_bp, method
        self.entry_ckts = 100
        self.curve = CurveFit(1)
        self.curve.begin(0, stall_bp)
        for x in range(0, stall_bp, 50):
            self.curve.add(x, 400 + 550 * x // stall_bp)
        assert self.curve.finish(stall_bp)


def book_of(*ratios, needed=3, agree_pm=60):
    book = RunBook(needed, agree_pm)
    for ratio in ratios:
        book.add(Verdict(ratio))
    return book


def rises(curve):
    n = curve.length
    return all(curve.ratios_bp[i] < curve.ratios_bp[i + 1]
               and curve.lifts_pm[i] < curve.lifts_pm[i + 1] for i in range(n - 1))


def random_numbers(seed):
    """A linear congruential generator (Numerical Recipes, "quick and dirty"): 0..999."""
    while True:
        seed = (seed * 1664525 + 1013904223) % (1 << 32)
        yield (seed >> 8) % 1000


def test_a_clean_line_comes_back():
    curve = CurveFit(1)
    curve.begin(1000, 8000)
    for x in range(1000, 8000, 20):
        curve.add(x, 300 + (x - 1000) // 10)
    assert curve.finish(8000) and curve.length == POINTS_MOST and rises(curve)
    for i in range(curve.length - 1):
        # a bin mean lies on the line, but for the floor of two whole-number means
        wanted = 300 + (curve.ratios_bp[i] - 1000) // 10
        assert -1 <= curve.lifts_pm[i] - wanted <= 1
    assert (curve.ratios_bp[curve.length - 1], curve.lifts_pm[curve.length - 1]) == (8000, 1000)


def test_whatever_comes_in_the_curve_rises_and_is_short():
    curve = CurveFit(1)
    for seed in range(200):
        dice = random_numbers(seed)
        low, high = -2000 + 2 * next(dice), 3000 + 5 * next(dice)
        curve.begin(low, high)
        for _ in range(next(dice) // 4 + 1):
            curve.add(low + (high - low) * next(dice) // 900, 300 + next(dice))
        fit = curve.finish(high)
        assert 1 <= curve.length <= POINTS_MOST and rises(curve), seed
        assert curve.ratios_bp[curve.length - 1] == high
        assert curve.lifts_pm[curve.length - 1] == 1000
        assert fit == (curve.length >= 3 and curve.lifts_pm[0] <= 800), seed


def test_pooled_bins_are_the_isotonic_means():
    # Seven bins of ten points each. Pooling adjacent violators (Ayer et al. 1955): 500 500 600
    # 560 520 700 900 -> (500 500) (600 560 520) 700 900, the means 500, 560, 700, 900.
    curve = CurveFit(1)
    curve.begin(0, 7000)
    for i, lift in enumerate((500, 500, 600, 560, 520, 700, 900)):
        for k in range(10):
            curve.add(1000 * i + 50 + 100 * k, lift)
    assert curve.finish(7000)
    assert list(curve.lifts_pm)[:curve.length] == [500, 560, 700, 900, 1000]
    assert list(curve.ratios_bp)[:curve.length] == [1000, 3500, 5500, 6500, 7000]


def test_a_curve_of_too_little_is_no_curve():
    curve = CurveFit(1)
    curve.begin(0, 7000)
    assert not curve.finish(7000)  # nothing at all
    curve.begin(0, 7000)
    for _ in range(50):
        curve.add(100, 500)
    assert not curve.finish(7000)  # one bin
    curve.begin(0, 7000)
    for x in range(0, 7000, 20):
        curve.add(x, 850 + x // 60)
    assert not curve.finish(7000)  # starts too near the stall: 850 of 1000


def test_fewer_runs_than_needed_decide_nothing():
    assert book_of().best == -1 and book_of(8000).best == -1 and book_of(8000, 8000).best == -1


def test_of_three_that_agree_the_lowest_counts():
    # slope 600: 60 per mille of lift are 360 in ratio
    for ratios in ((8000, 8100, 8300), (8300, 8000, 8100), (8100, 8300, 8000)):
        book = book_of(*ratios)
        assert book.stall_bp[book.best] == 8000 and book.agreeing == 3
        assert book.spread_pm == 50


def test_runs_that_lie_too_far_apart_disagree_and_say_how_far():
    book = book_of(8000, 8400, 8800)
    assert book.best == -1 and book.spread_pm == 800 * 100 // 600


def test_an_outlier_below_does_not_count_until_others_join_it():
    book = book_of(7000, 8000, 8100)
    assert book.best == -1
    book.add(Verdict(8200))
    assert book.stall_bp[book.best] == 8000 and book.agreeing == 3
    book.add(Verdict(7100))
    assert book.stall_bp[book.best] == 8000
    book = book_of(7000, 8000, 8100, 7050, 7200)
    assert book.stall_bp[book.best] == 7000


def test_an_outlier_above_is_left_out():
    book = book_of(8000, 9000, 8050, 8100)
    assert book.stall_bp[book.best] == 8000 and book.agreeing == 3


def test_a_full_book_forgets_the_oldest():
    book = book_of(*[5000 + 500 * i for i in range(RUNS_MOST)])
    for ratio in (8000, 8010, 8020):
        book.add(Verdict(ratio))
    assert book.count == RUNS_MOST
    assert list(book.stall_bp) == [6500, 7000, 8000, 8010, 8020]
    assert book.stall_bp[book.best] == 8000


def test_needs_as_many_as_the_settings_say():
    assert book_of(8000, 8010, needed=2).best == 0
    assert book_of(8000, 8010, 8020, 8030, needed=5).best == -1


def test_books_can_be_joined():
    one, other = book_of(8000), book_of(8100, 8050)
    for i in range(other.count):
        one.enter(other, i)
    assert one.count == 3 and one.stall_bp[one.best] == 8000
    assert list(one.ratios_bp[1]) == list(other.ratios_bp[0])
    assert one.lengths[2] == other.lengths[1]


def test_clear_forgets_all():
    book = book_of(8000, 8010, 8020)
    book.clear()
    assert (book.count, book.best, book.spread_pm) == (0, -1, 0)
