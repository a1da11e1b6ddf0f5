"""Fakes of single pins, of a button that is pressed by a script, and of the two I2C lines."""

from host_sim.bench.virtual_clock import VirtualClock


class FakePin:
    """`value()` reads, `value(level)` sets; `changes` counts the times the level changed."""

    def __init__(self, level: int = 1) -> None:
        self._level = level
        self.writes = 0
        self.changes = 0

    def value(self, level: int | None = None) -> int | None:
        """As `machine.Pin.value`."""
        if level is None:
            return self._level
        self.writes += 1
        if level != self._level:
            self.changes += 1
            self._level = level
        return None


class ScriptedContact:
    """A contact to ground with a pull-up, closed during the stated times.

    presses: list of [from_ms, to_ms], times since the clock's beginning; `to_ms` not included.
    bounce_ms: for so long after each edge the level alternates from one ms to the next.
    """

    def __init__(self, clock: VirtualClock, presses: list[list[int]] | None = None,
                 bounce_ms: int = 0) -> None:
        self._clock = clock
        self.presses = presses if presses is not None else []
        self.bounce_ms = bounce_ms

    def value(self) -> int:
        """As `machine.Pin.value()`: 0 while closed."""
        now_ms = self._clock.elapsed_ms()
        for press in self.presses:
            if self._bounces(now_ms - press[0]) or self._bounces(now_ms - press[1]):
                return now_ms & 1
            if press[0] <= now_ms < press[1]:
                return 0
        return 1

    def _bounces(self, after_edge_ms: int) -> bool:
        return 0 <= after_edge_ms < self.bounce_ms


class OpenDrainLines:
    """SDA and SCL of a bus with pull-ups and a device that may hold SDA.

    A device cut off in a read shows its next bit after each falling edge of SCL, and lets go for
    good at the acknowledge slot when SDA is high there; a START or STOP makes it let go, too, if
    it can be sent. `hold(bits)` says what it is about to show, one character a bit, `a` for the
    acknowledge slot. `hold_for_ever()` is a short circuit or a dead device.
    """

    def __init__(self) -> None:
        self.scl = _Line(self)
        self.sda = _Line(self)
        self.clocks = 0
        self.stops = 0
        self.scl_shorted = False
        self._bits = ""
        self._at = 0
        self._for_ever = False

    def hold(self, bits: str) -> None:
        """A device shows bits[0] now and the next one after each falling clock edge."""
        self._bits = bits
        self._at = 0

    def hold_for_ever(self) -> None:
        """SDA stays low whatever is clocked."""
        self._for_ever = True

    def release(self) -> None:
        """The device, or the short, lets go."""
        self._bits = ""
        self._for_ever = False

    def device_pulls(self) -> bool:
        """Whether the device pulls SDA low."""
        return self._for_ever or self._at < len(self._bits) and self._bits[self._at] == "0"

    def free(self) -> bool:
        """Whether a transfer could begin."""
        return self.level(self.sda) == 1 and self.level(self.scl) == 1

    def level(self, line: "_Line") -> int:
        """Level of a line: low if anybody pulls."""
        if line is self.scl:
            return 0 if self.scl_shorted else line.driven
        return 0 if self.device_pulls() else line.driven

    def drive(self, line: "_Line", level: int) -> None:
        """The board pulls (0) or releases (1) a line."""
        before_scl, before_sda = self.level(self.scl), self.level(self.sda)
        line.driven = level
        scl, sda = self.level(self.scl), self.level(self.sda)
        if before_scl and scl and sda != before_sda:
            self.stops += sda  # up is a STOP, down a START
            self._bits = ""
        elif scl and not before_scl:
            self._rising(sda)
        elif before_scl and not scl:
            self._at += 1

    def _rising(self, sda: int) -> None:
        self.clocks += 1
        if self._at < len(self._bits) and self._bits[self._at] == "a" and sda:
            self._bits = ""


class _Line:
    """One of the two lines, seen as an open-drain pin."""

    def __init__(self, lines: OpenDrainLines) -> None:
        self._lines = lines
        self.driven = 1

    def value(self, level: int | None = None) -> int | None:
        """As `machine.Pin.value` of an open-drain pin: reads the line, not what was written."""
        if level is None:
            return self._lines.level(self)
        self._lines.drive(self, level)
        return None
