"""Lift share to band and sound: bands start at once, end late, and do not chatter."""

from alula.cues import CALM_HZ, CALM_MILLIHZ, Cues
from alula.states import CALM, PRESSING, QUIET, STALLING
from tests.both.core_rig import settings_with

TICK_MS = 10
DEFAULTS = settings_with()


def fed(lifts, resolution_pm: int = 0, **changes) -> tuple:
    """(cues, band after each lift) for lifts one tick apart."""
    cues = Cues(settings_with(**changes))
    bands = []
    for lift in lifts:
        cues.step(TICK_MS, lift, resolution_pm, True)
        bands.append(cues.band)
    return cues, bands


def changes_of(bands) -> int:
    return sum(1 for i in range(1, len(bands)) if bands[i] != bands[i - 1])


def test_default_thresholds_are_the_stated_speed_margins():
    # lift = (Vs/V)^2, arithmetic: 1.40, 1.20 and 1.05 Vs
    for value, hundredths in ((DEFAULTS.calm_pm, 140), (DEFAULTS.pressing_pm, 120),
                              (DEFAULTS.stalling_pm, 105)):
        assert abs(value - 1000 * 10000 / hundredths ** 2) < 0.6


def test_a_band_starts_in_the_very_tick_its_lift_is_reached():
    for start, below, band in ((510, QUIET, CALM), (694, CALM, PRESSING),
                               (907, PRESSING, STALLING)):
        assert fed([start - 1])[1] == [below]
        assert fed([start])[1] == [band]


def test_h1_a_short_spike_past_the_stall_is_heard():
    bands = fed([300] * 100 + [1100] * 15 + [300] * 100)[1]
    assert bands[100] == STALLING and bands[115] == STALLING
    assert bands[-1] == QUIET


def test_a_band_ends_only_after_its_release_time_below_its_end():
    ends_at = 907 - DEFAULTS.hysteresis_pm
    stays = fed([907] + [ends_at] * 200)[1]
    assert stays[-1] == STALLING  # on the end itself it never ends
    bands = fed([907] + [ends_at - 1] * 200)[1]
    assert bands.index(PRESSING) == DEFAULTS.release_ms // TICK_MS
    assert bands[-1] == PRESSING


def test_the_release_time_starts_anew_with_every_return():
    almost = DEFAULTS.release_ms // TICK_MS - 1
    bands = fed(([907] + [500] * almost) * 20)[1]
    assert set(bands) == {STALLING}


def test_release_goes_straight_to_the_band_that_fits():
    assert fed([907] + [300] * 100)[1][-1] == QUIET
    assert fed([907] + [600] * 100)[1][-1] == CALM


def test_the_calm_band_has_a_release_time_of_its_own():
    bands = fed([510] + [300] * 400)[1]
    assert bands.index(QUIET) == DEFAULTS.calm_release_ms // TICK_MS


def test_h1_noise_around_a_limit_does_not_chatter():
    # cases H1: limit +-0.5 % for 60 s; stated: the band changes once, at the onset
    for limit, band in ((510, CALM), (694, PRESSING), (907, STALLING)):
        half = limit * 5 // 1000
        for period in (2, 10, 50, 250):  # 50 Hz to 0.2 Hz halves of a square wave, in ticks
            wave = [limit + (half if i // period % 2 else -half) for i in range(6000)]
            bands = fed(wave)[1]
            assert changes_of(bands) == 1 and bands[-1] == band


def test_hysteresis_grows_with_the_resolution():
    slack = 2 * 40
    assert fed([907] + [907 - slack] * 200, resolution_pm=40)[1][-1] == STALLING
    assert fed([907] + [906 - slack] * 200, resolution_pm=40)[1][-1] == PRESSING


def test_each_band_has_its_own_sound():
    cues = Cues(DEFAULTS)
    heard = []
    for lift in (509, 510, 694, 906, 907):
        cues.step(TICK_MS, lift, 0, True)
        heard.append((cues.pulse_millihz, cues.tone_hz))
    assert heard[0] == (0, 0)
    assert heard[1] == (CALM_MILLIHZ, CALM_HZ)
    assert heard[2] == (DEFAULTS.pulse_low_millihz, DEFAULTS.pitch_low_hz)
    assert heard[3] == (DEFAULTS.pulse_high_millihz, DEFAULTS.pitch_high_hz)
    assert heard[4] == (8000, DEFAULTS.warble_high_hz)


def test_pressing_ends_at_its_fastest_and_highest():
    cues = Cues(DEFAULTS)
    cues.step(TICK_MS, 694, 0, True)
    cues.step(TICK_MS, 906, 0, True)
    assert cues.pulse_millihz == DEFAULTS.pulse_high_millihz
    assert cues.tone_hz == DEFAULTS.pitch_high_hz


def test_below_its_start_pressing_goes_on_at_its_slowest():
    cues = Cues(DEFAULTS)
    cues.step(TICK_MS, 694, 0, True)
    cues.step(TICK_MS, 400, 0, True)
    assert cues.band == PRESSING and cues.pulse_millihz == DEFAULTS.pulse_low_millihz


def test_the_calm_tick_can_be_switched_off_and_nothing_else_with_it():
    cues = Cues(settings_with(calm_sound="off"))
    cues.step(TICK_MS, 600, 0, True)
    assert (cues.band, cues.pulse_millihz, cues.tone_hz) == (CALM, 0, 0)
    cues.step(TICK_MS, 700, 0, True)
    assert cues.band == PRESSING and cues.pulse_millihz > 0


def test_the_calm_tick_waits_until_it_is_wanted():
    cues = Cues(DEFAULTS)
    cues.step(TICK_MS, 600, 0, False)
    assert (cues.band, cues.pulse_millihz, cues.tone_hz) == (CALM, 0, 0)
    cues.step(TICK_MS, 600, 0, True)
    assert (cues.band, cues.pulse_millihz, cues.tone_hz) == (CALM, CALM_MILLIHZ, CALM_HZ)
    cues.step(TICK_MS, 700, 0, False)  # it never holds back a warning
    assert cues.band == PRESSING and cues.pulse_millihz > 0


def test_reset_is_quiet_at_once():
    cues = fed([1100])[0]
    cues.reset()
    assert (cues.band, cues.pulse_millihz, cues.tone_hz) == (QUIET, 0, 0)
