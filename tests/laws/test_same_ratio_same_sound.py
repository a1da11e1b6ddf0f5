"""Promise 1: scale both pressures by any factor, and what is heard stays the same."""

from fractions import Fraction

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from alula.cues import Cues
from alula.lift_curve import LiftCurve
from alula.pressure_ratio import PLUMBINGS
from alula.sample import FRESH, Sample
from alula.unit import Unit
from tests.both.core_rig import settings_with
from tests.laws.inputs import curves

LEAST_Q, MOST = 1320, 99999  # flying begins at 1300; the clamp
TICKS = 60  # window, median, and the settling of the level


def angled_word(plumbing: str, q: int, ratio: Fraction) -> Fraction:
    """What the angled sensor feels at a ratio."""
    return q * (1 - ratio) if plumbing == "pitot-port" else q * ratio


def heard(plumbing: str, points, q: int, angled: int) -> tuple:
    """(state, pulse rate, pitch, lift, level, pitch sounding) after a steady moment in the air."""
    unit = Unit(settings_with(plumbing=plumbing), ((0, points),), (0, 0))
    sample = Sample()
    sample.pitot_status = sample.angled_status = FRESH
    sample.pitot_word, sample.angled_word = q, angled
    for now_ms in range(0, TICKS * 10, 10):
        unit.tick(now_ms, sample)
    assert unit.lift_known
    return (unit.state, unit.pulse_millihz, unit.tone_hz, unit.lift_pm, unit.voice.level,
            unit.voice.hz)


@settings(max_examples=150)
@given(st.sampled_from(PLUMBINGS), curves(), st.integers(LEAST_Q, 6000), st.integers(-6000, 18000),
       st.sampled_from([1, 2, 3, 4]), st.sampled_from([1, 2, 3, 4, 16]))
def test_a_factor_that_rounds_nothing_changes_nothing(plumbing, points, q, angled, least, factor):
    """Whole multiples of the same words have exactly the same ratio: equal to the last bit."""
    q, angled = q * least, angled * least
    assume(q * factor <= MOST and abs(angled * factor) <= MOST)
    assert heard(plumbing, points, q, angled) == heard(plumbing, points, q * factor,
                                                       angled * factor)


def lift_error_pm(points, q: int, ratio: Fraction) -> Fraction:
    """How far rounding may put the lift from its exact value, at one q.

    Words are rounded to 0.5 dpa; that turns into ratio by (0.5 + 0.5 |angled/q|)/(q - 0.5), the
    ratio is rounded to half of 1/10 000, and the lift to half of a thousandth.
    """
    worst = (1 + abs(ratio) + 1) / (2 * (Fraction(q) - 1)) * 10000 + Fraction(1, 2)
    steepest = max(Fraction(points[i + 1][1] - points[i][1], points[i + 1][0] - points[i][0])
                   for i in range(len(points) - 1))
    return worst * steepest + Fraction(1, 2)


def exact_lift(points, ratio: Fraction) -> Fraction:
    ratio_bp = max(Fraction(-30000), min(Fraction(30000), ratio * 10000))
    i = max([k for k in range(len(points) - 1) if points[k][0] <= ratio_bp], default=0)
    (r0, l0), (r1, l1) = points[i], points[i + 1]
    return max(Fraction(0), min(Fraction(1500), l0 + (ratio_bp - r0) * (l1 - l0) / (r1 - r0)))


def sound_at(lift_pm: int) -> tuple:
    """State, pulse rate and pitch of a lift share, by fresh cues."""
    cues = Cues(settings_with())
    cues.step(10, max(0, min(1500, lift_pm)), 0, True)
    return cues.band, cues.pulse_millihz, cues.tone_hz


@settings(max_examples=200)
@given(st.sampled_from(PLUMBINGS), curves(), st.integers(4 * LEAST_Q, 24000),
       st.fractions(-2, 3, max_denominator=10000), st.fractions(Fraction(1, 4), 4))
def test_any_factor_changes_nothing_but_what_rounding_explains(plumbing, points, q, ratio, factor):
    """Equal, except where rounding puts the lift across a limit: then one side of that limit."""
    scaled = round(q * factor)
    words = [(at, round(angled_word(plumbing, at, ratio))) for at in (q, scaled)]
    assume(all(at <= MOST and abs(angled) <= MOST for at, angled in words))
    lift = exact_lift(points, ratio)
    for at, angled in words:
        error = lift_error_pm(points, at, ratio)
        found = heard(plumbing, points, at, angled)
        assert abs(found[3] - lift) <= error
        lowest, highest = sound_at(int(lift - error)), sound_at(int(lift + error) + 1)
        assert lowest <= found[:3] <= highest
        if lowest == highest:
            assert found[:3] == sound_at(round(lift))


def test_the_bound_is_no_blank_cheque():
    """On a usual curve at a usual q the explained error is 2 per mille of lift, not more."""
    points = ((-1250, 250), (2600, 700), (4370, 1000))
    assert lift_error_pm(points, 3300, Fraction(4, 10)) < Fraction(3)
    assert exact_lift(points, Fraction(437, 1000)) == 1000
    assert LiftCurve(points).lift_pm(4370) == 1000
