"""What the flights of a fleet have in common: the stall's dynamic pressure, and the noise."""

from collections.abc import Iterator
from math import sqrt

import numpy as np

from host_sim.errors import UsageError
from host_sim.runtimes.paths import use_firmware
from host_sim.tuning.fleet.flights import TuneFlight
from host_sim.tuning.fleet.loading import Fleet
from host_sim.tuning.measuring.bench_signals import Wing

use_firmware()

from alula.conditioning import Channel, channel_of  # noqa: E402
from alula.sample import FRESH  # noqa: E402
from alula.settings import Settings, load  # noqa: E402

_MAD = 1.4826  # standard deviation over the median of absolute values, Gaussian (textbook)
_LEAST = 500  # words: fewer do not tell a noise
_AROUND_MS = 500


def wing_of(fleet: Fleet) -> Wing:
    """Medians over the flights; a long flight's noise is the median over its stretches. UsageError
    where no flight has words enough."""
    settings = load(fleet.settings)[0]
    q_dpa: list[float] = []
    noises: list[np.ndarray] = []
    for flight in fleet.flights:
        found, before_ms = [], -1
        for rows, pitot, angled in _pressures(flight, settings):
            stalls_ms = [one for one in flight.stalls_ms if before_ms < one <= rows[-1, 0]]
            q_dpa += _stall_pressures(stalls_ms, rows, pitot)
            before_ms = rows[-1, 0]
            flying = pitot > settings.flying_q_dpa
            if flying.sum() > _LEAST:
                found.append([word_noise_dpa(dpa, flying, channel_of(settings, side).step_dpa)
                              for side, dpa in (("pitot", pitot), ("angled", angled))])
        if found:
            noises.append(np.median(np.array(found), axis=0))
    if not noises or not q_dpa:
        raise UsageError("no flight is long enough in the air to tell the sensors' noise; "
                         "add longer flights")
    pitot_dpa, angled_dpa = np.median(np.array(noises), axis=0).tolist()
    return Wing(fleet.flights[0].calibration, fleet.settings, float(np.median(q_dpa)),
                (pitot_dpa, angled_dpa))


def _pressures(flight: TuneFlight, settings: Settings
               ) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """(rows, pitot, angled), a stretch at a time; the stored zero is taken off."""
    zero_dpa = flight.zero_dpa or (0, 0)
    for rows in flight.blocks():
        yield (rows, pressures_dpa(rows, 1, channel_of(settings, "pitot")) - zero_dpa[0],
               pressures_dpa(rows, 3, channel_of(settings, "angled")) - zero_dpa[1])


def pressures_dpa(rows: np.ndarray, at: int, channel: Channel) -> np.ndarray:
    """Pressures of one channel's fresh words inside the rails, 0.1 Pa; NaN elsewhere."""
    transfer = channel._transfer
    words = rows[:, at + 1]
    good = ((rows[:, at] == FRESH) & (words > transfer.rail_low) & (words < transfer.rail_high))
    values, places = np.unique(words[good], return_inverse=True)
    found = np.full(len(rows), np.nan)
    found[good] = np.array([transfer.to_dpa(int(word)) for word in values], float)[places]
    return found


def word_noise_dpa(dpa: np.ndarray, flying: np.ndarray, step_dpa: int) -> float:
    """Standard deviation of one word: what second differences (6 variances of independent words)
    say, but no less than the rounding to a step."""
    second = np.diff(np.where(flying, dpa, np.nan), 2)
    second = second[np.isfinite(second)]
    if not len(second):
        return step_dpa / sqrt(12.0)
    return max(_MAD * float(np.median(np.abs(second))) / sqrt(6.0), step_dpa / sqrt(12.0))


def _stall_pressures(stalls_ms: list[int], rows: np.ndarray, pitot: np.ndarray) -> list[float]:
    """Dynamic pressure over load factor around each stall, as far as these rows reach."""
    found = []
    for stall_ms in stalls_ms:
        near = np.abs(rows[:, 0] - stall_ms) <= _AROUND_MS
        fresh = near & (rows[:, 5] == FRESH)
        load = float(rows[fresh, 6].mean()) / 1000.0 if fresh.any() else 1.0
        q_dpa = np.nanmean(pitot[near]) if np.isfinite(pitot[near]).any() else np.nan
        if np.isfinite(q_dpa) and load > 0.3:
            found.append(float(q_dpa) / load)
    return found
