"""Numbers of the builder's pages against outside facts, worked here by another way."""

from math import atan2, cos, degrees, log, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
from ambiance import Atmosphere
from pages import text_of

from host_sim.notes import (
    electric_numbers,
    enclosure_numbers,
    plumbing_compare,
    probe_numbers,
    tubing_numbers,
)
from host_sim.world.probe import PLUMBINGS


class TestProbe:
    """Flow round a ball: 1 - 9/4 sin^2, textbook (from memory); values worked by hand."""

    def test_port_pressure(self):
        assert probe_numbers.port_share(41.81, 0.0) == pytest.approx(0.0, abs=1e-4)
        assert probe_numbers.port_share(45.0, 0.0) == pytest.approx(-0.125)
        assert probe_numbers.port_share(90.0, 0.0) == pytest.approx(-1.25)
        assert probe_numbers.port_share(45.0, 15.0) == pytest.approx(1 - 2.25 / 4)  # sin 30

    @pytest.mark.parametrize("phi,alpha", [(45, 15), (55, 10), (60, 0), (35, 5)])
    def test_slope_is_that_of_the_pressure(self, phi, alpha):
        step = 1e-4
        rise = (probe_numbers.port_share(phi, alpha + step)
                - probe_numbers.port_share(phi, alpha - step))
        assert probe_numbers.slope_per_deg(phi, alpha) == pytest.approx(rise / (2 * step))

    def test_slope_is_greatest_45_degrees_off_the_wind(self):
        """k pi/180 = 0.0393 a degree: half of the 0.0785 of two opposed ports, the published
        0.08 a degree of spherical five-hole probes."""
        best = max(range(20, 90), key=lambda phi: probe_numbers.slope_per_deg(phi, 15))
        assert best == 60
        assert probe_numbers.slope_per_deg(60, 15) == pytest.approx(0.08 / 2, rel=0.02)

    @pytest.mark.parametrize("roll,beta", [(1, 5), (2, 10), (5, 10), (5, -10)])
    def test_rolled_head_by_turning_the_wind_instead(self, roll, beta):
        """Turning the head one way is turning the wind the other way round the axis."""
        a, b, turn = radians(15), radians(beta), radians(roll)
        ahead, right, below = cos(b) * cos(a), sin(b), cos(b) * sin(a)
        right, below = (right * cos(turn) - below * sin(turn),
                        right * sin(turn) + below * cos(turn))
        along = ahead * cos(radians(45)) + below * sin(radians(45))
        assert probe_numbers.rolled_share(45, roll, 15, beta) == pytest.approx(
            1 - 2.25 * (1 - along**2))

    def test_head_set_straight_reads_both_slips_alike(self):
        assert probe_numbers.roll_error_deg(45, 0, 10) == pytest.approx(0.0, abs=1e-9)

    def test_water_plug_by_the_balance_of_forces(self):
        """Round the rim of a hole of 2 mm surface tension pulls with pi d sigma."""
        pull_n = pi * 2e-3 * 0.0728
        assert probe_numbers.water_held_pa(2.0) == pytest.approx(pull_n / (pi * 1e-3**2) * 1.0)

    def test_drain_by_continuity(self):
        """The port's mouth is nine times the drain: inside it air runs at a ninth of the speed
        in the drain, and 1/81 of what drives the drain is lost."""
        assert probe_numbers.drain_loss(1.0, 3.0) == pytest.approx(1 / 81)

    def test_reynolds_of_a_known_case(self):
        """1 m at 1 m/s in standard air: nu = 1.46e-5 m2/s (standard atmosphere)."""
        nu = float(Atmosphere(0).kinematic_viscosity[0])
        assert probe_numbers.reynolds(1000, 3600 / 1852) == pytest.approx(1 / nu, rel=0.002)
        assert probe_numbers.reynolds(25, 120) < 300_000

    def test_upwash_one_chord_ahead(self):
        """Bound vortex, Gamma = c V Cl/2, induces Gamma/(2 pi x): 1/(4 pi) rad = 4.56 deg."""
        gamma = 1.0 * 1.0 * 1.0 / 2
        assert probe_numbers.upwash_deg(1.0, 1.0) == pytest.approx(
            degrees(gamma / (2 * pi * 1.0)))

    def test_speed_ahead_of_a_strut(self):
        """At its front, half a diameter from the centre, the air stands: all of q is lost."""
        assert probe_numbers.strut_loss(0.5) == pytest.approx(1.0)
        near, far = probe_numbers.strut_loss(10), probe_numbers.strut_loss(20)
        assert near / far == pytest.approx(4, rel=0.01)  # a doublet fades with the square

    def test_swing(self):
        """20 deg/s three metres out at 33 m/s: 1.047 m/s across, 1.8 deg."""
        across = radians(20) * 3
        assert probe_numbers.swing_deg(20, 3, 33 * 3600 / 1852) == pytest.approx(
            degrees(atan2(across, 33)), rel=0.002)


