"""Two logs on one time axis. The offsets are known: they were made here."""

import numpy as np
import pytest

from host_sim.errors import UsageError
from host_sim.output.review_align import align
from host_sim.output.review_compare import compare, nearest
from host_sim.output.review_flight import ReviewFlight
from host_sim.runtimes.run import Stream, run_stream
from host_sim.runtimes.session import OUT_COLUMNS, OUT_WIDTH, UNKNOWN
from tests.external.truth import Probe, calibration, load, pressures, stream


def pressure_log(name: str, times_s: np.ndarray, q_pa: np.ndarray) -> ReviewFlight:
    """A log of which only the dynamic pressure matters; NaN is unknown."""
    out = np.full((len(times_s), OUT_WIDTH), UNKNOWN, np.int32)
    out[:, 0] = np.rint((times_s - times_s[0]) * 1000)
    known = np.isfinite(q_pa)
    out[known, OUT_COLUMNS.index("pitot_dpa")] = np.rint(q_pa[known] * 10)
    return ReviewFlight(name, Stream(np.zeros((len(out), 9), np.int32), {}, None, None), out, 0)


def wander(seed: int, seconds: float) -> tuple[np.ndarray, np.ndarray]:
    """A dynamic pressure that wanders as flights do: (times at 100 Hz, Pa)."""
    rng = np.random.default_rng(seed)
    knots_s = np.arange(0, seconds + 20, 10.0)
    times_s = np.arange(0, seconds, 0.01)
    return times_s, np.interp(times_s, knots_s, 700 + 300 * rng.standard_normal(len(knots_s)))


@pytest.mark.parametrize("later_s", [0.0, 0.37, 12.345, 55.0, -12.345, -40.0])
@pytest.mark.parametrize("step", [1, 2])
def test_a_known_offset_is_found(later_s: float, step: int) -> None:
    times_s, q_pa = wander(1, 220)
    rng = np.random.default_rng(2)
    one = (times_s >= 50) & (times_s < 170)
    two = (times_s >= 50 + later_s) & (times_s < 150 + later_s)
    a = pressure_log("a", times_s[one], q_pa[one] + rng.standard_normal(one.sum()))
    b = pressure_log("b", times_s[two][::step],
                     (q_pa[two] + rng.standard_normal(two.sum()))[::step])
    found_s, correlation = align(a, b)
    assert found_s == pytest.approx(later_s, abs=0.02)  # two samples
    assert 0.99 < correlation <= 1.0001


def test_a_log_and_itself_are_not_apart() -> None:
    times_s, q_pa = wander(3, 60)
    one = pressure_log("a", times_s, q_pa)
    found_s, correlation = align(one, one)
    assert found_s == pytest.approx(0, abs=1e-3)
    assert correlation == pytest.approx(1, abs=1e-6)


def test_gaps_do_not_move_it() -> None:
    times_s, q_pa = wander(4, 120)
    torn = q_pa.copy()
    torn[3000:4500] = np.nan
    found_s, _ = align(pressure_log("a", times_s, torn), pressure_log("b", times_s[2000:],
                                                                      q_pa[2000:]))
    assert found_s == pytest.approx(20.0, abs=0.02)


@pytest.mark.parametrize("other", ["another flight", "constant", "no pressure", "short"])
def test_what_does_not_overlap_is_refused(other: str) -> None:
    times_s, q_pa = wander(5, 200)
    there = {"another flight": wander(6, 200)[1], "constant": np.full(len(times_s), 700.0),
             "no pressure": np.full(len(times_s), np.nan), "short": q_pa}[other]
    count = 500 if other == "short" else len(times_s)  # 5 s: too little to know
    with pytest.raises(UsageError, match="do not overlap.*two logs of the same flight"):
        align(pressure_log("a", times_s, q_pa), pressure_log("b", times_s[:count], there[:count]))


def test_nearest_says_where_there_is_none() -> None:
    index = nearest(np.array([-1.0, -0.2, 0.0, 0.4, 0.6, 2.2, 9.0]), np.array([0.0, 1.0, 2.0]))
    assert index.tolist() == [-1, 0, 0, -1, -1, 2, -1]


def test_differences_are_those_of_the_settings() -> None:
    # One set, heard twice: the second unit is told to press from 0.600 instead of 0.694. They
    # must differ in the state just where the lift lies between the two, and nowhere in lift.
    flight, probe = load("tp_stall_1g"), Probe()
    pitot, angled = pressures(flight, "port-static", probe)
    logs = []
    for pressing_pm in (694, 600):
        made = stream(pitot, angled, flight["time_s"], "port-static",
                      calibration("tp_stall_1g", "port-static", probe), pressing_pm=pressing_pm)
        logs.append(ReviewFlight("x", made, run_stream(made), 0))
    found = compare(*logs, 0.0, 1.0)
    assert np.nanmax(abs(found.lift)) == 0.0
    first, after = found.apart[0]
    lift = logs[0].lift
    entry = np.flatnonzero(lift >= 0.6)[0], np.flatnonzero(lift >= 0.694)[0]
    assert (first, after) == entry
    assert found.apart_s == pytest.approx(sum(
        (b - a) * 0.02 for a, b in found.apart), abs=0.021 * len(found.apart))
    assert found.overlap_s == pytest.approx(flight["time_s"][-1] - flight["time_s"][0], abs=0.03)
