"""What a flight was like, whoever judges it: one reading with the shipped settings, looked at from
both sides in time, so that it has no delay of its own. The measures rest on it."""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from host_sim.errors import UsageError
from host_sim.runtimes.paths import use_firmware
from host_sim.tuning.candidates import SHIPPED
from host_sim.tuning.fleet.flights import TuneFlight
from host_sim.world.atmosphere import DENSITY_SEA

use_firmware()

from alula import health  # noqa: E402
from alula.sample import FRESH  # noqa: E402
from alula.settings import load  # noqa: E402
from host_sim.runtimes.session import IN_COLUMNS, UNKNOWN  # noqa: E402
from host_sim.tuning.engine.decided import Course  # noqa: E402
from host_sim.tuning.engine.prepared import Prepared  # noqa: E402
from host_sim.tuning.engine.through_engine import records, shown_in  # noqa: E402

Spans = tuple[tuple[int, int], ...]
KT_MS = 1852.0 / 3600.0
SLOW_LIFT_PM = 592  # 1.30 Vs: at normal approach speed no warning may sound (14 CFR 23.207(d))
MEAN_S = 2.0  # the lift that the pilot flies, gusts left out
SLOW_AROUND_S = 3.0
ROUGH_S, ROUGH_SHARE = 10.0, 0.05  # light turbulence begins at some 0.05 g: common practice
APPROACH_S, APPROACH_PM = 10.0, (450, 660)  # 1.49 to 1.23 Vs
BREAK_S = 1.5  # how far a mark of a stall may lie from the break
CONTRADICTS_PM = 800
ASIDE_S = 45.0  # what a stretch needs of its neighbours: an entry, all means, and some to spare


@dataclass(frozen=True)
class Reference:
    """A stretch of a flight. Arrays, one value a tick. time_ms. flying: the unit is in the air and
    knows the lift. slow: the pilot flies below 1.3 Vs (or within 3 s of it). rough: gusts.
    approach: in the calm band's neighbourhood. speed_kt: indicated, mean of half a second. load:
    factor, 1 where not known. lift_pm: share of the lift in use, mean of half a second; NaN where
    not known. every_ms: from tick to tick, usually. stalls: their ticks. first_row: row of the
    first tick. before: time_ms and speed_kt of the ticks just before."""

    time_ms: np.ndarray
    flying: np.ndarray
    slow: np.ndarray
    rough: np.ndarray
    approach: np.ndarray
    speed_kt: np.ndarray
    load: np.ndarray
    lift_pm: np.ndarray
    every_ms: float
    stalls: tuple[int, ...]
    first_row: int = 0
    before: tuple[np.ndarray, np.ndarray] = (np.zeros(0), np.zeros(0))

    @cached_property
    def spent_s(self) -> tuple[float, float, float]:
        """Time flying, in gusts, and near the calm band; a gap in the data counts for one tick."""
        flying, rough, approach = (float(mask.sum()) * self.every_ms / 1000.0 for mask in (
            self.flying, self.rough, self.approach))
        return flying, rough, approach

    @cached_property
    def flown(self) -> np.ndarray:
        """Ticks flown before each tick, and one more at the end."""
        return np.cumsum(np.r_[0, self.flying])

    @cached_property
    def high(self) -> np.ndarray:
        """Where the lift is such that the shipped values warn."""
        return self.lift_pm >= SHIPPED["pressing_pm"]


@dataclass(frozen=True)
class _Columns:
    """What the reference is made from, tick by tick; NaN where it is not known. use: not left out.
    aloft: not on the ground."""

    time_ms: np.ndarray
    lift_pm: np.ndarray
    q_pa: np.ndarray
    load: np.ndarray
    use: np.ndarray
    aloft: np.ndarray

    def part(self, lo: int, hi: int) -> "_Columns":
        return _Columns(*(getattr(self, one.name)[lo:hi].copy() for one in fields(self)))

    def __add__(self, other: "_Columns") -> "_Columns":
        return _Columns(*(np.concatenate([getattr(self, one.name), getattr(other, one.name)])
                          for one in fields(self)))


def readings(flight: TuneFlight, odd: Spans) -> Iterator[tuple[Prepared, Reference]]:
    """Read a flight with the shipped settings, stretch by stretch. odd: rows that are left out,
    see `Piece`. UsageError where its truth contradicts it. Holds two stretches at a time."""
    reader = _Reader(flight, odd)
    waiting: tuple[Prepared, _Columns] | None = None
    for stretch, columns in reader.stretches():
        if waiting:
            yield waiting[0], reader.reference(waiting[1], columns)
        waiting = stretch, columns
    if waiting:
        yield waiting[0], reader.reference(waiting[1], waiting[1].part(0, 0))


