"""`--explain`: every tunable setting in numbers of the firmware, and they move as they should."""

import pytest

from host_sim.errors import UsageError
from host_sim.tuning.candidates import ROWS, SHIPPED, TUNABLE
from host_sim.tuning.telling.explain import TEXTS, explain, numbers, values_of


@pytest.mark.parametrize("name", TUNABLE)
def test_every_setting_has_its_text_and_its_limits(name):
    values = values_of(name)
    assert SHIPPED[name] in values
    assert len(values) >= 3
    assert all(ROWS[name][2] <= value <= ROWS[name][3] for value in values)
    assert TEXTS[name]


def test_a_longer_window_is_quieter_and_later():
    short, long = numbers("window_ms", 100), numbers("window_ms", 400)
    assert short["delay_s"] < long["delay_s"]
    assert short["noise_pm"] > long["noise_pm"]


def test_a_lead_is_sooner_by_as_much_and_noisier():
    """The lag after a kink falls by less than the lead: the line looks ahead along a slope that
    it has only begun to see; never by more."""
    none, some = numbers("lead_ms", 0), numbers("lead_ms", 40)
    assert 0 < none["delay_s"] - some["delay_s"] <= 0.040
    assert some["noise_pm"] > none["noise_pm"]


def test_thresholds_change_neither_delay_nor_noise_but_where_it_begins():
    """V/Vs = 1/sqrt(lift): 0.694 is 1.20 Vs, 0.826 is 1.10 Vs (table of margins, computed)."""
    low, high = numbers("pressing_pm", 694), numbers("pressing_pm", 826)
    assert (low["delay_s"], low["noise_pm"]) == (high["delay_s"], high["noise_pm"])
    assert low["begins_vs"] == pytest.approx(1.20, abs=0.001)
    assert high["begins_vs"] == pytest.approx(1.10, abs=0.001)


def test_hysteresis_calms_the_band():
    assert numbers("hysteresis_pm", 5)["changes_min"] > numbers("hysteresis_pm", 40)["changes_min"]


def test_the_pulse_rate_follows_the_urgency_law():
    """At a higher exponent the rate nearer the warble is reached sooner: r(x) = (r0^e + x (r1^e -
    r0^e))^(1/e) at x = (0.826 - 0.694)/(0.907 - 0.694), by hand; the firmware has 33 steps."""
    x = (826 - 694) / (907 - 694)
    for exponent in (1.0, 1.35, 2.0):
        expected = (1.5 ** exponent + x * (8 ** exponent - 1.5 ** exponent)) ** (1 / exponent)
        found = numbers("urgency_pm", round(1000 * exponent))["pulses_hz"]
        assert found == pytest.approx(expected, abs=6.5 / 33 * 1.5)


def test_the_words_are_for_people():
    lines = "\n".join(explain("window_ms"))
    for part in ("80 to 400 ms", "shipped 200", "never replaces", "alula size"):
        assert part in lines


@pytest.mark.parametrize(("name", "says"), [("windw_ms", "no setting"),
                                            ("jump_pm", "not for tuning")])
def test_what_cannot_be_tuned_is_refused(name, says):
    with pytest.raises(UsageError, match=says):
        explain(name)
