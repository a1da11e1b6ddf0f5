"""What the unit says of its channels while their windows are not both full: `health.Health`."""

from dataclasses import dataclass

import numpy as np

from alula.health import INTERMITTENT, SEEDING, channel_code
from alula.settings import Settings
from host_sim.tuning.engine.stream import Ticks


@dataclass(frozen=True)
class Unready:
    """An outage that goes on. since_ms: time of the tick before it; fault, code: its latest."""

    since_ms: int
    fault: bool = False
    code: int = SEEDING


def outage(ticks: Ticks, lo: int, hi: int, settings: Settings,
           before: Unready) -> tuple[np.ndarray, np.ndarray, Unready]:
    """(fault, code, what is left of it) at ticks lo..hi-1, at none of which the channels are both
    ready; before: of the outage at the tick before them."""
    limit_ms = settings.fault_after_ms
    times = ticks.times_ms
    bad = [words.ages_ms(lo, hi, times) > limit_ms for words in (ticks.pitot, ticks.angled)]
    blamed = bad[0] | bad[1]
    faulty = blamed | (times[lo:hi] - before.since_ms > limit_ms + settings.window_ms)
    faulty[0] |= before.fault
    code = np.full(hi - lo, SEEDING, np.int8)
    begin = int(np.argmax(faulty)) if faulty.any() else hi - lo
    if begin == hi - lo:
        return np.zeros(hi - lo, bool), code, before
    if not blamed[begin]:
        code[begin] = before.code if before.fault else INTERMITTENT
    at = np.flatnonzero(blamed)
    if len(at):
        code[at] = _blame(ticks, lo, hi, bad)[at]
    says = blamed.copy()
    says[begin] = True
    latest = np.maximum.accumulate(np.where(says, np.arange(hi - lo), 0))
    code[begin:] = code[latest[begin:]]
    return np.arange(hi - lo) >= begin, code, Unready(before.since_ms, True, int(code[-1]))


def _blame(ticks: Ticks, lo: int, hi: int, bad: list[np.ndarray]) -> np.ndarray:
    reason = np.where(bad[0], ticks.pitot.reasons(lo, hi), ticks.angled.reasons(lo, hi))
    which = np.where(bad[1], np.where(bad[0], 2, 1), 0)
    return channel_code(0, 0) + (channel_code(1, 0) - channel_code(0, 0)) * which + reason
