"""Conditions that must hold for a while, found without walking through the ticks."""

import numpy as np


def runs(flag: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(starts, stops) of every stretch in which a flag is set."""
    edges = np.flatnonzero(flag[1:] != flag[:-1]) + 1
    if len(flag) and flag[0]:
        edges = np.concatenate([[0], edges])
    if len(flag) and flag[-1]:
        edges = np.append(edges, len(flag))
    return edges[::2], edges[1::2]


def held(flag: np.ndarray, clock_ms: np.ndarray, need_ms: int, before_ms: int,
         carried_ms: int = 0) -> tuple[np.ndarray, int]:
    """(positions, carried): where a timer that runs while a flag is set reaches need_ms, once a
    stretch; and what it shows at the end.

    clock_ms: running sum of the ticks' own times, rising; before_ms: its value before the first.
    A tick counts whole. carried_ms: what the timer shows before the first tick.
    """
    starts, stops = runs(flag)
    if not len(starts):
        return starts, 0
    since = np.where(starts > 0, clock_ms[starts - 1], before_ms - carried_ms)
    left = int(clock_ms[-1] - since[-1]) if flag[-1] else 0
    long = clock_ms[stops - 1] - since >= need_ms  # few of many
    starts, stops, since = starts[long], stops[long], since[long]
    return np.maximum(np.searchsorted(clock_ms, since + need_ms), starts), left
