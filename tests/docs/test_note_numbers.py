"""Numbers of the builder's pages against outside facts, worked here by another way."""

from math import atan2, cos, degrees, log, pi, radians, sin, sqrt

import numpy as np
import pytest
from ambiance import Atmosphere

from host_sim.notes import (
    electric_numbers,
    enclosure_numbers,
    probe_numbers,
    tubing_numbers,
)


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
