"""One pressure channel: stale words, wild words, rails, gaps, ramps; and the pieces under it."""

from alula.conditioning import RAIL, Channel
from alula.elapsed import since_ms
from alula.lift_curve import LiftCurve
from alula.moving_line import MovingLine
from alula.pressure_ratio import ratio_bp, step_bp
from alula.sample import FRESH, NO_REPLY, SENSOR_FAULT, STALE
from alula.transfer import Transfer

TICK_MS = 10
RAMP_PER_TICK = 7


def channel(output: str = "direct", lead_ms: int = 0) -> Channel:
    """100 Hz, 200 ms window, 100 ms gap: the defaults."""
    return Channel(Transfer(output, -100000, 100000, 1), 100, 200, 100, lead_ms)


def fed(words, status: int = FRESH, found=None) -> Channel:
    """A channel after words one tick apart."""
    found = channel() if found is None else found
    for word in words:
        found.step(TICK_MS, status, word)
    return found


def test_a_window_must_be_full_before_it_tells_anything():
    seen = channel()
    ready = []
    for _ in range(40):
        seen.step(TICK_MS, FRESH, 5000)
        ready.append(seen.ready)
    assert ready.index(True) == 21  # 20 medians, each of which waits for one word on either side
    assert seen.dpa == 5000


def test_a_steady_ramp_is_followed_without_lag():
    seen = fed([RAMP_PER_TICK * i for i in range(100)])
    assert seen.ready and abs(seen.dpa - RAMP_PER_TICK * 99) <= 1  # rounding only


def test_lead_reads_a_ramp_ahead_of_its_time():
    seen = fed([RAMP_PER_TICK * i for i in range(100)], found=channel(lead_ms=50))
    assert abs(seen.dpa - RAMP_PER_TICK * (99 + 5)) <= 1


def test_a1_stale_words_are_not_fed_again():
    # cases A1: half of the words are repeats the sensor itself calls stale
    thinned, plain = channel(), channel()
    for i in range(200):
        word = 3000 + 11 * i
        thinned.step(5, FRESH, word)
        thinned.step(5, STALE, word)
        plain.step(5, NO_REPLY, 0)
        plain.step(5, FRESH, word)
        if i > 40:
            assert thinned.ready and thinned.age_ms == 5
            assert abs(thinned.dpa - word) <= 1  # and no lag from the repeats


def test_a1_stale_for_long_empties_the_window():
    seen = fed([5000] * 50)
    for i in range(11):
        assert not seen.dropped and seen.dpa == 5000
        seen.step(TICK_MS, STALE, 5000)
        assert seen.age_ms == (i + 1) * TICK_MS
    assert seen.dropped and seen.reason == STALE


def test_a2_a_wild_word_never_shows():
    for wild in (0, 16382, -99999, 99999, 8192):
        seen = fed([5000] * 50)
        for word in (wild, 5000, 5000, 5000):
            seen.step(TICK_MS, FRESH, word)
            assert seen.dpa == 5000


def test_a2_one_wild_word_in_fifty_never_shows():
    seen = fed([5000] * 50)
    for i in range(6000):
        seen.step(TICK_MS, FRESH, 16382 if i % 50 == 0 else 5000)
        assert seen.dpa == 5000 and seen.ready


def test_a2_rails_are_rejected_always():
    # the words 0 and 16383 are outside every output band of the family (data sheets)
    for output in ("ms4525-a", "ms4525-b", "hsc-a", "hsc-b", "hsc-c", "hsc-f"):
        seen = fed([8192] * 50, found=channel(output))
        before = seen.dpa
        for word in (0, 16383):
            seen.step(TICK_MS, FRESH, word)
            assert seen.reason == RAIL and seen.dpa == before and seen.ready
        seen.step(TICK_MS, FRESH, 8192)
        assert seen.reason == FRESH and seen.age_ms == 0


def test_a3_no_data_makes_no_number():
    for status in (NO_REPLY, SENSOR_FAULT):
        seen = fed([5000] * 50)
        seen.zero_dpa = 1060
        for _ in range(10):
            seen.step(TICK_MS, status, 0)
            assert seen.dpa == 5000 and seen.reason == status
        seen.step(TICK_MS, status, 0)
        assert seen.dropped
        seen.clear()
        assert not seen.ready and seen.dpa == 0


