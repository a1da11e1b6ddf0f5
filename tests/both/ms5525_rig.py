"""What the tests of the 24-bit sensor share: a driver on a fake chip, ticked as the loop does."""

from drivers.pressure_ms5525 import PressureMs5525
from host_sim.bench.fake_i2c import FakeI2C
from host_sim.bench.fake_ms5525 import FakeMs5525
from host_sim.bench.virtual_clock import VirtualClock

CALL_US = 120  # four bytes at 400 kHz, about


class Fitted:
    """rows: (status, word) of each tick so far."""

    def __init__(self, address: int = 0x76, period_ms: int = 10, doublings: int = 0,
                 start_ms: int = (1 << 30) - 60) -> None:
        self.clock = VirtualClock(start_ms)  # the tick counter wraps in every test
        self.i2c = FakeI2C(self.clock, CALL_US)
        self.chip = FakeMs5525(self.clock, doublings)
        self.i2c.attach(address, self.chip)
        self.driver = PressureMs5525(self.i2c, address, doublings, self.clock, period_ms)
        self.rows = []
        self._period_ms = period_ms
        self._due_ms = self.clock.now_ms()

    def tick(self, late_ms: int = 0) -> int:
        """One tick, as late as told; its status."""
        self._due_ms = self.clock.add_ms(self._due_ms, self._period_ms)
        self.clock.wait_until_ms(self._due_ms)
        self.clock.advance_ms(late_ms)
        self.driver.read()
        self.rows.append((self.driver.status, self.driver.word))
        return self.driver.status

    def run(self, ticks: int) -> list:
        """(status, word) of so many ticks."""
        for _ in range(ticks):
            self.tick()
        return self.rows[len(self.rows) - ticks:]

    def statuses(self, ticks: int) -> list:
        """Statuses of so many ticks."""
        return [status for status, _ in self.run(ticks)]

    def settle(self, dpa: int = 1234):
        """Until pressures come."""
        self.chip.refresh(dpa)
        self.run(30)
        assert self.rows[29] == (0, dpa)
        return self
