"""A whole unit on two 24-bit sensors, through drivers and loop; and what a start refuses."""

from alula.health import WORDS
from alula.record_payloads import SETTINGS
from alula.refusal import Refusal
from alula.states import FAULT, QUIET, STALLING
from assembly import make_loop, make_unit
from drivers.pressure_14bit import Pressure14Bit
from drivers.pressure_ms5525 import PressureMs5525
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from startup import prepare
from tests.both.core_rig import POINTS, record
from tests.both.vault_rig import vault_with

SENSORS = {"pitot_output": "ms5525-001ds", "angled_output": "ms5525-001ds",
           "pitot_address": 118, "angled_address": 119, "pitot_low_dpa": -68948,
           "pitot_high_dpa": 68948, "angled_low_dpa": -68948, "angled_high_dpa": 68948}


class Flying:
    """A unit on a bench board; lift goes where it is told, 1 % of the greatest a tick."""

    def __init__(self, **changes) -> None:
        sensors = dict(SENSORS, **changes)
        self.board = BenchBoard(VirtualClock((1 << 30) - 3000), None,
                                pitot_address=sensors["pitot_address"],
                                angled_address=sensors["angled_address"],
                                pitot_output=sensors["pitot_output"],
                                angled_output=sensors["angled_output"])
        points = {"plumbing": "port-static", "points": [list(pair) for pair in POINTS]}
        self.unit, settings, remarks = make_unit(record(**sensors), points,
                                                 {"pitot_dpa": 0, "angled_dpa": 0})
        assert remarks == []
        self.loop = make_loop(self.board, self.unit, settings)
        self.lift_pm = 300
        self._ticks = 0

    def fly(self, lift_pm: int, ticks: int, q_dpa: int = 6000) -> list:
        """(state, health word) of each tick."""
        rows = []
        for _ in range(ticks):
            self._ticks += 1
            self.lift_pm += max(-10, min(10, lift_pm - self.lift_pm))
            noise = self._ticks * 7 % 5 - 2  # 0.2 Pa: the sensor's own is of that size
            self.board.pitot_sensor.refresh(q_dpa + noise)
            self.board.angled_sensor.refresh((self.lift_pm - 200) * q_dpa // 1000 - noise)
            self.loop.run_once()
            rows.append((self.unit.state, WORDS[self.unit.health]))
        return rows


def test_it_is_quiet_with_margin_and_sounds_at_the_stall():
    flying = Flying()
    assert flying.fly(300, 300)[-1] == (QUIET, "ok")
    assert flying.fly(1000, 300)[-1] == (STALLING, "ok")
    assert flying.fly(300, 600)[-1] == (QUIET, "ok")
    assert {word for _, word in flying.fly(300, 2000)} == {"ok"}  # twenty temperatures and more
    assert flying.unit.temperature_dc == 200


def test_pressures_are_the_ones_felt_within_a_tenth_of_a_pascal():
    flying = Flying()
    flying.fly(300, 400)
    # 0.3 Pa: the noise of 0.2 Pa, and 0.1 Pa of rounding
    assert abs(flying.unit.pitot.dpa - 6000) <= 3 and abs(flying.unit.angled.dpa - 600) <= 3


def test_each_family_gets_its_driver_and_they_may_be_mixed():
    flying = Flying(angled_output="hsc-a", angled_address=40, angled_low_dpa=-25000,
                    angled_high_dpa=25000)
    assert isinstance(flying.loop._pitot, PressureMs5525)
    assert isinstance(flying.loop._angled, Pressure14Bit)


def test_a_sensor_that_falls_off_is_told_and_comes_back_by_itself():
    for side in ("pitot", "angled"):
        flying = Flying()
        flying.fly(300, 1500)
        chip = getattr(flying.board, side + "_sensor")
        chip.lose_power()
        rows = flying.fly(300, 100)
        assert rows[-1] == (FAULT, side + "-no-reply")
        chip.gain_power()
        rows = flying.fly(300, 200)
        assert rows[-1] == (QUIET, "ok")


def test_a_short_loss_of_power_in_a_stall_does_not_still_the_warning():
    flying = Flying()
    flying.fly(1000, 600)
    for gone in range(5):
        flying.board.pitot_sensor.lose_power()
        rows = flying.fly(1000, gone)
        flying.board.pitot_sensor.gain_power()
        rows += flying.fly(1000, 100)
        assert {state for state, _ in rows} == {STALLING}, gone


def test_a_wrong_crc_is_told_as_the_sensor_s_fault():
    flying = Flying()
    flying.board.angled_sensor.prom[4] ^= 1
    assert flying.fly(300, 200)[-1] == (FAULT, "angled-sensor-fault")


def test_far_past_the_range_is_a_rail():
    flying = Flying()
    flying.fly(300, 300)
    assert flying.fly(300, 100, 68948 + 8700)[-1] == (FAULT, "pitot-rail")
    assert flying.fly(300, 300, 60000)[-1][1] != "pitot-rail"
    # low in the angled sensor: lift share 0 is -0.2 q on this curve's plumbing
    assert flying.fly(-1200, 300, 55500)[-1] == (FAULT, "angled-rail")


def test_a_sensor_that_says_nothing_new_is_stale():
    flying = Flying()
    flying.fly(300, 1500)
    flying.board.angled_sensor.raw_override = 0
    assert flying.fly(300, 150)[-1] == (FAULT, "angled-stale")


def test_one_pressure_for_ever_is_frozen():
    """A lively sensor whose converter sticks, in raw words as with the other family."""
    flying = Flying()
    flying.fly(300, 1500)
    stuck = flying.board.angled_sensor.pressure_raw()
    flying.board.angled_sensor.pressure_raw = lambda: stuck
    seen = set()
    for i in range(30):
        seen |= {word for _, word in flying.fly(300, 20, 6000 + 100 * i)}
    assert "angled-frozen" in seen


def test_direct_words_are_refused_on_a_board():
    """Nothing on a bus speaks them: raw words would pass for tenths of a pascal."""
    for side in ("pitot", "angled"):
        vault, _ = vault_with()
        sensors = record(pitot_output="hsc-a", angled_output="hsc-a")
        sensors[side + "_output"] = "direct"
        assert vault.save(SETTINGS, sensors) == ""
        loop, remarks = prepare(BenchBoard(), vault, str)
        assert isinstance(loop.unit, Refusal)
        assert any("direct is for replays only" in line for line in remarks)
