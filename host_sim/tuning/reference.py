"""What a flight was like, whoever judges it: one reading with the shipped settings, looked at from
both sides in time, so that it has no delay of its own. The measures rest on it."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from host_sim.errors import UsageError
from host_sim.runtimes.paths import use_firmware
from host_sim.tuning.candidates import SHIPPED
from host_sim.tuning.flights import TuneFlight
from host_sim.tuning.through_engine import Prepared
from host_sim.world.atmosphere import DENSITY_SEA

use_firmware()

from alula import health  # noqa: E402
from alula.sample import FRESH  # noqa: E402
from host_sim.runtimes.session import IN_COLUMNS, UNKNOWN  # noqa: E402

Spans = tuple[tuple[int, int], ...]
KT_MS = 1852.0 / 3600.0
SLOW_LIFT_PM = 592  # 1.30 Vs: at normal approach speed no warning may sound (14 CFR 23.207(d))
MEAN_S = 2.0  # the lift that the pilot flies, gusts left out
SLOW_AROUND_S = 3.0
ROUGH_S, ROUGH_SHARE = 10.0, 0.05  # light turbulence begins at some 0.05 g: common practice
APPROACH_S, APPROACH_PM = 10.0, (450, 660)  # 1.49 to 1.23 Vs
BREAK_S = 1.5  # how far a mark of a stall may lie from the break
CONTRADICTS_PM = 800


@dataclass(frozen=True)
class Reference:
    """Arrays, one value a tick. time_ms. flying: the unit is in the air and knows the lift. slow:
    the pilot flies below 1.3 Vs (or within 3 s of it). rough: gusts. approach: in the calm band's
    neighbourhood. speed_kt: indicated, mean of half a second. load: factor, 1 where not known.
    lift_pm: share of the lift in use, mean of half a second; NaN where not known.
    seconds: in each of the three, while flying. stalls: their ticks."""

    time_ms: np.ndarray
    flying: np.ndarray
    slow: np.ndarray
    rough: np.ndarray
    approach: np.ndarray
    speed_kt: np.ndarray
    load: np.ndarray
    lift_pm: np.ndarray
    stalls: tuple[int, ...]

    @cached_property
    def every_ms(self) -> float:
        """From tick to tick, usually."""
        return float(np.median(np.diff(self.time_ms))) if len(self.time_ms) > 1 else 0.0

    @cached_property
    def flown(self) -> np.ndarray:
        """Ticks flown before each tick, and one more at the end."""
        return np.cumsum(np.r_[0, self.flying])

    def seconds(self, mask: np.ndarray) -> float:
        """Time during which a mask holds; a gap in the data counts for one tick."""
        return float(mask.sum()) * self.every_ms / 1000.0


def reference_of(flight: TuneFlight, prepared: Prepared, odd: Spans) -> Reference:
    """Read a flight with the shipped settings. odd: rows that are left out, see `Piece`.
    UsageError where its truth contradicts it."""
    record = {**flight.settings, **SHIPPED}
    shown = prepared.shown(record)
    time_ms = prepared.time_ms
    every_ms = max(1.0, float(np.median(np.diff(time_ms))) if len(time_ms) > 1 else 1.0)
    lift = np.where(shown.lift_pm == UNKNOWN, np.nan, shown.lift_pm.astype(float))
    use = ~rows_in(odd, len(time_ms))
    flying = use & np.isfinite(lift) & ~_on_ground(prepared, record, len(time_ms))
    mean = centred_mean(lift, round(MEAN_S * 1000 / every_ms))
    off = centred_mean((lift - mean) ** 2, round(ROUGH_S * 1000 / every_ms))
    long_mean = centred_mean(lift, round(APPROACH_S * 1000 / every_ms))
    with np.errstate(invalid="ignore"):
        slow = widened(mean >= SLOW_LIFT_PM, round(SLOW_AROUND_S * 1000 / every_ms))
        rough = flying & (np.sqrt(off) > ROUGH_SHARE * mean)
        approach = flying & (APPROACH_PM[0] <= long_mean) & (long_mean <= APPROACH_PM[1])
    stalls = [int(np.searchsorted(time_ms, stall)) for stall in flight.stalls_ms]
    stalls = [stall for stall in stalls if use[stall]]
    _refuse_contradiction(flight, lift, time_ms, stalls, every_ms)
    return Reference(time_ms, flying, slow, rough, approach,
                     _speed_kt(shown.q_dpa, round(500 / every_ms)),
                     _load(prepared.rows, round(500 / every_ms)),
                     centred_mean(lift, round(500 / every_ms)), tuple(stalls))


def rows_in(spans: Spans, rows: int) -> np.ndarray:
    """A mask of the rows in some spans."""
    found = np.zeros(rows, bool)
    for first, after in spans:
        found[first:after] = True
    return found


def _on_ground(prepared: Prepared, record: dict, ticks: int) -> np.ndarray:
    decisions = prepared.decide(record)
    lengths = np.diff(np.r_[decisions.rows, ticks])
    return np.repeat(decisions.health == health.ON_GROUND, lengths)


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


def _speed_kt(q_dpa: np.ndarray, width: int) -> np.ndarray:
    """sqrt(2 q/rho0): as an airspeed indicator, within 0.1 % below 60 kt (compressibility)."""
    q_pa = centred_mean(np.where(q_dpa == UNKNOWN, np.nan, q_dpa / 10.0), width)
    return np.sqrt(2.0 * np.maximum(q_pa, 0.0) / DENSITY_SEA) / KT_MS


def _load(rows: np.ndarray, width: int) -> np.ndarray:
    fresh = rows[:, IN_COLUMNS.index("nz_status")] == FRESH
    load = centred_mean(np.where(fresh, rows[:, IN_COLUMNS.index("nz_mg")] / 1000.0, np.nan),
                        width)
    return np.where(np.isfinite(load), load, 1.0)


def _refuse_contradiction(flight: TuneFlight, lift: np.ndarray, time_ms: np.ndarray,
                          stalls: list[int], every_ms: float) -> None:
    reach = round(BREAK_S * 1000 / every_ms)
    for stall in stalls:
        near = lift[max(0, stall - reach):stall + reach + 1]
        most = float(np.nanmax(near)) if np.isfinite(near).any() else 0.0
        if most < CONTRADICTS_PM:
            said = (f"the calibration has at most {most / 1000:.2f} of the lift in use there"
                    if most else "the unit knew no lift there")
            raise UsageError(f"{flight.name}: a stall is stated at {time_ms[stall] / 1000:.1f} s "
                             f"after its first sample ({flight.stalls_from}), but {said}: one of "
                             "them is wrong; correct the truth, or calibrate again")
