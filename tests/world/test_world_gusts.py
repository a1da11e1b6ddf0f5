"""Single gusts."""

import pytest

from host_sim.world.turbulence import Gust


def test_one_minus_cosine() -> None:
    # w = up/2 (1 - cos(2 pi x/length)): the usual discrete gust (from memory)
    gust = Gust(at_s=5.0, up_ms=4.0, length_m=40.0)
    assert gust.up_after(20.0) == pytest.approx(4.0)
    assert gust.up_after(10.0) == pytest.approx(2.0)
    assert gust.up_after(1e-6) == pytest.approx(0.0, abs=1e-9)
    assert gust.up_after(40.0) == gust.up_after(-1.0) == gust.up_after(100.0) == 0.0
