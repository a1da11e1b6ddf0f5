"""What the unit says of its channels while their windows are not both full: `health.Health`."""

import numpy as np

from alula.health import INTERMITTENT, SEEDING, channel_code
from alula.settings import Settings
from host_sim.tuning.stream import Ticks


def outage(ticks: Ticks, lo: int, hi: int, settings: Settings) -> tuple[np.ndarray, np.ndarray]:
    """(fault, code) at ticks lo..hi-1, all of those at which the channels are not both ready."""
    limit_ms = settings.fault_after_ms
    times = ticks.times_ms
    bad = [words.ages_ms(lo, hi, times) > limit_ms for words in (ticks.pitot, ticks.angled)]
    blamed = bad[0] | bad[1]
    unready_ms = times[lo:hi] - times[max(lo - 1, 0)]
    faulty = blamed | (unready_ms > limit_ms + settings.window_ms)
    code = np.full(hi - lo, SEEDING, np.int8)
    begin = int(np.argmax(faulty)) if faulty.any() else hi - lo
    if begin == hi - lo:
        return np.zeros(hi - lo, bool), code
    if not blamed[begin]:
        code[begin] = INTERMITTENT
    at = np.flatnonzero(blamed)
    if len(at):
        code[at] = _blame(ticks, lo, hi, bad)[at]
    says = blamed.copy()
    says[begin] = True
    latest = np.maximum.accumulate(np.where(says, np.arange(hi - lo), 0))
    code[begin:] = code[latest[begin:]]
    return np.arange(hi - lo) >= begin, code


def _blame(ticks: Ticks, lo: int, hi: int, bad: list[np.ndarray]) -> np.ndarray:
    reason = np.where(bad[0], ticks.pitot.reasons(lo, hi), ticks.angled.reasons(lo, hi))
    which = np.where(bad[1], np.where(bad[0], 2, 1), 0)
    return channel_code(which, reason)  # type: ignore[arg-type]  # whole arrays of them
