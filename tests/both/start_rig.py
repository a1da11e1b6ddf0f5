"""What the tests of starts and buses share: a unit on a board of fakes, started from a flash, and
sensors that follow what it flies. Runs in both interpreters."""

import main
from alula.record_payloads import CALIBRATION, SETTINGS, ZERO
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from startup import prepare
from tests.both.core_rig import POINTS
from tests.both.test_core_loop import code, sensor_record
from tests.both.vault_rig import vault_with

BACK_TICKS = 150  # design: the right sound within 1.5 s of power


class Planted(Exception):
    """A mistake in the program."""


class Start:
    """One power-up on a flash. The sensors feel what `feel` last said."""

    def __init__(self, vault, word: str = "power", accel=None) -> None:
        self.vault = vault
        self.board = BenchBoard(VirtualClock(), accel)
        self.board.start_word = word
        self.said: list = []
        self.lift_pm, self.q_dpa = 300, 6000
        self.loop = None
        self.before_tick = None

    def prepare(self, *_) -> tuple:
        """As `startup.prepare`, with sensors that convert before every wait ends."""
        self.loop, remarks = prepare(self.board, self.vault, self.said.append)
        wait = self.board.clock.wait_until_ms

        def converting(deadline_ms: int) -> int:
            self.convert()
            if self.before_tick is not None:
                self.before_tick()
            return wait(deadline_ms)

        self.board.clock.wait_until_ms = converting
        return self.loop, remarks

    def convert(self) -> None:
        noise = self.board.clock.elapsed_ms() // 10 % 3
        self.board.pitot_sensor.refresh(code(self.q_dpa) + noise)
        self.board.angled_sensor.refresh(
            code((self.lift_pm - 200) * self.q_dpa // 1000) + noise % 2)
        if self.board.accel_chip is not None:
            self.board.accel_chip.refresh(0, 0, 1000)

    def fly(self, ticks: int, lift_pm: int, q_dpa: int = 6000) -> list:
        """(state, tone heard) of each tick; lift moves by 1 % of the greatest a tick."""
        rows = []
        for _ in range(ticks):
            self.lift_pm += max(-10, min(10, lift_pm - self.lift_pm))
            self.q_dpa = q_dpa
            self.loop.run_once()
            pwm = self.board.pwm
            rows.append((self.loop.unit.state, pwm.hz if pwm.duty else 0))
        return rows

    def main(self) -> None:
        """`main.start` on this board, until it restarts."""
        usual, main.prepare = main.prepare, self.prepare
        try:
            main.start(self.board, self.vault)
        finally:
            main.prepare = usual


def stored(accel: str = "none"):
    """(vault, flash) of a unit that knows its wing and its zero."""
    vault, flash = vault_with()
    assert vault.save(SETTINGS, sensor_record(accelerometer=accel)) == ""
    curve = {"flap": 0, "method": "from-file", "points": [list(pair) for pair in POINTS],
             "entry_rate_ckt_s": None, "runs": None, "spread_bp": None}
    assert vault.save(CALIBRATION, {"plumbing": "port-static", "fingerprint": None,
                                    "curves": [curve]}) == ""
    assert vault.save(ZERO, {"pitot_dpa": 0, "angled_dpa": 0, "spread_pitot_dpa": None,
                             "spread_angled_dpa": None, "temperature_dc": None,
                             "count": None}) == ""
    return vault, flash


def started(vault, word: str = "power", accel=None, lift_pm: int = 300, q_dpa: int = 6000):
    """A unit that is about to make its first tick."""
    unit = Start(vault, word, accel)
    unit.lift_pm, unit.q_dpa = lift_pm, q_dpa
    unit.prepare()
    return unit


def raising(*_) -> None:
    raise Planted("a mistake")


class Broken:
    """An object of the loop, with one method that raises from now on."""

    def __init__(self, inner, name: str) -> None:
        self._inner = inner
        self._name = name

    def __getattr__(self, name: str):
        return raising if name == self._name else getattr(self._inner, name)


def gaps(rows) -> list:
    """Lengths of the silences in ticks; [0] where there is none."""
    found, length = [0], 0
    for _, hz in rows:
        length = 0 if hz else length + 1
        found.append(length)
    return found
