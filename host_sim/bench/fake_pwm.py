"""A PWM output that records what it is told."""

from array import array

from host_sim.bench.virtual_clock import VirtualClock


class RecordingPwm:
    """Behaves as `machine.PWM` of the rp2 port: a change of frequency keeps the duty.

    clock: gives the time of each event by `elapsed_us()`.
    size: events kept, the oldest go first; `count` counts all. Recording does not allocate.
    drifts: behave as the port once did (issue 8249 of the MicroPython project): the pulse keeps
    its length in time when the frequency changes, so the duty drifts, up to all the time, silence.
    fail_next(n): the next n calls raise OSError.
    """

    def __init__(self, clock: VirtualClock, size: int = 4096, drifts: bool = False) -> None:
        self.hz = 0
        self.duty = 0
        self.count = 0
        self.drifts = drifts
        self._clock = clock
        self._size = size
        self._times_ms = array("i", [0] * size)
        self._times_us = array("h", [0] * size)  # the rest: whole microseconds outgrow 31 bits
        self._hz = array("i", [0] * size)
        self._duty = array("i", [0] * size)
        self._failures = 0

    def fail_next(self, calls: int) -> None:
        """The next `calls` settings raise OSError and change nothing."""
        self._failures = calls

    def freq(self, hz: int) -> None:
        """As `machine.PWM.freq(hz)`; ValueError below 8 Hz, as on the board."""
        self._may_fail()
        if hz < 8:
            raise ValueError("freq too small")
        if self.drifts and self.hz > 0:
            self.duty = min(self.duty * hz // self.hz, 65535)
        self.hz = hz
        self._record()

    def duty_u16(self, duty: int) -> None:
        """As `machine.PWM.duty_u16(duty)`, 0..65535; ValueError outside."""
        self._may_fail()
        if not 0 <= duty <= 65535:
            raise ValueError("duty has 16 bits")
        self.duty = duty
        self._record()

    def kept(self) -> int:
        """Number of events that `time_us(i)` and its sisters can still tell."""
        return min(self.count, self._size)

    def time_us(self, i: int) -> int:
        """Time of the i-th event still kept, from the oldest, microseconds."""
        at = self._at(i)
        return self._times_ms[at] * 1000 + self._times_us[at]

    def hz_at(self, i: int) -> int:
        """Frequency after that event."""
        return self._hz[self._at(i)]

    def duty_at(self, i: int) -> int:
        """Duty after that event, 0..65535."""
        return self._duty[self._at(i)]

    def events(self) -> list[tuple[int, int, int]]:
        """All kept events, oldest first: (t_us, freq_hz, duty_u16). Allocates."""
        return [(self.time_us(i), self.hz_at(i), self.duty_at(i)) for i in range(self.kept())]

    def _at(self, i: int) -> int:
        if not 0 <= i < self.kept():
            raise IndexError("no such event")
        return (self.count - self.kept() + i) % self._size

    def _may_fail(self) -> None:
        if self._failures > 0:
            self._failures -= 1
            raise OSError(5)

    def _record(self) -> None:
        at = self.count % self._size
        now_us = self._clock.elapsed_us()
        self._times_ms[at] = now_us // 1000
        self._times_us[at] = now_us % 1000
        self._hz[at] = self.hz
        self._duty[at] = self.duty
        self.count += 1
