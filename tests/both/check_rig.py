"""What the checks' tests share: hoses that can be wrong, a unit that feels them, hands and mouth.

Both interpreters: firmware and bench only.
"""

import json

from alula.ground_check import steps
from alula.pressure_ratio import PLUMBINGS
from alula.record_payloads import SETTINGS
from tests.both.hoses import Hoses
from tests.both.start_rig import Start, stored
from tests.both.test_core_loop import code, sensor_record

PERIOD_MS = 10


class Bench:
    """A started unit on the ground with real drivers, hoses, and a computer on the console.

    said: lines of narration. figures: what was announced, in order.
    """

    def __init__(self, plumbing: str = "port-static", vault=None, ticks: int = 320,
                 listen: bool = True, **changes) -> None:
        if vault is None:
            vault = stored()[0]
            record = sensor_record(plumbing=plumbing, **changes)
            assert vault.save(SETTINGS, record) == ""
            value = vault.load(3)[0]
            assert vault.save(3, dict(value, plumbing=plumbing)) == ""
        self.hoses = Hoses(plumbing)
        self.plumbing = PLUMBINGS.index(plumbing)
        self.start = Start(vault)
        self.vault = vault
        self.start.convert = self.convert
        self.pressures = {port: 0 for port in self.hoses.ports}
        self.noise = True
        self.moves = None  # called each tick, may change pressures
        self.start.prepare()
        self.loop, self.board = self.start.loop, self.start.board
        self.unit = self.loop.unit
        self.checks = self.unit.checks
        self.figures = []
        self.heard = []
        announce = self.unit.voice.announce

        def announced(figure: int) -> None:
            self.figures.append(figure)
            announce(figure)

        if listen:
            self.unit.voice.announce = announced
        self.run(ticks * PERIOD_MS)

    @property
    def said(self) -> list:
        return self.start.said

    def convert(self) -> None:
        board = self.board if hasattr(self, "board") else self.start.board
        if self.moves is not None:
            self.moves()
        pitot, angled = self.hoses.feel(self.pressures)
        noise = board.clock.elapsed_ms() // 10 % 3 if self.noise else 0
        board.pitot_sensor.refresh(code(pitot) + noise)
        board.angled_sensor.refresh(code(angled) + (noise + 1) % 3 if self.noise else code(angled))

    def run(self, ms: int, until=None) -> bool:
        """So long, or until something is so; whether it was."""
        for _ in range(0, ms, PERIOD_MS):
            self.loop.run_once()
            pwm = self.board.pwm
            self.heard.append(pwm.hz if pwm.duty else 0)
            if until is not None and until():
                return True
        return False

    def press(self, ms: int) -> None:
        """Hold the button so long, then let half a second pass."""
        now_ms = self.board.clock.elapsed_ms()
        self.board.button_pin.presses = [[now_ms, now_ms + ms]]
        self.run(ms + 500)

    def ask(self, line: str) -> dict:
        """One command to the console, and its answer."""
        before = len(self.board.terminal.lines())
        self.board.keys.type(line + "\n")
        self.run(6000, lambda: not self.board.keys.waiting()
                 and not self.board.console.answering())
        found = [json.loads(text) for text in self.board.terminal.lines()[before:]
                 if text[:1] == "{"]
        assert len(found) == 1, (line, found)
        return found[0]

    def news(self) -> int:
        """The latest of the checks' news."""
        return self.checks.telling.news(self.checks.telling.told - 1)

    def puff(self, port: str, dpa: int = 400, ms: int = 400) -> None:
        """A breath at a port that rises and falls over a tenth of a second."""
        for i in range(-10, ms // PERIOD_MS + 10):
            edge = min(i + 11, ms // PERIOD_MS + 10 - i, 10)
            self.pressures[port] = dpa * max(edge, 0) // 10
            self.run(PERIOD_MS)
        self.pressures[port] = 0
        self.run(100)

    def puff_all(self, dpa: int = 400) -> bool:
        """Breathe at each port as it is asked for; whether the test says that all is right."""
        puff, rows = self.checks.puff, self.checks.results
        before = rows.count
        for i in range(len(self.hoses.ports)):
            assert self.run(5000, lambda i=i: puff._stage == 1 and puff.port == i), self.said[-3:]
            self.puff(self.hoses.ports[i], dpa)
            if not self.run(3000, lambda: puff._stage != 1):  # nothing was felt
                assert self.run(20000, lambda: puff._stage != 1)
        assert self.run(3000, lambda: rows.stamps[steps.ROW_PUFF] > before)
        return rows.verdicts[steps.ROW_PUFF] == steps.PASSED


def begun(plumbing: str = "port-static", command: str = "check puff", **more) -> Bench:
    """A bench on which a check has just begun."""
    bench = Bench(plumbing, **more)
    told = bench.ask(command)
    assert told["ok"] is True, told
    return bench
