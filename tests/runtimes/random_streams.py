"""Seeded streams of everything that can come in: the same on every machine and run."""

import numpy as np

from alula.sample import FRESH, NO_REPLY, NOT_FITTED, SENSOR_FAULT, STALE
from alula.settings import TABLE, load
from host_sim.runtimes.run import Stream
from tests.both.core_rig import record

RATES = (50, 100, 125, 200)
OUTPUTS = ("direct", "direct", "hsc-a", "hsc-b", "hsc-c", "hsc-f", "ms4525-a", "ms4525-b")
CHANGED = ("window_ms", "lead_ms", "gap_ms", "hysteresis_pm", "release_ms", "edge_ms",
           "fault_after_ms", "hold_ms", "urgency_pm", "pulse_low_millihz", "pitch_low_hz",
           "calm_release_ms", "calm_after_ms", "flap_settle_ms", "zero_ms")


def _settings(rng: np.random.Generator) -> dict:
    """A legal record that differs from the defaults in some rows."""
    found = record(plumbing=str(rng.choice(["port-static", "pitot-port", "opposed"])),
                   sample_rate_hz=int(rng.choice(RATES)))
    for side in ("pitot", "angled"):
        found[side + "_output"] = str(rng.choice(OUTPUTS))
        found[side + "_sense"] = str(rng.choice(["normal", "reversed"]))
        if found[side + "_output"] != "direct":
            half = int(rng.integers(2000, 100001))
            found |= {side + "_low_dpa": -half, side + "_high_dpa": half}
    for name, _, least, most, _, _ in TABLE:
        if name in CHANGED and rng.random() < 0.3:
            trial = {**found, name: int(rng.integers(least, most + 1))}
            if not load(trial)[1]:
                found = trial
    return found


def _calibration(rng: np.random.Generator, plumbing: str) -> dict | None:
    if rng.random() < 0.1:
        return None
    curves = []
    for flap in range(int(rng.integers(1, 4))):
        count = int(rng.integers(2, 9))
        ratios = np.sort(rng.choice(np.arange(-12000, 20000), count, replace=False))
        lifts = np.sort(rng.choice(np.arange(0, 1000), count, replace=False))
        lifts[-1] = rng.integers(1000, 1501)
        curves.append({"flap": flap, "points": [[int(r), int(v)] for r, v in
                                                zip(ratios, lifts, strict=True)]})
    return {"plumbing": plumbing, "curves": curves}


def _channel(rng: np.random.Generator, n: int, output: str) -> np.ndarray:
    """A wandering pressure with noise, wild words, and rails."""
    low, high = (-20000, 60000) if output == "direct" else (0, 16383)
    wander = np.cumsum(rng.normal(0, (high - low) / 3000, n)) + rng.uniform(low, high)
    knots = np.interp(np.arange(n), np.linspace(0, n, 6), rng.uniform(low, high, 6))
    words = np.clip((wander + 3 * knots) / 4 + rng.normal(0, 5, n), low, high)
    if rng.random() < 0.3:
        words = np.full(n, rng.uniform(low, high)) + rng.normal(0, 1, n)
    wild = rng.random(n) < 0.02
    words[wild] = rng.choice([0, 16383, 8192, 100000, -100000, 99999][: 3 if output != "direct"
                                                                      else 6], wild.sum())
    return np.rint(words).astype(np.int32)


def _statuses(rng: np.random.Generator, n: int) -> np.ndarray:
    found = np.full(n, FRESH, np.int32)
    single = rng.random(n) < rng.choice([0.0, 0.02, 0.3])
    found[single] = rng.choice([STALE, NO_REPLY, SENSOR_FAULT, NOT_FITTED], single.sum())
    for _ in range(int(rng.integers(0, 3))):  # and long losses
        start, length = int(rng.integers(0, n)), int(rng.integers(1, 120))
        found[start:start + length] = rng.choice([STALE, NO_REPLY, SENSOR_FAULT])
    return found


def _times(rng: np.random.Generator, n: int, period_ms: int) -> np.ndarray:
    """Mostly on time; some ticks late, doubled or early; gaps; the counter wraps now and then."""
    steps = np.full(n, period_ms)
    odd = rng.random(n) < 0.02
    steps[odd] = rng.choice([0, 1, 3, 17, 60, 99, 150, 400, 2500, -4, -40000], odd.sum())
    start = rng.choice([0, 12345, (1 << 30) - 1500, (1 << 30) - 7])
    return ((start + np.cumsum(steps)) % (1 << 30)).astype(np.int32)


def words_stream(seed: int, n: int = 240) -> Stream:
    """One stream of raw words."""
    rng = np.random.default_rng(seed)
    settings = _settings(rng)
    rows = np.zeros((n, 9), np.int32)
    rows[:, 0] = _times(rng, n, 1000 // settings["sample_rate_hz"])
    rows[:, 1], rows[:, 3] = _statuses(rng, n), _statuses(rng, n)
    rows[:, 2] = _channel(rng, n, settings["pitot_output"])
    rows[:, 4] = _channel(rng, n, settings["angled_output"])
    rows[:, 5], rows[:, 6] = NOT_FITTED, rng.integers(-2000, 4000, n)
    rows[:, 7] = np.repeat(rng.integers(-2, 4, n // 20 + 1), 20)[:n]
    zero = None if rng.random() < 0.2 else {
        "pitot_dpa": int(rng.integers(-300, 300)), "angled_dpa": int(rng.integers(-300, 300))}
    return Stream(rows, settings, _calibration(rng, settings["plumbing"]), zero)


def bench_stream(seed: int, n: int = 400) -> Stream:
    """One stream of sensor contents, through drivers and loop."""
    rng = np.random.default_rng(seed)
    plain = words_stream(seed, n)
    settings = dict(plain.settings)
    for side, column in (("pitot", 2), ("angled", 4)):
        if settings[side + "_output"] == "direct":
            settings |= {side + "_output": "hsc-a", side + "_low_dpa": -25000,
                         side + "_high_dpa": 25000}
        plain.rows[:, column] = np.clip(_channel(rng, n, "hsc-a"), 0, 16383)
        if seed % 5 == 4 and (side == "pitot" or seed % 2):  # the other family, mixed or on both
            settings |= {side + "_output": "ms5525-001ds", side + "_address": 118,
                         side + "_low_dpa": -68948, side + "_high_dpa": 68948}
            plain.rows[:, column] = np.clip(_channel(rng, n, "direct"), -70000, 70000)
    settings |= {"accelerometer": str(rng.choice(["none", "lis3dh"])), "flap_switches": 3}
    plain.rows[:, 5] = np.where(rng.random(n) < 0.8, FRESH, NOT_FITTED)
    return Stream(plain.rows, settings, plain.calibration, plain.zero, "bench")