class _Reader:
    def __init__(self, flight: TuneFlight, odd: Spans) -> None:
        self._flight, self._odd = flight, odd
        self._settings = load({**flight.settings, **SHIPPED})[0]
        self._course = Course(self._settings)
        self._every_ms = 0.0
        self._behind: _Columns | None = None
        self._row = 0

    def stretches(self) -> Iterator[tuple[Prepared, _Columns]]:
        before, first = None, 0
        for rows in self._flight.blocks():
            stretch = Prepared(rows, records(self._flight), before)
            yield stretch, self._columns(rows, first, stretch)
            before, first = stretch.ticks.tail, first + len(rows)

    def _columns(self, rows: np.ndarray, first: int, stretch: Prepared) -> _Columns:
        if not self._every_ms:
            self._every_ms = max(1.0, float(np.median(np.diff(rows[:, 0])))
                                 if len(rows) > 1 else 1.0)
        group, told = self._course.step(stretch)
        shown = shown_in(stretch, group, self._settings)
        lengths = np.diff(np.r_[told.rows, first + len(rows)])
        fresh = rows[:, IN_COLUMNS.index("nz_status")] == FRESH
        return _Columns(
            rows[:, 0].copy(),
            np.where(shown.lift_pm == UNKNOWN, np.nan, shown.lift_pm.astype(float)),
            np.where(shown.q_dpa == UNKNOWN, np.nan, shown.q_dpa / 10.0),
            np.where(fresh, rows[:, IN_COLUMNS.index("nz_mg")] / 1000.0, np.nan),
            ~rows_in(self._odd, first, len(rows)),
            np.repeat(told.health != health.ON_GROUND, lengths))

    def reference(self, here: _Columns, ahead: _Columns) -> Reference:
        """Of a stretch between its neighbours, in the flight's order."""
        reach = round(ASIDE_S * 1000 / self._every_ms)
        behind = self._behind or here.part(0, 0)
        lo, hi = len(behind.time_ms), len(behind.time_ms) + len(here.time_ms)
        whole = behind + here + ahead.part(0, reach)
        found = self._judged(whole, lo, hi)
        self._behind = whole.part(max(0, hi - reach), hi)
        self._row += hi - lo
        return found

    def _judged(self, seen: _Columns, lo: int, hi: int) -> Reference:
        half_s, own, lift = self._ticks(0.5), slice(lo, hi), seen.lift_pm
        flying = seen.use & np.isfinite(lift) & seen.aloft
        mean = centred_mean(lift, self._ticks(MEAN_S))
        off = centred_mean((lift - mean) ** 2, self._ticks(ROUGH_S))
        long_mean = centred_mean(lift, self._ticks(APPROACH_S))
        with np.errstate(invalid="ignore"):
            slow = widened(mean >= SLOW_LIFT_PM, self._ticks(SLOW_AROUND_S))
            rough = flying & (np.sqrt(off) > ROUGH_SHARE * mean)
            approach = flying & (APPROACH_PM[0] <= long_mean) & (long_mean <= APPROACH_PM[1])
        speed_kt = _speed_kt(seen.q_pa, half_s)
        load = centred_mean(seen.load, half_s)
        load = np.where(np.isfinite(load), load, 1.0)
        return Reference(
            seen.time_ms[own], flying[own], slow[own], rough[own], approach[own], speed_kt[own],
            load[own], centred_mean(lift, half_s)[own], self._every_ms,
            self._stalls(seen, lo, hi), self._row, (seen.time_ms[:lo], speed_kt[:lo]))

    def _ticks(self, seconds: float) -> int:
        return round(seconds * 1000 / self._every_ms)

    def _stalls(self, seen: _Columns, lo: int, hi: int) -> tuple[int, ...]:
        """Those of the stretch, as its ticks."""
        after_ms = seen.time_ms[lo - 1] if lo else -1
        found = [int(np.searchsorted(seen.time_ms, stall)) for stall in self._flight.stalls_ms
                 if after_ms < stall <= seen.time_ms[hi - 1]]
        found = [stall for stall in found if seen.use[stall]]
        for stall in found:
            reach = self._ticks(BREAK_S)
            _refuse_contradiction(self._flight, seen.time_ms[stall],
                                  seen.lift_pm[max(0, stall - reach):stall + reach + 1])
        return tuple(stall - lo for stall in found)


def rows_in(spans: Spans, first: int, count: int) -> np.ndarray:
    """A mask of the rows in some spans, from row `first` on."""
    found = np.zeros(count, bool)
    for lo, hi in spans:
        found[max(lo - first, 0):max(hi - first, 0)] = True
    return found


def centred_mean(values: np.ndarray, width: int) -> np.ndarray:
    """Mean of what is known within half a width on both sides; NaN where nothing is."""
    half = max(0, width // 2)
    known = np.isfinite(values)
    sums = np.cumsum(np.r_[0.0, np.where(known, values, 0.0)])
    counts = np.cumsum(np.r_[0, known])
    at = np.arange(len(values))
    first, last = np.maximum(at - half, 0), np.minimum(at + half + 1, len(values))
    count = counts[last] - counts[first]
    return np.where(count > 0, (sums[last] - sums[first]) / np.maximum(count, 1), np.nan)


def widened(mask: np.ndarray, reach: int) -> np.ndarray:
    """A mask that holds within `reach` ticks of where it held."""
    counts = np.cumsum(np.r_[0, mask])
    at = np.arange(len(mask))
    return counts[np.minimum(at + reach + 1, len(mask))] > counts[np.maximum(at - reach, 0)]


def _speed_kt(q_pa: np.ndarray, width: int) -> np.ndarray:
    """sqrt(2 q/rho0): as an airspeed indicator, within 0.1 % below 60 kt (compressibility)."""
    return np.sqrt(2.0 * np.maximum(centred_mean(q_pa, width), 0.0) / DENSITY_SEA) / KT_MS


def _refuse_contradiction(flight: TuneFlight, stall_ms: int, near: np.ndarray) -> None:
    most = float(np.nanmax(near)) if np.isfinite(near).any() else 0.0
    if most < CONTRADICTS_PM:
        said = (f"the calibration has at most {most / 1000:.2f} of the lift in use there"
                if most else "the unit knew no lift there")
        raise UsageError(f"{flight.name}: a stall is stated at {stall_ms / 1000:.1f} s "
                         f"after its first sample ({flight.stalls_from}), but {said}: one of "
                         "them is wrong; correct the truth, or calibrate again")
