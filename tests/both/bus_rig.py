"""What the tests of the buses share: a unit in flight, and ways to spoil what its sensors say.

Runs in both interpreters.
"""

from alula.record_payloads import SETTINGS
from alula.states import PRESSING, QUIET, STALLING
from host_sim.bench.fake_i2c import FakeI2C
from tests.both.start_rig import Start, started, stored
from tests.both.test_bus_campaign import Fails
from tests.both.test_core_loop import sensor_record

SIDES = ("pitot", "angled")
ADDRESS = 0x28
# lift share, the state it gives, the longest silence of its sound in ticks (None: it is silent)
BANDS = ((300, QUIET, None), (800, PRESSING, 35), (1000, STALLING, 0))


def flying(lift_pm: int, accel: str = "none", **changes) -> Start:
    """A unit that has flown at a lift share for 13 s, from its own stored records."""
    vault, _ = stored(accel)
    if changes:
        assert vault.save(SETTINGS, sensor_record(accelerometer=accel, **changes)) == ""
    unit = started(vault, "power", None if accel == "none" else accel, lift_pm)
    unit.fly(1300, lift_pm)
    return unit


def i2c_of(unit: Start, side: str) -> FakeI2C:
    return unit.board.pitot_i2c if side == "pitot" else unit.board.angled_i2c


def replace(unit: Start, side: str, answer) -> Fails:
    """The side's sensor, with something done to each of its answers."""
    i2c = i2c_of(unit, side)
    device = Fails(i2c.devices[ADDRESS], answer)
    i2c.devices[ADDRESS] = device
    setattr(unit.board, side + "_sensor", device)
    return device


class Random:
    """The same numbers in both interpreters."""

    def __init__(self, seed: int) -> None:
        self._state = seed

    def below(self, most: int) -> int:
        self._state = (self._state * 1103515245 + 12345) % (1 << 31)
        return (self._state >> 12) % most


def hold_sda(i2c) -> None:
    i2c.lines.hold_for_ever()


def hold_scl(i2c) -> None:
    i2c.lines.scl_shorted = True


def let_go(i2c) -> None:
    i2c.lines.release()
    i2c.lines.scl_shorted = False
