"""Reset cause and count are kept; written while quiet. The zero's anchor and temperature."""

from alula.flap_curves import FlapCurves
from alula.record_payloads import ANCHOR, SETTINGS, STARTS, ZERO
from alula.sample import NO_TEMPERATURE
from alula.states import QUIET
from drivers.pressure_14bit import Pressure14Bit
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.fake_i2c import FakeI2C, FakePressure14
from host_sim.bench.virtual_clock import VirtualClock
from starts import counted, told
from startup import prepare
from tests.both.core_rig import POINTS, record
from tests.both.vault_rig import vault_with

SENSORS = {"pitot_output": "hsc-a", "angled_output": "hsc-a"}


class Started:
    """A board started with a vault; heard: what it said."""

    def __init__(self, vault, word: str = "power", **changes) -> None:
        self.vault = vault
        self.board = BenchBoard(VirtualClock(), None)
        self.board.start_word = word
        self.said = []
        changes.update(SENSORS)
        if vault.load(SETTINGS)[0] is None:
            assert vault.save(SETTINGS, record(**changes)) == ""
        self.loop, self.remarks = prepare(self.board, vault, self.said.append)

    def run(self, ms: int, pitot: int = 8192, angled: int = 8192) -> None:
        """So long with two words, the pitot's with a little noise."""
        for at in range(0, ms, 10):
            self.board.pitot_sensor.refresh(pitot + at // 10 % 3)
            self.board.angled_sensor.refresh(angled + at // 10 % 2)
            self.loop.run_once()


def test_c5_starts_are_counted_by_cause_and_told():
    vault = vault_with()[0]
    for word in ("power", "power", "watchdog", "restart", "watchdog"):
        unit = Started(vault, word)
        assert unit.remarks[0].startswith("start: " + word)
        unit.run(6000)
    assert vault.load(STARTS)[0] == {"power": 2, "watchdog": 2, "restart": 1, "in_air": 0,
                                     "last": "watchdog"}
    assert "2 by watchdog" in Started(vault, "power").remarks[0]


def test_c5_a_start_in_the_air_is_counted_when_it_is_quiet():
    vault, flash = vault_with()
    unit = Started(vault, "watchdog", zero_first_dpa=1500)
    files = len(flash.files)
    unit.run(30000, 8192 + 1400, 8192 + 300)  # about 1500 Pa: flying, and no zero: it speaks
    assert len(flash.files) == files and vault.load(STARTS)[0] is None
    for word in range(9592, 8192, -2):
        unit.run(40, word, 8192 + (word - 8192) // 4)
    unit.run(6000)
    assert vault.load(STARTS)[0]["in_air"] == 1 and vault.load(STARTS)[0]["watchdog"] == 1
    quiet = Started(vault, "power")
    quiet.loop.unit.flaps = FlapCurves(((0, POINTS),), 1000)
    quiet.loop.unit.zero.known = True
    quiet.run(7000, 8192 + 1400, 8192 + 200)
    assert quiet.loop.unit.state == QUIET and quiet.loop.unit.phase.flying
    assert vault.load(STARTS)[0]["in_air"] == 2


def test_counts_end_at_what_their_field_holds():
    full = {"power": 65535, "watchdog": 0, "restart": 0, "in_air": 65535, "last": "power"}
    assert counted(full, "power")["power"] == 65535
    assert counted(None, "restart") == {"power": 0, "watchdog": 0, "restart": 1, "in_air": 0,
                                        "last": "restart"}
    assert told(full) == ("start: power (65535 by power, 0 by watchdog, 0 by restart; 65535 in "
                          "the air)")


def test_a_flash_that_refuses_costs_one_line_and_nothing_else():
    vault, flash = vault_with()
    unit = Started(vault)
    flash.fail_at, flash.fail_for = 1, 1 << 20
    unit.run(8000)
    assert len([line for line in unit.said if "starts" in line]) == 1
    unit.run(8000)
    assert len([line for line in unit.said if "starts" in line]) == 1


def test_c2_the_sensor_tells_its_temperature():
    """Data sheet of the MS4525DO: degC = word * 200 / 2047 - 50."""
    sensor, bus = FakePressure14(), FakeI2C()
    bus.attach(0x28, sensor)
    driver = Pressure14Bit(bus, 0x28)
    for word in (0, 512, 767, 1023, 2047):
        sensor.temperature_code = word
        sensor.refresh(8192)
        driver.read()
        assert abs(driver.temperature_dc() - (word * 2000 / 2047 - 500)) <= 1


def test_c2_the_zero_is_stored_with_the_temperature_of_both_sensors():
    vault = vault_with()[0]
    unit = Started(vault)
    assert unit.loop.sample.temperature_dc == NO_TEMPERATURE
    unit.board.pitot_sensor.temperature_code = 767  # 24.9 degC
    unit.board.angled_sensor.temperature_code = 665  # 15.0 degC
    unit.run(4000)
    assert abs(vault.load(ZERO)[0]["temperature_dc"] - 199) <= 2
    again = Started(vault)
    again.board.pitot_sensor.temperature_code = again.board.angled_sensor.temperature_code = 970
    again.board.clock.advance_ms(10)
    again.run(300)
    assert [line for line in again.said if "degC" in line]  # 44.8: more than 15 away


def test_c1_the_anchor_is_stored_with_the_first_zero_and_stays():
    vault = vault_with()[0]
    Started(vault).run(4000)
    first = vault.load(ANCHOR)[0]
    assert first == vault.load(ZERO)[0] and first["count"] > 0
    for words in range(1, 9):
        Started(vault).run(4000, 8192 + 4 * words)  # 4 Pa more at each start
    assert vault.load(ANCHOR)[0] == first
    assert vault.load(ZERO)[0]["pitot_dpa"] - first["pitot_dpa"] <= 115


def test_c1_a_zero_from_before_there_were_anchors_becomes_one():
    vault = vault_with()[0]
    assert vault.save(ZERO, {"pitot_dpa": 40, "angled_dpa": 0, "spread_pitot_dpa": None,
                             "spread_angled_dpa": None, "temperature_dc": None,
                             "count": None}) == ""
    Started(vault).run(4000)
    assert vault.load(ZERO)[0]["pitot_dpa"] != 40 and vault.load(ANCHOR)[0]["pitot_dpa"] == 40
