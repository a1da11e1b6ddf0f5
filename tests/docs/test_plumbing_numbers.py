"""The table of plumbings.md against the ball's formula, worked here by hand."""

from math import cos, degrees, radians, sin, sqrt, tan

import numpy as np
import pytest

from host_sim.notes import plumbing_compare
from host_sim.world.probe import PLUMBINGS


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
