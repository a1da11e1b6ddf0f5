"""Puff and leak through the simulated tubes of `host_sim.world`: lag, unequal lengths, blocks."""

import numpy as np
import pytest

from host_sim.runtimes.paths import use_firmware
from host_sim.world.plumbing import Line, through_tube

use_firmware()

from alula.ground_check import steps  # noqa: E402
from tests.both.check_rig import Bench, begun  # noqa: E402

DT_S = 0.01
EQUAL = Line()  # 3 m, 3 mm
LONG = Line(length_m=8.0, bore_mm=1.5, volume_cm3=2.0)  # a tube nobody should fit: 0.17 s of lag


class Tubes:
    """Plays mouth or syringe at one port through its tube; blocked: the tube's end lets nothing
    in, it holds what it had."""

    def __init__(self, bench: Bench, lines: dict[str, Line], blocked: tuple[str, ...] = ()):
        self.bench, self.lines, self.blocked = bench, lines, blocked
        self.rows: dict[str, list[float]] = {}
        bench.moves = self.move

    def play(self, port: str, profile_dpa: np.ndarray) -> None:
        """A pressure at the port from now on."""
        padded = np.r_[np.zeros(10), profile_dpa]
        felt = through_tube(padded, self.lines[port], DT_S)[10:]
        self.rows[port] = [0.0] * len(felt) if port in self.blocked else felt.tolist()

    def move(self) -> None:
        """One tick."""
        for port, row in self.rows.items():
            self.bench.pressures[port] = round(row.pop(0)) if row else 0


def breath(dpa: float = 400.0) -> np.ndarray:
    """0.6 s, rounded, with silence behind it."""
    return np.r_[dpa * np.sin(np.linspace(0, np.pi, 60)), np.zeros(200)]


def puffed(bench: Bench, tubes: Tubes) -> int:
    """The verdict after a breath at each port as it is asked for."""
    puff, results = bench.checks.puff, bench.checks.results
    before = results.count
    for i, port in enumerate(bench.hoses.ports):
        assert bench.run(6000, lambda i=i: puff._stage == 1 and puff.port == i)
        tubes.play(port, breath())
        assert bench.run(24000, lambda: puff._stage != 1)
        bench.run(1200)
    assert bench.run(3000, lambda: results.stamps[steps.ROW_PUFF] > before)
    return results.verdicts[steps.ROW_PUFF]


@pytest.mark.parametrize("plumbing", ["port-static", "pitot-port", "opposed"])
def test_unequal_and_slow_tubes_pass_when_they_are_right(plumbing: str) -> None:
    bench = begun(plumbing)
    lines = {port: (LONG if i % 2 else EQUAL) for i, port in enumerate(bench.hoses.ports)}
    assert puffed(bench, Tubes(bench, lines)) == steps.PASSED


@pytest.mark.parametrize("port", ["pitot", "static", "angled"])
def test_a_blocked_tube_is_named(port: str) -> None:
    bench = begun("port-static")
    lines = {name: EQUAL for name in bench.hoses.ports}
    assert puffed(bench, Tubes(bench, lines, (port,))) == steps.FAILED
    assert any(f"nothing answers to the {port} port" in line for line in bench.said)


@pytest.mark.parametrize("lost_pm", [0, 50, 200])
def test_a_leak_through_a_slow_tube_is_measured(lost_pm: int) -> None:
    """An orifice far from the sensor: the pressure falls exponentially (case B5)."""
    bench = begun("port-static", "check leak angled")
    tubes = Tubes(bench, {"angled": LONG})
    bench.run(1500)
    held_s = np.arange(0, 75, DT_S)
    profile = 8000.0 * np.minimum(held_s / 0.6, 1.0) * (1 - lost_pm / 1000) ** (held_s / 60)
    tubes.play("angled", profile)
    row = steps.ROW_LEAK + 2
    assert bench.run(75000, lambda: bench.checks.results.stamps[row] > 0)
    assert abs(bench.checks.results.numbers[row] - lost_pm) <= 8
    assert (bench.checks.results.verdicts[row] == steps.PASSED) == (lost_pm < 100)