def test_a6_after_a_gap_nothing_old_is_left():
    seen = fed([10000] * 50)
    fed([0] * 60, NO_REPLY, seen)
    assert seen.dropped
    seen.clear()
    zero_kept = seen.zero_dpa
    fed([2500] * 22, found=seen)
    assert seen.ready and seen.dpa == 2500 and seen.zero_dpa == zero_kept


def test_e4_a_short_gap_is_bridged_in_true_time():
    # cases E4: samples are not silently stretched in time: 80 ms without words on a ramp
    seen = fed([RAMP_PER_TICK * i for i in range(50)])
    for _ in range(50, 57):
        seen.step(TICK_MS, NO_REPLY, 0)
    for i in range(57, 62):
        seen.step(TICK_MS, FRESH, RAMP_PER_TICK * i)
        assert abs(seen.dpa - RAMP_PER_TICK * i) <= 2 and seen.ready
    late = fed([RAMP_PER_TICK * i for i in range(50)])
    late.step(80, FRESH, RAMP_PER_TICK * 57)  # the loop itself was late
    assert abs(late.dpa - RAMP_PER_TICK * 57) <= 2


def test_a_zero_is_taken_off_before_anything_else():
    seen = channel()
    seen.zero_dpa = 137
    assert fed([5000] * 50, found=seen).dpa == 5000 - 137


def test_age_is_bounded():
    seen = channel()
    for _ in range(5):
        seen.step((1 << 29) - 1, NO_REPLY, 0)
        assert 0 < seen.age_ms <= 600000


def test_a_line_of_values_is_read_ahead():
    line = MovingLine(10, 20)
    for i in range(25):
        line.push(3 * i - 40)
        assert line.full == (i >= 9)
    assert abs(line.value(0) - (3 * 24 - 40)) <= 1  # mean and slope are rounded one by one
    assert abs(line.value(100) - (3 * 29 - 40)) <= 1
    line.clear()
    assert not line.full and line.count == 0


def test_the_ratio_rounds_both_signs_alike_and_is_clamped():
    assert ratio_bp(0, 3000, 1000) == 3333 and ratio_bp(0, 3000, -1000) == -3333
    assert ratio_bp(1, 3000, 1000) == 6667  # pitot minus port: one minus that
    assert ratio_bp(2, 3000, 2000) == 6667
    assert ratio_bp(0, 1, 100000) == 30000 and ratio_bp(0, 1, -100000) == -30000
    assert ratio_bp(1, 1, 100000) == -30000


def test_the_lift_curve_goes_through_its_points_and_on():
    curve = LiftCurve(((-1000, 250), (2000, 550), (4000, 900), (5000, 1000)))
    for ratio, lift in ((-1000, 250), (500, 400), (2000, 550), (3000, 725), (4000, 900),
                        (5000, 1000), (6000, 1100), (-2000, 150), (-9000, 0), (30000, 1500)):
        assert curve.lift_pm(ratio) == lift
    assert curve.stall_bp == 5000
    curve.lift_pm(3000)
    assert curve.step_pm(100) == 17  # 350 pm over 2000 bp, 1/100 of it floored


def test_e6_time_passes_the_wrap_and_goes_back():
    top = (1 << 30) - 1
    assert since_ms(5, top - 4) == 10 and since_ms(top - 4, 5) == -10
    assert since_ms(0, 0) == 0 and since_ms(1 << 28, 0) == 1 << 28
    assert since_ms(0, 1 << 28) == -(1 << 28)


def test_e6_a_word_that_repeats_for_days_counts_to_an_end():
    """(1 << 29) - 1 ms between two words, again and again; small numbers end at 2^30."""
    one = channel()
    for _ in range(20):
        one.step((1 << 29) - 1, FRESH, 500)
        assert 0 <= one.same_ms < 1 << 30 and 0 <= one.age_ms < 1 << 30


def test_a_step_of_either_sensor_moves_the_ratio_as_stated():
    """Against the ratio itself, one step further on either side: within the rounding."""
    for plumbing in (0, 1, 2):
        for q, angled, pitot_step, angled_step in ((1460, 700, 11, 11), (800, -300, 15, 2),
                                                   (3000, 2500, 2, 15), (6000, 100, 4, 4)):
            at = ratio_bp(plumbing, q, angled)
            told = step_bp(plumbing, q, at, pitot_step, angled_step)
            worst = max(abs(ratio_bp(plumbing, q + i * pitot_step, angled + k * angled_step) - at)
                        for i in (-1, 0, 1) for k in (-1, 0, 1))
            assert abs(told - worst) <= 3 + worst * pitot_step // q, (plumbing, q, told, worst)
