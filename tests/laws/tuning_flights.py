"""Flights and candidates for the tuning engine: of every kind that a log can hold."""

from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st

from alula.health import OK
from alula.sample import FRESH, NO_REPLY, NOT_FITTED, SENSOR_FAULT, STALE
from alula.settings import TABLE, Settings, load
from alula.unit import Unit
from host_sim.tuning.engine.prepared import WIRING
from tests.both.core_rig import record

FIXED = (*WIRING, "pitot_address", "angled_address", "accelerometer", "accelerometer_address",
         "accelerometer_axis", "accelerometer_sense", "flap_switches")
ROWS = {row[0]: row for row in TABLE if row[0] not in FIXED}
STEPS_MS = (0, 1, 3, 17, 25, 60, 99, 150, 400, 2500, -4)


@dataclass(frozen=True)
class Made:
    """A flight as `stream.Recorded` asks for."""

    rows: np.ndarray
    settings: dict
    curves: list
    zero: tuple | None


class NoDoubts:
    """In place of the unit's doubts, and never has any: the engine repeats all the rest."""

    code = last = OK
    jumping = False

    def watch(self, *_) -> None:
        """Nothing."""

    step = weigh = land = restart = conclude = watch


def undoubting(settings: Settings, flight: Made) -> Unit:
    """The firmware's unit without its doubts."""
    unit = Unit(settings, flight.curves, flight.zero)
    unit._doubts = unit._decision._doubts = NoDoubts()
    return unit


def legal(base: dict, wanted: dict) -> Settings:
    """Settings of a candidate: as much of `wanted` as the loader takes."""
    found = dict(base)
    for name, value in wanted.items():
        if not load({**found, name: value})[1]:
            found[name] = value
    return load(found)[0]


