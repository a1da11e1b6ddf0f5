"""The tuning engine against the firmware on every independent flight, through every plumbing:
every output that the engine has, of every row, bit for bit. What else the unit gives (voice, lamp)
is made of these, by rooms that the engine does not repeat."""

import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as profile
from hypothesis import strategies as st

from alula.calibration import curves_of
from alula.transfer import OUTPUT_TENTHS
from host_sim.tuning.candidates import TUNABLE
from tests.external.truth import PHASES, PLUMBINGS, Probe, calibration, pressures, stream
from tests.external.truth import load as truth
from tests.laws.test_tuning_equals_firmware import EACH, assert_same
from tests.laws.tuning_compare import verify
from tests.laws.tuning_flights import ROWS, Made, legal

# Beside what may be tuned: what raises no doubt, in flights without a fault.
UNDOUBTED = (*TUNABLE, "fault_after_ms", "hold_ms", "calm_sound", "calm_after_ms", "pitch_low_hz",
             "pitch_high_hz", "warble_high_hz", "min_q_dpa")
HALF_DPA = 40000  # range of the sensors with words: their step is 6 to 8 tenths of a Pa
EVERY_SEED = st.integers(0, 1 << 30)


def drawn(rng: np.random.Generator, names) -> dict:
    """Values for some settings: ends of the ranges, anywhere, and low ones."""
    found = {}
    for name in names:
        _, _, least, most, unit, _ = ROWS[name]
        if isinstance(unit, tuple):
            found[name] = unit[int(rng.integers(len(unit)))]
            continue
        top = (most, least + (most - least) // 5)[int(rng.integers(2))]
        found[name] = int(rng.choice([least, most, *rng.integers(least, top + 1, 4)]))
    return found


def candidate(rng: np.random.Generator) -> dict:
    """All that may be tuned; as often some of the other settings too, or all."""
    others = [name for name in ROWS if name not in TUNABLE]
    share = (0, 0.1, 1)[int(rng.integers(3))]
    return drawn(rng, [*TUNABLE, *(name for name in others if rng.random() < share)])


def words_of(flight: Made, output: str) -> Made:
    """The same, felt by sensors with words of 14 bits: the data sheets' bands, see `transfer`."""
    low, high = OUTPUT_TENTHS[output]
    rows = flight.rows.copy()
    for at in (2, 4):
        share = (rows[:, at] + HALF_DPA) / (2 * HALF_DPA)
        rows[:, at] = np.clip(np.rint((low + share * (high - low)) / 10), 0, 16383)
    settings = dict(flight.settings)
    for side in ("pitot", "angled"):
        settings |= {side + "_output": output, side + "_low_dpa": -HALF_DPA,
                     side + "_high_dpa": HALF_DPA}
    return Made(rows, settings, flight.curves, flight.zero)


def felt(name: str, plumbing: str, noise_pa: float, rng: np.random.Generator) -> Made:
    """An independent flight through a probe, with a calibration of the same wing."""
    flight = truth(name)
    felt_pa = [p + noise_pa * rng.standard_normal(len(p))
               for p in pressures(flight, plumbing, Probe())]
    wing = "hw_stall_1g" if name.startswith("hw") else "tp_stall_1g"
    source = stream(*felt_pa, flight["time_s"], plumbing, calibration(wing, plumbing, Probe()))
    rate_hz = (50, 100)[int(rng.integers(2))]  # the flights have 50 samples a second
    return Made(source.rows, {**source.settings, "sample_rate_hz": rate_hz},
                curves_of(source.calibration), (0, 0))


def recorded(rng: np.random.Generator) -> Made:
    """Real air, from opposed ports: a pair a second, held at 50 Hz, a quarter of the pressure;
    with an invented curve round the ratios that occur, so that all bands do."""
    record = truth("recorded_opposed_ports")
    pitot, angled = (np.repeat(record[name] / 4, 50) for name in ("qc_pa", "opposed_pa"))
    source = stream(pitot, angled, np.arange(len(pitot)) / 50, "opposed", None)
    low, high = (int(10000 * np.quantile(angled / pitot, part)) for part in (0.05, 0.95))
    curves = [(0, [[low - 2 * (high - low), 100], [low, 480], [high, 1000]])]
    return Made(source.rows, {**source.settings, "sample_rate_hz": 50}, curves,
                None if rng.random() < 0.2 else (0, 0))


def cut(rng: np.random.Generator, rows: np.ndarray) -> list[np.ndarray]:
    """In one stretch, or in some."""
    edges = np.unique(rng.integers(1, len(rows), int(rng.integers(0, 4))))
    return np.split(rows, edges)


def test_these_are_all_independent_flights():
    """Fifteen of them, and one that was recorded."""
    assert len(PHASES) == 15 and len(PLUMBINGS) == 3


@pytest.mark.parametrize("plumbing", PLUMBINGS)
@pytest.mark.parametrize("name", PHASES)
@profile(max_examples=2 * EACH)
@given(EVERY_SEED)
def test_any_candidate(name, plumbing, seed):
    """Any value of any setting that a candidate may change; pressures, or words of 14 bits."""
    rng = np.random.default_rng([seed, zlib.crc32((name + plumbing).encode())])
    flight = felt(name, plumbing, (0.0, 1.5)[int(rng.integers(2))], rng)
    output = ("direct", *OUTPUT_TENTHS)[int(rng.integers(1 + len(OUTPUT_TENTHS)))]
    if output != "direct":
        flight = words_of(flight, output)
    assert_same(flight, legal(flight.settings, candidate(rng)), cut(rng, flight.rows))


@profile(max_examples=4 * EACH)
@given(EVERY_SEED)
def test_any_candidate_in_real_air(seed):
    """As above."""
    rng = np.random.default_rng(seed)
    flight = recorded(rng)
    assert_same(flight, legal(flight.settings, candidate(rng)), cut(rng, flight.rows))


@pytest.mark.parametrize("plumbing", PLUMBINGS)
@pytest.mark.parametrize("name", PHASES)
@profile(max_examples=EACH)
@given(EVERY_SEED)
def test_the_whole_firmware(name, plumbing, seed):
    """With its doubts, which no smoothing and no sound raises in these flights."""
    rng = np.random.default_rng([seed, zlib.crc32((name + plumbing).encode())])
    flight = felt(name, plumbing, (0.0, 1.5)[int(rng.integers(2))], rng)
    assert not len(verify(flight, legal(flight.settings, drawn(rng, UNDOUBTED))))