class TestTubing:
    """128 mu L V/(pi d^4 p), from memory; here by way of the resistance of a tube."""

    @pytest.mark.parametrize("length,bore,volume", [(5, 4, 1), (5, 3, 1), (5, 1.6, 1),
                                                    (5, 4, 200), (3, 2, 1)])
    def test_lag_by_resistance_and_capacity(self, length, bore, volume):
        """Poiseuille: dp = 8 mu L Q/(pi r^4); a volume V of air takes V/p more for each pascal
        (isothermal)."""
        mu = float(Atmosphere(0).dynamic_viscosity[0])
        radius = bore * 1e-3 / 2
        resistance = 8 * mu * length / (pi * radius**4)
        capacity = (volume * 1e-6 + pi * radius**2 * length / 2) / 101325
        tau, delay = tubing_numbers.line_ms(length, bore, volume)
        assert tau == pytest.approx(1e3 * resistance * capacity, rel=0.002)
        assert delay == pytest.approx(1e3 * length / 340.29, rel=1e-3)

    def test_ratio_error_by_a_slow_down_in_small_steps(self):
        """Two first-order lines, 10 and 60 ms, follow the q of a slow-down of 5 kt/s."""
        dt, tau = 1e-4, (0.01, 0.06)
        speed = 48.0
        felt = [speed**2] * 2
        while speed > 45.0:
            speed -= 5.0 * dt
            felt = [p + (speed**2 - p) * dt / t for p, t in zip(felt, tau, strict=True)]
        wrong = felt[1] / felt[0] - 1
        assert tubing_numbers.ratio_error(0.05, 5.0) == pytest.approx(wrong, rel=0.02)

    def test_water(self):
        assert tubing_numbers.water_pa(10.0) == pytest.approx(98, abs=0.2)  # 9.80665 Pa a mm H2O

    def test_thin_air(self):
        """10 000 ft geopotential: 69 681.6 Pa (ICAO standard atmosphere)."""
        assert tubing_numbers.height_factor(10_000) == pytest.approx(101325 / 69681.6, rel=1e-4)

    def test_climb(self):
        """A foot of air near sea level is 3.66 Pa (1.225 x 9.80665 x 0.3048)."""
        assert tubing_numbers.climb_error_pa(1.0, 60) == pytest.approx(3.66, abs=0.01)


class TestEnclosure:
    def test_a_layer_by_its_weight(self):
        """0.3 mm of silicon, 2330 kg/m3: 0.699 kg a square metre."""
        assert enclosure_numbers.layer_pa(2330, 0.3, 1.0) == pytest.approx(0.699 * 9.80665)

    def test_knots(self):
        """dq = rho V dV: 1 Pa at 45 kt (23.15 m/s) is 0.0353 m/s."""
        assert enclosure_numbers.speed_error_kt(1.0, 1.0) == pytest.approx(
            1 / (1.225 * 23.15) * 3600 / 1852, rel=0.01)
        assert enclosure_numbers.speed_error_kt(1.0, 4.0) == pytest.approx(
            1 / (1.225 * 46.3) * 3600 / 1852, rel=0.01)

    def test_no_air_column_in_level_flight(self):
        assert enclosure_numbers.air_column_pa(1.0, 1.0) == 0.0
        assert enclosure_numbers.air_column_pa(1.0, 2.0) == pytest.approx(12.01, abs=0.01)


