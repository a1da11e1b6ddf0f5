"""Numbers that stand in the sentences of the builder's pages."""

from math import cos, radians, sin

import numpy as np
import pytest
from pages import text_of

from host_sim.notes import enclosure_numbers, plumbing_compare, probe_numbers


class TestProse:
    """Numbers that stand in sentences, worked here and looked for in the page."""

    @pytest.mark.parametrize("page,words", [
        ("probe", f"{100 * 2.25 * sin(radians(10)) ** 2:.0f} % at 10 degrees, "
                  f"{100 * 2.25 * sin(radians(20)) ** 2:.0f} % at 20"),
        ("emc", f"{299.792458 / 118 / 4:.2f} to {299.792458 / 137 / 4:.2f} m"),
        ("emc", f"1 inch of water ({25.4 * 9.80665:.0f} Pa)"),
        ("parts", f"{(28 - 5) * 0.1:.1f} W of heat on 28 V at 0.1 A"),
        ("parts", f"at 0.5 m {85 - 20 * np.log10(5):.0f} dB"),
        ("audio", f"has {85 - 20 * np.log10(5):.0f} dB at half a metre"),
        ("limits", f"q at 35 kt is {0.5 * 1.225 * (35 * 1852 / 3600) ** 2:.0f} Pa"),
        ("enclosure", f"cos 5 degrees costs {100 * (1 - cos(radians(5))):.1f} %"),
        ("limits", "1.45 times at 10 000 ft"),
        ("audio", "3.3 mA at most"),
    ])
    def test_worked(self, page, words):
        assert words in text_of(page)

    @pytest.mark.parametrize("inch_h2o,range_pa,step_pa,kt", [
        (20, 4982, 0.76, 174), (10, 2491, 0.38, 123), (27.68, 6895, 1.05, 204)])
    def test_parts(self, inch_h2o, range_pa, step_pa, kt):
        """Range in inches of water at 4 degC (249.089 Pa), 1 psi 6894.757 Pa; output type A uses
        10 to 90 % of 2^14; speed from the table of impact pressures by 0.5 rho V^2 (1 + M^2/4)."""
        assert inch_h2o * 249.089 == pytest.approx(range_pa, rel=5e-4)
        assert 2 * range_pa / (0.8 * 16384) == pytest.approx(step_pa, abs=0.005)
        speed = kt * 1852 / 3600
        mach = speed / 340.294
        assert 0.5 * 1.225 * speed**2 * (1 + mach**2 / 4) == pytest.approx(range_pa, rel=0.01)
        page = text_of("parts")
        assert f"±{range_pa} Pa" in page and f"{step_pa} Pa (computed" in page
        assert f"| {kt} kt |" in page

    def test_mach(self):
        """Prandtl-Glauert M^2/2 against impact pressure M^2/4 leaves M^2/4."""
        for kt, words in ((100, "0.6 % at 100 kt"), (200, "2.3 % at 200 kt")):
            mach = kt * 1852 / 3600 / 340.294
            assert f"{100 * mach * mach / 4:.1f} % at {kt} kt" == words
            assert words in text_of("limits")

    def test_sentences_about_plumbings_say_what_the_table_says(self):
        run = plumbing_compare.slow_down()
        faults = {fault.text: fault for fault in plumbing_compare.FAULTS}

        def shift_kt(text, plumbing):
            begins = [plumbing_compare.read(faults[name], plumbing, run).begins_kt
                      for name in (text, "nothing")]
            return begins[0] - begins[1]
        one, two = (shift_kt("slip of 10 degrees", name) for name in ("port-static", "opposed"))
        assert f"{-one:.1f} kt late with one port, {-two:.1f} kt with two" in text_of("limits")
        assert f"two opposed ports lose {-two:.1f} kt at 10 degrees" in text_of("plumbings")
        static = [abs(shift_kt(f"static reads 5 % of q too {way}", name))
                  for way in ("high", "low") for name in ("port-static", "opposed")]
        shown = plumbing_compare.read(faults["slip of 17 degrees"], "port-static", run)
        assert shown.begins_kt is None
        assert f"{0.907 - shown.shown:.2f} too little lift" in text_of("limits")
        late = -shift_kt("slip of 17 degrees", "opposed")
        assert f"two ports: {late:.1f} kt late" in text_of("limits")
        assert f"{min(static):.1f} to {max(static):.1f} kt early or late" in text_of("limits")

    def test_sentences_about_the_probe_say_what_its_tables_say(self):
        slopes = [probe_numbers.slope_per_deg(phi, 15) for phi in (45, 50, 60)]
        given_up = [100 * (1 - slope / slopes[2]) for slope in slopes[:2]]
        assert "give up {:.0f} to {:.0f} % of the best slope".format(*given_up) in \
            text_of("probe")
        held = [probe_numbers.water_held_pa(bore) / 328 for bore in (1.5, 3.0)]
        assert 0.5 < held[0] < 0.65 and 0.27 < held[1] < 1 / 3  # more than half, nearly a third
        assert pytest.approx(328, abs=0.5) == 0.5 * 1.225 * (45 * 1852 / 3600) ** 2

    def test_sentences_about_g_say_what_the_table_says(self):
        pressures = [enclosure_numbers.layer_pa(density, thick, 3.0)
                     for _, density, thick in enclosure_numbers.LAYERS[1:]]
        knots = [enclosure_numbers.speed_error_kt(pa, 4.0) for pa in pressures]
        assert (f"**{min(pressures):.0f} to {max(pressures):.0f} Pa in a 4 g pull**, "
                f"{min(knots):.1f} to {max(knots):.1f} kt") in text_of("enclosure")

    def test_cited_defaults_are_the_tables(self):
        from alula.settings import TABLE
        default = {row[0]: row[1] for row in TABLE}
        assert default["min_q_dpa"] == 650 and "`min_q_dpa` (65 Pa, 20 kt)" in text_of("limits")
        assert default["min_q_dpa"] / 10 == plumbing_compare.MIN_Q_PA
        assert default["zero_change_dpa"] == 200 and "within 20 Pa" in text_of("maintenance")
        assert default["stalling_pm"] / 1000 == plumbing_compare.STALLING
        assert (default["pitch_low_hz"], default["warble_high_hz"]) == (600, 1400)
        assert "between 600 and 1400 Hz by default" in text_of("audio")
        assert default["window_ms"] == 200 and "a window of 200 ms" in text_of("tubing")

    def test_pitches_that_settings_allow(self):
        from alula.settings import TABLE
        limits = [row[2:4] for row in TABLE if row[0].startswith(("pitch_", "warble_"))]
        assert len(limits) == 4
        assert (min(low for low, _ in limits), max(high for _, high in limits)) == (300, 2500)
        assert "within 300 to 2500 Hz by any setting" in text_of("audio")

    def test_notes_named_in_the_audio_page(self):
        from alula import figures
        from loop import STOPPED_HZ
        pitches = [notes[i] for notes in figures.FIGURES for i in range(0, len(notes), 2)]
        assert f"up to {max(pitches)} Hz" in text_of("audio")
        assert f"a stopped program is {STOPPED_HZ} Hz, unbroken" in text_of("audio")
        assert figures.FIGURES[figures.CANNOT_KNOW][::4] == (900, 600)
        assert "the fault sound is 900 and 600 Hz" in text_of("audio")
