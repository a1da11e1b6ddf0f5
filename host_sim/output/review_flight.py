"""One replayed log, as a review looks at it: arrays of every tick, and when it was in the air."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from host_sim.output.changes import speeds_kt
from host_sim.output.trace import column, known
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import Stream

use_firmware()

from alula import health, states  # noqa: E402
from alula.sample import FRESH  # noqa: E402
from alula.settings import Settings  # noqa: E402
from host_sim.runtimes.session import IN_COLUMNS  # noqa: E402

Span = tuple[int, int]  # first tick, and the tick after the last
_NO_FAULT = (health.OK, health.ON_GROUND, health.SEEDING, health.TOO_SLOW)


@dataclass(frozen=True)
class ReviewFlight:
    """name: of the log. stream: what went into the firmware. out: what it decided, columns as in
    `session.OUT_COLUMNS`. first_ms: time of the first row. NaN stands where the unit knew no
    number. made_with: names of the settings and calibration, for people. offset_s: time
    of the first row on the page's time axis. remarks: more lines, about gaps and damage."""

    name: str
    stream: Stream
    out: np.ndarray
    first_ms: int
    made_with: str = "settings: the defaults"
    offset_s: float = 0.0
    remarks: tuple[str, ...] = ()

    @cached_property
    def settings(self) -> Settings:
        """As the firmware loads them."""
        return self.stream.checked_settings()

    @property
    def calibrated(self) -> bool:
        """Whether there was a calibration: without one there are no margins."""
        return self.stream.calibration is not None

    @cached_property
    def now_ms(self) -> np.ndarray:
        """Time since the first row, ms, whole."""
        return column(self.out, "now_ms").astype(np.int64)

    @cached_property
    def time_s(self) -> np.ndarray:
        """Time as the log has it, s."""
        return (self.now_ms + self.first_ms) / 1000

    def page_s(self, tick: int) -> float:
        """Time of a tick on the page's axis, s; the last tick's for one that is past the end."""
        return float(self.now_ms[min(tick, len(self.now_ms) - 1)]) / 1000 + self.offset_s

    @cached_property
    def q_dpa(self) -> np.ndarray:
        """Pitot minus static, 0.1 Pa."""
        return known(self.out, "pitot_dpa")

    @cached_property
    def ias_kt(self) -> np.ndarray:
        """Indicated airspeed from that pressure, kt: no position error is taken off."""
        return speeds_kt(self.out)

    @cached_property
    def lift(self) -> np.ndarray:
        """Share of the lift in use, CL/CLmax."""
        return known(self.out, "lift_pm") / 1000

    @cached_property
    def load(self) -> np.ndarray:
        """Load factor from the accelerometer; NaN without one."""
        fresh = self.stream.rows[:, IN_COLUMNS.index("nz_status")] == FRESH
        return np.where(fresh, self.stream.rows[:, IN_COLUMNS.index("nz_mg")] / 1000, np.nan)

    @cached_property
    def has_load(self) -> bool:
        """Whether the log has a load factor at all."""
        return bool(np.isfinite(self.load).any())

    @cached_property
    def state(self) -> np.ndarray:
        """State of each tick, index into `states.WORDS`."""
        return column(self.out, "state")

    @cached_property
    def health(self) -> np.ndarray:
        """Health word of each tick, index into `health.WORDS`."""
        return column(self.out, "health")

    @cached_property
    def air(self) -> list[Span]:
        """Spans in the air. One begins when dynamic pressure has been above the setting
        `flying_q_dpa` (0.9 of the least stall's: slower no wing flies) for `flying_ms`; it ends
        with the last such tick before the unit says that the aeroplane is on the ground, or,
        where it is uncalibrated or data are missing, before dynamic pressure stays below
        `min_q_dpa` for `ground_ms`."""
        fast = self.q_dpa >= self.settings.flying_q_dpa
        ground = (self.health == health.ON_GROUND) | self._slow_for_long()
        found: list[Span] = []
        for first, after in spans(fast):
            long = self.now_ms[after - 1] - self.now_ms[first] >= self.settings.flying_ms
            if found and not ground[found[-1][1]:first].any():
                found[-1] = (found[-1][0], after)
            elif long:
                found.append((first, after))
        return found

    def _slow_for_long(self) -> np.ndarray:
        """Only where the unit itself cannot say "on the ground"."""
        told = np.zeros(len(self.out), bool)
        slow = (self.q_dpa < self.settings.min_q_dpa) & (self.health == health.UNCALIBRATED)
        for first, after in spans(slow):
            if self.now_ms[after - 1] - self.now_ms[first] >= self.settings.ground_ms:
                told[first:after] = True
        return told

    def landed(self, span: Span) -> bool:
        """Whether a span in the air ended on the ground, and not with the log."""
        rest = self.q_dpa[span[1]:]
        return bool((rest < self.settings.min_q_dpa).any())

    @cached_property
    def faults(self) -> list[tuple[Span, str]]:
        """Spans with a health word that says that something is wrong, and the word."""
        wrong = ~np.isin(self.health, _NO_FAULT) | (self.state == states.FAULT)
        return [((first, after), health.WORDS[int(self.health[first])])
                for first, after in runs(np.where(wrong, self.health, -1))
                if wrong[first]]

    def last_seconds(self, span: Span, before_s: float) -> Span:
        """The part of a span that lies within its last `before_s` seconds."""
        from_ms = self.now_ms[span[1] - 1] - round(1000 * before_s)
        return max(span[0], int(np.searchsorted(self.now_ms, from_ms))), span[1]

    def seconds(self, span: Span) -> float:
        """How long a span lasts: to the tick after its last, where there is one."""
        last = min(span[1], len(self.now_ms) - 1)
        return float(self.now_ms[last] - self.now_ms[span[0]]) / 1000


def spans(mask: np.ndarray) -> list[Span]:
    """Where a mask is true without a break."""
    edges = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(np.int8)))
    return [(int(first), int(after)) for first, after in edges.reshape(-1, 2)]


def runs(values: np.ndarray) -> list[Span]:
    """Where a value stays the same."""
    if not len(values):
        return []
    edges = np.flatnonzero(np.r_[True, values[1:] != values[:-1], True])
    return [(int(first), int(after)) for first, after in zip(edges[:-1], edges[1:], strict=True)]