class TestElectric:
    @pytest.mark.parametrize("level,harmonic", [(8, 1), (8, 3), (4, 1), (1, 1), (4, 2)])
    def test_harmonics_by_fourier_transform(self, level, harmonic):
        count = 65536
        wave = np.where(np.arange(count) < electric_numbers.DUTY_U16[level], 3.3, 0.0)
        part = 2 * abs(np.fft.rfft(wave)[harmonic]) / count / sqrt(2)
        assert electric_numbers.fundamental_v(level, harmonic) == pytest.approx(part, abs=1e-3)

    @pytest.mark.parametrize("hz,pot", [(600, 0.0), (1400, 0.0), (1400, 10_000.0)])
    def test_filter_by_node_equations(self, hz, pot):
        """Two nodes, pin and intercom known only by conductances: 1 k, 100 nF, volume, 600."""
        volume = 1 / (1 / pot + 1 / 2200) if pot else 1e-6
        charge = 2j * pi * hz * 100e-9
        matrix = np.array([[1 / 1000 + charge + 1 / volume, -1 / volume],
                           [-1 / volume, 1 / volume + 1 / 600]])
        share = abs(np.linalg.solve(matrix, np.array([1 / 1000, 0]))[1])
        # square wave of 3.3 V: fundamental 2/pi of it, peak
        assert electric_numbers.at_intercom_v(hz, pot_ohm=pot) == pytest.approx(
            share * 3.3 * 2 / pi / sqrt(2), rel=1e-3)

    def test_the_volume_never_reaches_silence(self):
        """Case H5. MIL-STD-1472E 5.3.6: a volume control must not reach inaudible; here within
        10 dB of the loudest, for any knob, an open one included."""
        for hz in electric_numbers.PITCHES_HZ:
            loud = electric_numbers.at_intercom_v(hz)
            assert electric_numbers.at_intercom_v(hz, pot_ohm=1e12) > 0.3 * loud

    def test_the_pin_is_not_overloaded(self):
        assert electric_numbers.pin_ma() < 4.0  # the pin's setting: a summary of the data sheet
        for ohm, drop in ((330.0, 2.0), (330.0, 2.2)):
            assert electric_numbers.lamp_ma(ohm, drop) < 4.0

    def test_rise_time(self):
        """From 30 to 70 % of a charging curve: ln(0.7/0.3) R C (I2C specification)."""
        assert 2200 * electric_numbers.most_bus_pf(2200) * 1e-12 * log(7 / 3) == pytest.approx(
            300e-9, rel=1e-3)

    def test_hold_up_by_draining_a_capacitor(self):
        farad = electric_numbers.hold_up_uf(0.5, 0.05, 11.3, 9.0, 0.8) * 1e-6
        volt, dt = 11.3, 1e-5
        for _ in range(5000):
            volt -= 0.5 / 0.8 / volt / farad * dt
        assert volt == pytest.approx(9.0, abs=0.01)


