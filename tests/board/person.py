"""What somebody with two hands does who is led through the ground checks by what the unit says.

Both interpreters; knows the unit by its lines of text only. Used by the board of `rig` in the VM
and by the same unit in CPython.
"""

from tests.both.hoses import Hoses

LOW_DPA, HIGH_DPA = -10000, 10000  # both sensors of conftest.SETTINGS_RECORD
NOISE = (0, 1, 0, -1, 1, 2, 0, -1, 0, -2)  # steps; ten of them, so that a second has a hundred
BREATH_DPA, LINE_DPA = 400, 6000
AFTER_MS = 1500  # hands are slow


def word(dpa: int) -> int:
    """Type A: 10 % to 90 % of 2^14 over the range (data sheet of the family)."""
    return 1638 + (dpa - LOW_DPA) * 13107 // (HIGH_DPA - LOW_DPA)


class Person:
    """faults: {"swap": two ports whose hoses are exchanged until the unit says so; "leak": a port
    that loses a quarter in a minute, and the only one that is tried; "away": nobody is there}.
    board: `clock`, `button_pin`, two sensors."""

    def __init__(self, plumbing: str, faults: dict, board) -> None:
        self._hoses = Hoses(plumbing)
        self._faults = faults
        self._board = board
        self._port = ""
        self._step = ""
        self._from_ms = self._to_ms = 0
        self._push_dpa = 0
        self._turns = 0
        self._swapped = "swap" in faults
        if self._swapped:
            self._hoses.swap_ports(faults["swap"][0], faults["swap"][1])

    def hear(self, line: str) -> None:
        """A line that the unit tells."""
        if "away" in self._faults:
            return
        words = line.split()
        if line.startswith("check: breathe at the "):
            self._act(words[4], BREATH_DPA, 500)
        elif line.startswith("check leak ") and not line.startswith("check leak-"):
            port = words[2].rstrip(":")
            if self._faults.get("leak", port) != port:
                self._press()
            else:
                self._act(port, -LINE_DPA if port == "static" else LINE_DPA, 1 << 30)
        elif line.startswith("check leak-"):
            self._to_ms = self._now_ms() + AFTER_MS  # the verdict: let go
        elif line.startswith("check puff: wrong") and self._swapped:
            self._hoses.swap_ports(self._faults["swap"][0], self._faults["swap"][1])
            self._swapped = False
        elif line.startswith("check: all of them heard") or line == "check: now":
            self._press()

    def _press(self) -> None:
        start_ms = self._now_ms() + AFTER_MS
        self._board.button_pin.presses = [[start_ms, start_ms + 200]]

    def _now_ms(self) -> int:
        return self._board.clock.elapsed_ms()

    def _act(self, port: str, dpa: int, ms: int) -> None:
        self._port, self._push_dpa = port, dpa
        self._from_ms = self._now_ms() + AFTER_MS
        self._to_ms = self._from_ms + ms

    def move(self) -> None:
        """Before a tick: the sensors feel what the hands do, and still air else."""
        now_ms, pitot, angled = self._now_ms(), 0, 0
        if self._from_ms < now_ms < self._to_ms:
            pressures = {port: 0 for port in self._hoses.ports}
            pressures[self._port] = self._pressure(now_ms)
            pitot, angled = self._hoses.feel(pressures)
        noise = NOISE[self._turns % len(NOISE)]
        self._turns += 1
        self._board.pitot_sensor.refresh(word(pitot) + noise)
        self._board.angled_sensor.refresh(word(angled) - noise)

    def _pressure(self, now_ms: int) -> int:
        """Up and down within 0.1 s; what leaks falls from the top on."""
        edge = max(0, min(now_ms - self._from_ms, self._to_ms - now_ms, 100))
        lost = 0
        if self._faults.get("leak") == self._port:
            lost = max(0, now_ms - self._from_ms) * self._push_dpa // 240000
        return (self._push_dpa - lost) * edge // 100