def candidates() -> st.SearchStrategy[dict]:
    """Values for any of the settings that a candidate may change, ends of ranges among them."""
    def value(row):
        _, _, least, most, unit, _ = row
        if isinstance(unit, tuple):
            return st.sampled_from(unit)
        return st.one_of(st.sampled_from((least, most)), st.integers(least, most),
                         st.integers(least, least + (most - least) // 5))
    return st.fixed_dictionaries({}, optional={name: value(row) for name, row in ROWS.items()})


def _legs(rng: np.random.Generator, n: int, low: int, high: int) -> np.ndarray:
    """A pressure that moves between levels, with noise and wild words."""
    knots = int(rng.integers(3, 12))
    levels = rng.choice([0, 0.02, 0.1, 0.3, 1], knots) * rng.uniform(-0.2, 1, knots)
    words = np.interp(np.arange(n), np.sort(rng.uniform(0, n, knots)), levels)
    words = (words + 1) * (high - low) / 2 + low + rng.normal(0, rng.choice([0, 1, 5, 30]), n)
    wild = rng.random(n) < rng.choice([0, 0.01])
    words[wild] = rng.choice([low, high, 0], wild.sum())
    return np.clip(np.rint(words), low, high)


def _channel(rng: np.random.Generator, n: int, direct: bool, parked: int) -> np.ndarray:
    words = _legs(rng, n, -40000, 40000) if direct else _legs(rng, n, 0, 16383)
    if direct and rng.random() < 0.5:
        words = words // 8
    still = 0 if direct else 8192
    words[:parked] = still + rng.integers(-3, 4) + rng.integers(0, 2, parked)
    return words.astype(np.int32)


def _statuses(rng: np.random.Generator, n: int) -> np.ndarray:
    found = np.full(n, FRESH, np.int32)
    lost = rng.random(n) < rng.choice([0, 0, 0.02, 0.3])
    found[lost] = rng.choice([STALE, NO_REPLY, SENSOR_FAULT, NOT_FITTED], lost.sum())
    for _ in range(int(rng.integers(0, 3))):
        start = int(rng.integers(0, n))
        found[start:start + int(rng.integers(1, 300))] = rng.choice([STALE, NO_REPLY])
    if rng.random() < 0.1:
        found[1::2] = STALE  # a sensor half as fast as the loop
    return found


def _times(rng: np.random.Generator, n: int, period_ms: int) -> np.ndarray:
    steps = np.full(n, period_ms)
    if rng.random() < 0.2:
        steps = steps + rng.integers(-period_ms // 2, period_ms // 2 + 1, n)
    odd = rng.random(n) < rng.choice([0, 0.01, 0.2])
    steps[odd] = rng.choice(STEPS_MS, odd.sum())
    times = np.cumsum(steps)
    return (times - times.min()).astype(np.int32)


def _curves(rng: np.random.Generator) -> list:
    found = []
    for flap in range(int(rng.integers(1, 4))):
        count = int(rng.integers(2, 9))
        ratios = np.sort(rng.choice(np.arange(-12000, 20000), count, replace=False))
        lifts = np.sort(rng.choice(np.arange(0, 1000), count, replace=False))
        lifts[-1] = rng.integers(1000, 1501)
        found.append((flap, [[int(r), int(v)] for r, v in zip(ratios, lifts, strict=True)]))
    return found


def _record(rng: np.random.Generator) -> dict:
    found = record(plumbing=str(rng.choice(["port-static", "pitot-port", "opposed"])),
                   sample_rate_hz=int(rng.choice([50, 100, 125, 200])))
    for side in ("pitot", "angled"):
        found[side + "_output"] = str(rng.choice(["direct", "direct", "hsc-a", "ms4525-b"]))
        found[side + "_sense"] = str(rng.choice(["normal", "normal", "reversed"]))
        half = int(rng.integers(2000, 100001))
        found |= {side + "_low_dpa": -half, side + "_high_dpa": half}
    return found


def any_flight(seed: int, most_ticks: int = 2500) -> Made:
    """A flight that can be anything: gaps, lost reads, odd intervals, rails, flaps, ground."""
    rng = np.random.default_rng(seed)
    settings = _record(rng)
    n = int(rng.integers(30, most_ticks))
    rows = np.zeros((n, 9), np.int32)
    rows[:, 0] = _times(rng, n, 1000 // settings["sample_rate_hz"])
    parked = int(rng.integers(0, n)) if rng.random() < 0.5 else 0
    for at, side in ((1, "pitot"), (3, "angled")):
        rows[:, at] = _statuses(rng, n)
        rows[:, at + 1] = _channel(rng, n, settings[side + "_output"] == "direct", parked)
    if parked and rng.random() < 0.7:
        rows[:parked, [1, 3]] = FRESH
    rows[:, 5] = NOT_FITTED
    rows[:, 7] = -1 if rng.random() < 0.5 else np.repeat(rng.integers(-2, 3, n // 20 + 1), 20)[:n]
    if rng.random() < 0.15:
        rows[:int(rng.integers(1, n)), 8] = 1  # a button that is held while power comes on
    zero = None if rng.random() < 0.3 else (int(rng.integers(-300, 300)),
                                            int(rng.integers(-300, 300)))
    return Made(rows, settings, _curves(rng), zero)


def uneven_start(seed: int) -> Made:
    """Still on the ground until zeros have been taken, then in the air; no two intervals alike.
    The zeros drift a little, so that the second one is taken or refused."""
    rng = np.random.default_rng(seed)
    settings = record(sample_rate_hz=int(rng.choice([50, 100, 200])), zero_again_ms=10000,
                      zero_spread_dpa=200, zero_share_pm=int(rng.choice([10, 20, 80])))
    period_ms = 1000 // settings["sample_rate_hz"]
    n = 20000 // period_ms
    rows = np.zeros((n, 9), np.int32)
    rows[1:, 0] = np.cumsum(rng.integers(1, 2 * period_ms, n - 1))
    parked = n * 4 // 5
    for at, moving in ((2, 5000), (4, 2000)):
        rows[:parked, at] = rng.integers(-30, 30) + rng.integers(0, 5, parked)
        rows[n // 3:parked, at] += rng.choice([0, 10, 25, 40])
        rows[parked:, at] = moving + np.cumsum(rng.integers(-40, 41, n - parked))
    rows[:, 5], rows[:, 7] = NOT_FITTED, -1
    zero = (0, 0) if rng.random() < 0.5 else None
    return Made(rows, settings, [(0, [[0, 200], [8000, 1000]])], zero)


def disturbed_start(seed: int) -> Made:
    """As `uneven_start`, with a button that is held at first and data that are lost for a while
    on the ground."""
    rng, flight = np.random.default_rng(seed), uneven_start(seed)
    rows = flight.rows
    rows[:int(rng.integers(1, len(rows) // 2)), 8] = rng.integers(0, 2)
    for at in rng.integers(0, len(rows) * 3 // 4, 3):
        rows[at:at + len(rows) // 40, [1, 3]] = NO_REPLY
    return flight


def sparse(seed: int) -> tuple[Made, dict]:
    """Usable words hardly ever, but often enough for the longest window and gap: each then reaches
    as far back as it can."""
    rng = np.random.default_rng(seed)
    n = 1500
    rows = np.zeros((n, 9), np.int32)
    rows[:, 0], rows[:, 5], rows[:, 7] = 20 * np.arange(n), NOT_FITTED, -1
    for at, level in ((1, 6000), (3, 2500)):
        rows[:, at] = STALE
        rows[:, at + 1] = level + np.cumsum(rng.integers(-200, 201, n))
        rows[np.cumsum(rng.choice([1, 8, 14, 15], n))[:n // 15], at] = FRESH
    flight = Made(rows, record(sample_rate_hz=50), [(0, [[0, 200], [8000, 1000]])], (0, 0))
    return flight, {"fault_after_ms": 2000, "gap_ms": 300, "window_ms": 400,
                    "lead_ms": int(rng.integers(0, 2)) * 40}


# Times of segments and of settings come from one list, so that they often just fit.
_TIMES_MS = (100, 120, 200, 300, 500, 700, 1000, 2000)
_TIMERS = ("flying_ms", "lost_ms", "hold_ms", "fault_after_ms", "flap_settle_ms", "release_ms",
           "calm_release_ms", "calm_after_ms", "ground_ms", "landing_ms")


@st.composite
def just_fitting(draw) -> tuple[Made, dict]:
    """A flight in segments of constant q, lift, data and flap, and a candidate whose times are
    those of the segments, give or take a tick."""
    wanted = {"window_ms": 80, "landing_pm": 350}
    for name in _TIMERS:
        most = 10000 if name == "landing_ms" else draw(st.sampled_from(_TIMES_MS))
        wanted[name] = max(ROWS[name][2], most + draw(st.sampled_from((-20, 0, 0, 0, 20))))
    parts = []
    for _ in range(draw(st.integers(4, 14))):
        q_dpa = draw(st.sampled_from((5000, 5000, 5000, 1320, 1000, 640, 90, 0)))
        lift_pm = draw(st.sampled_from((200, 300, 360, 480, 520, 700, 930)))
        lost = draw(st.sampled_from((FRESH,) * 6 + (STALE, NO_REPLY)))
        ticks = draw(st.sampled_from((*_TIMES_MS, 10000))) // 20 + draw(st.integers(-4, 4))
        part = np.zeros((ticks, 9), np.int32)
        part[:, [1, 3]], part[:, 2], part[:, 5] = lost, q_dpa, NOT_FITTED
        part[:, 4] = (lift_pm - 200) * 10 * q_dpa // 10000
        part[:, 7] = draw(st.sampled_from((0, 0, 0, 20, 20, -1)))
        parts.append(part)
    rows = np.concatenate(parts)
    rows[:, 0] = 20 * np.arange(len(rows))
    curves = [(0, [[0, 200], [8000, 1000]]), (20, [[-1000, 200], [6000, 1000]])]
    return Made(rows, record(sample_rate_hz=50), curves, (0, 0)), wanted
