"""Compares what a unit decided in flight, as its log tells it, with what the firmware decides now.

Until the first gap everything is compared: state, health, capture, and by digests what was heard,
lit and measured. After a gap the unit is a fresh one, whose windows, watches and timers have no
history. Then only state, health and the step of the capture are compared, and only from where they
have agreed for SETTLED_MS.
"""

from dataclasses import dataclass, field

import numpy as np

from host_sim.reading.unit_log import Gap, Timed
from host_sim.reading.unit_log_ticks import TICK_COLUMNS
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.session import OUT_COLUMNS, UNKNOWN

use_firmware()

from alula import health, log_digest, states  # noqa: E402

SETTLED_MS = 10000
_LOGGED = [TICK_COLUMNS.index(name) for name in ("state", "health", "capture", "verdicts",
                                                 "refusal")]
_NOW = [OUT_COLUMNS.index(name) for name in ("state", "health", "capture", "verdicts", "refusal")]
_DIGESTED = [OUT_COLUMNS.index(name) for name in ("voice_hz", "voice_level", "lamp", "ratio_bp",
                                                  "lift_pm", "pulse_millihz")]


@dataclass(frozen=True)
class Difference:
    """From begin_ms to end_ms (both ticks included) the log says one thing and the firmware now
    another; words of state and health, or of what a digest stands for."""

    begin_ms: int
    end_ms: int
    logged: str
    now: str

    def text(self) -> str:
        """One line for people."""
        return (f"{self.begin_ms / 1000:.2f} to {self.end_ms / 1000:.2f} s: logged "
                f"{self.logged}, now {self.now}")


@dataclass
class Comparison:
    """ticks, digests: compared ones. unsettled_ms: after gaps, time that was not compared.
    counts_from_ms: per gap, from when on it counts again (None: it never did)."""

    ticks: int = 0
    digests: int = 0
    differences: list[Difference] = field(default_factory=list)
    digest_differences: list[Difference] = field(default_factory=list)
    counts_from_ms: list[int | None] = field(default_factory=list)
    _broken: bool = False
    _sure: bool = True
    _agreed_ms: int | None = None

    def equal(self) -> bool:
        """Whether nothing that was compared differs."""
        return not self.differences and not self.digest_differences

    def first(self) -> Difference | None:
        """The earliest difference."""
        both = self.differences[:1] + self.digest_differences[:1]
        return min(both, key=lambda one: one.begin_ms, default=None)

    def gap(self, gap: Gap) -> None:
        """Samples are missing here: the unit begins anew."""
        self._broken, self._sure, self._agreed_ms = True, False, None
        self.counts_from_ms.append(None)

    def block(self, item: Timed, out: np.ndarray) -> None:
        """The next block and the decisions of now."""
        width = 3 if self._broken else len(_LOGGED)
        now = out[:, _NOW].copy()
        now[:, 3] &= 0xFF  # the log has the low byte of the number of verdicts
        logged = item.ticks.rows[:, _LOGGED]
        differs = (now[:, :width] != logged[:, :width]).any(axis=1)
        begin = 0 if self._sure else self._settle(item.time_ms, differs)
        self.ticks += len(differs) - begin
        self._note(item.time_ms, logged, now, differs, begin)
        if not self._broken:
            self._compare_digests(item, out)

    def _settle(self, time_ms: np.ndarray, differs: np.ndarray) -> int:
        """The tick from which it counts again; all of them if not in this block."""
        for i in range(len(differs)):
            if differs[i]:
                self._agreed_ms = None
                continue
            if self._agreed_ms is None:
                self._agreed_ms = int(time_ms[i])
            if time_ms[i] - self._agreed_ms >= SETTLED_MS:
                self._sure = True
                self.counts_from_ms[-1] = int(time_ms[i])
                return i
        return len(differs)

    def _note(self, time_ms: np.ndarray, logged: np.ndarray, now: np.ndarray,
              differs: np.ndarray, begin: int) -> None:
        """Ticks that differ alike and follow each other are one difference."""
        for i in (np.flatnonzero(differs[begin:]) + begin).tolist():
            was, is_now = _words(logged[i]), _words(now[i])
            if was == is_now:
                was, is_now = _capture(logged[i]), _capture(now[i])
            at = int(time_ms[i])
            last = self.differences[-1] if self.differences else None
            before = int(time_ms[i - 1]) if i else self._end_ms
            if last and (last.logged, last.now, last.end_ms) == (was, is_now, before):
                self.differences[-1] = Difference(last.begin_ms, at, was, is_now)
            else:
                self.differences.append(Difference(at, at, was, is_now))
        if len(time_ms):
            self._end_ms = int(time_ms[-1])

    _end_ms: int = -1

    def _compare_digests(self, item: Timed, out: np.ndarray) -> None:
        begin = 0
        for end, value in item.ticks.digests:
            if end > begin:
                self.digests += 1
                now = digest(out[begin:end])
                if now != value:
                    self.digest_differences.append(Difference(
                        int(item.time_ms[begin]), int(item.time_ms[end - 1]),
                        f"pitch, level, lamp, ratio, lift or pulse rate of digest {value:04x}",
                        f"{now:04x}"))
            begin = end


def digest(out: np.ndarray) -> int:
    """As `alula.log_digest` makes it of the same ticks."""
    values = out[:, _DIGESTED].astype(np.int64)
    values[values == UNKNOWN] = log_digest.UNKNOWN
    found = 0
    for value in values.ravel().tolist():
        found = (found * 251 + value) & 0xFFFF
    return found


def _words(row: np.ndarray) -> str:
    return f"{_word(states.WORDS, row[0])} ({_word(health.WORDS, row[1])})"


def _word(words: tuple[str, ...], number: int) -> str:
    return words[number] if number < len(words) else f"number {number}"


def _capture(row: np.ndarray) -> str:
    return f"capture step {row[2]}, {row[3]} verdicts, refusal {row[4]}"