class TestPlumbings:
    RUN = plumbing_compare.slow_down()
    FAULTS = {fault.text: fault for fault in plumbing_compare.FAULTS}

    def _read(self, text, plumbing="port-static"):
        return plumbing_compare.read(self.FAULTS[text], plumbing, self.RUN)

    @pytest.mark.parametrize("plumbing", PLUMBINGS)
    def test_nothing_wrong_is_the_threshold(self, plumbing):
        """1.05 Vs is 1/sqrt(0.907)."""
        reading = self._read("nothing", plumbing)
        assert reading.shown == pytest.approx(0.907, abs=0.002)
        assert reading.begins_kt == pytest.approx(
            self.RUN.stall_kt * (1 / sqrt(0.907) - 1), abs=0.05)

    @pytest.mark.parametrize("text", [fault.text for fault in plumbing_compare.FAULTS
                                      if not fault.zero_pa[1] and "upper" not in fault.text])
    def test_port_and_pitot_port_are_one_ratio(self, text):
        """r = a/q and r = 1 - (q - a)/q: one number, but for the rounding of words. A zero of
        the sensors is the exception: it lies between them."""
        if "pitot sensor" in text:
            return
        one, other = self._read(text), self._read(text, "pitot-port")
        assert one.judged == other.judged
        assert one.shown == pytest.approx(other.shown, abs=0.005)
        if one.begins_kt is not None:
            assert one.begins_kt == pytest.approx(other.begins_kt, abs=0.1)

    def _by_hand(self, share_at):
        """Lift shown at a true share of 0.907, port-static. share_at: ratio of the fault from
        the true angle, worked from the ball's formula."""
        alpha, lift = self.RUN.alpha_deg, self.RUN.lift
        true = np.interp(0.907, lift[lift < 1], alpha[lift < 1])
        sound = [1 - 2.1 * sin(radians(45 - a)) ** 2 for a in alpha]
        return np.interp(share_at(true), sound, lift)

    def test_slip(self):
        """cos(theta) = cos(beta) cos(phi - alpha)."""
        def ratio(alpha):
            along = cos(radians(10)) * cos(radians(45 - alpha))
            return 1 - 2.1 * (1 - along**2)
        assert self._read("slip of 10 degrees").shown == pytest.approx(
            self._by_hand(ratio), abs=0.01)

    @pytest.mark.parametrize("beta", [5.0, 10.0])
    def test_slip_as_an_angle(self, beta):
        """Small slips, to first order: r = 1 - k + k cos^2(beta) cos^2(theta) with theta = phi -
        alpha; k sin^2(beta) cos^2(theta) over the slope k sin(2 theta) is sin^2(beta)/(2 tan
        theta): the k falls out."""
        run, probe = self.RUN, plumbing_compare.Probe()
        at = int(np.searchsorted(run.alpha_deg, 5.0))
        sound, slipped = (plumbing_compare.ratios(
            "port-static", plumbing_compare.line_pressures(run, probe, slip), (0, 0))
            for slip in (0.0, beta))
        seen_deg = np.interp(slipped[at], sound, run.alpha_deg)
        lost_deg = degrees(sin(radians(beta)) ** 2 / (2 * tan(radians(40.0))))
        assert 5.0 - seen_deg == pytest.approx(lost_deg, rel=0.05)

    @pytest.mark.parametrize("sign,text", [(1, "high"), (-1, "low")])
    def test_static_error(self, sign, text):
        """Static too high by e q: both sensors feel e q less, r = (c - e)/(1 - e)."""
        def ratio(alpha):
            c = 1 - 2.1 * sin(radians(45 - alpha)) ** 2
            return (c - sign * 0.05) / (1 - sign * 0.05)
        assert self._read(f"static reads 5 % of q too {text}").shown == pytest.approx(
            self._by_hand(ratio), abs=0.01)

    def test_leaks(self):
        """A tenth of the line becomes the cabin's, 0.05 q below static."""
        def angled(alpha):
            return 0.9 * (1 - 2.1 * sin(radians(45 - alpha)) ** 2) - 0.1 * 0.05

        def pitot(alpha):
            return (1 - 2.1 * sin(radians(45 - alpha)) ** 2) / (0.9 - 0.1 * 0.05)
        assert self._read("a tenth of the angled line leaks into the cabin").shown == \
            pytest.approx(self._by_hand(angled), abs=0.01)
        assert self._read("a tenth of the pitot line leaks into the cabin").shown == \
            pytest.approx(self._by_hand(pitot), abs=0.01)

    def test_zero_error(self):
        q = np.interp(0.907, self.RUN.lift, self.RUN.impact_pa)
        assert self._read("angled sensor 10 Pa too low").shown == pytest.approx(self._by_hand(
            lambda alpha: 1 - 2.1 * sin(radians(45 - alpha)) ** 2 - 10 / q), abs=0.01)

    def test_lost_pitot_gives_no_ratio(self):
        for plumbing in PLUMBINGS:
            assert not self._read("pitot line off", plumbing).judged


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
        assert f"{min(static):.1f} to {max(static):.1f} kt early or late" in text_of("limits")

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
