"""More lift never sounds less urgent, whatever the settings."""

from hypothesis import given, settings
from hypothesis import strategies as st

from alula.cues import CALM_HZ, Cues
from alula.settings import load
from alula.states import CALM, PRESSING, QUIET, STALLING
from alula.urgency import STEPS, pulse_rates
from tests.both.core_rig import settings_with
from tests.laws.inputs import settings_records

LIFTS = st.lists(st.integers(0, 1500), min_size=2, max_size=40)


def sounds(chosen, lifts, fresh: bool) -> list[tuple]:
    """(band, pulse rate, pitch) at each lift."""
    cues, found = Cues(chosen), []
    for lift in lifts:
        if fresh:
            cues = Cues(chosen)
        cues.step(10, lift, 0, True)
        found.append((cues.band, cues.pulse_millihz, cues.tone_hz))
    return found


def test_every_lift_by_the_defaults():
    for fresh in (True, False):
        found = sounds(settings_with(), range(1501), fresh)
        for below, above in zip(found, found[1:], strict=False):
            assert all(a <= b for a, b in zip(below, above, strict=True))
        assert found[0] == (QUIET, 0, 0) and found[-1][0] == STALLING


@given(settings_records(), LIFTS, st.booleans())
def test_state_and_pulse_rate_never_fall_when_lift_rises(record, lifts, fresh):
    found = sounds(load(record)[0], sorted(lifts), fresh)
    for below, above in zip(found, found[1:], strict=False):
        assert below[0] <= above[0] and below[1] <= above[1]


@given(settings_records(), LIFTS)
def test_pitch_never_falls_within_a_band_and_never_below_the_calm_tick(record, lifts):
    """Between bands, too: the loader refuses pitches that would fall."""
    chosen = load(record)[0]
    assert chosen.pitch_low_hz >= CALM_HZ and chosen.pitch_high_hz <= chosen.warble_high_hz
    found = sounds(chosen, sorted(lifts), True)
    for below, above in zip(found, found[1:], strict=False):
        assert below[2] <= above[2]


@settings(max_examples=300)
@given(st.integers(1000, 4000), st.data())
def test_pulse_rates_rise_from_end_to_end(low, data):
    high = data.draw(st.integers(max(2000, low + 100), 10000))
    exponent = data.draw(st.integers(500, 2500))
    rates = list(pulse_rates(low, high, exponent))
    assert len(rates) == STEPS + 1 and (rates[0], rates[-1]) == (low, high)
    assert rates == sorted(rates)
    # Stevens' law in floats: urgency is rate ** exponent, in equal steps; 2 = rounding to 1 mHz
    e = exponent / 1000
    for i, rate in enumerate(rates):
        share = i / STEPS
        exact = (low ** e + share * (high ** e - low ** e)) ** (1 / e)
        assert abs(rate - exact) <= 2


@given(settings_records(), LIFTS)
def test_warnings_always_have_a_sound(record, lifts):
    for band, pulse, hz in sounds(load(record)[0], lifts, False):
        if band in (PRESSING, STALLING):
            assert pulse >= 1000 and 300 <= hz <= 2500
        if band == QUIET:
            assert (pulse, hz) == (0, 0)
        if band == CALM:
            assert (pulse, hz) in ((0, 0), (1000, CALM_HZ))
