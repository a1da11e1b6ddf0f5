"""The tuning engine beside a float filter pass over the same log: cost, memory a candidate."""

import statistics
import time
import tracemalloc
from collections.abc import Callable, Iterator

import numpy as np
from scipy.signal import butter, lfilter

from alula.calibration import curves_of
from alula.settings import Settings, load
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.runtimes.run import Stream
from host_sim.tuning.decided import decide
from host_sim.tuning.prepared import Prepared, prepare
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario
from tests.laws.tuning_flights import Made

CANDIDATES = 1000
SIDE_BY_SIDE = 60
Rows = list[tuple[str, str]]


def _as_flight(stream: Stream) -> Made:
    zero = (stream.zero or {}).get("pitot_dpa", 0), (stream.zero or {}).get("angled_dpa", 0)
    return Made(stream.rows, stream.settings, curves_of(stream.calibration), zero)


def _circuits() -> Made:
    """An hour of ordinary circuits, raw words, end to end."""
    flight = fly(load_scenario("ordinary"), 1)
    one = sensor_rows(flight, 1)
    rows = np.tile(one, (360000 // len(one) + 1, 1))[:360000]
    rows[:, 0] = np.arange(len(rows)) * 10
    zero = stored_zero(flight.scenario)
    return Made(rows, scenario_settings(flight.scenario, "port-static", {}),
                curves_of(perfect_calibration(flight)), (zero["pitot_dpa"], zero["angled_dpa"]))


def _candidates(base: dict, many: int) -> Iterator[Settings]:
    """No two with the same window and lead in a row: nothing is shared."""
    rng = np.random.default_rng(2)
    for _ in range(many):
        settings, problems = load({
            **base, "window_ms": int(rng.integers(8, 41)) * 10, "lead_ms": int(rng.integers(151)),
            "pressing_pm": int(rng.integers(600, 760)), "stalling_pm": int(rng.integers(860, 940)),
            "hysteresis_pm": int(rng.integers(5, 60)), "release_ms": int(rng.integers(1000))})
        assert not problems
        yield settings


def _seconds(action: Callable[[], object]) -> float:
    begun = time.perf_counter()
    action()
    return time.perf_counter() - begun


def _run(prepared: Prepared, settings: Settings) -> int:
    return len(decide(prepared, settings).rows)


def _side_by_side(name: str, flight: Made) -> tuple[str, str]:
    prepared = prepare(flight)
    section = butter(2, 0.05)
    words = np.ascontiguousarray(flight.rows[:, [2, 4]].T, dtype=np.float64)
    ours, theirs = [], []
    for settings in _candidates(flight.settings, SIDE_BY_SIDE):
        theirs.append(_seconds(lambda: lfilter(*section, words)))
        ours.append(_seconds(lambda settings=settings: _run(prepared, settings)))
    one, other = statistics.median(ours), statistics.median(theirs)
    return (f"a candidate of `alula tune`, 1 h, {name}",
            f"{one * 1e3:.1f} ms; one lfilter pass {other * 1e3:.1f} ms: {one / other:.1f} times "
            "(aim 3)")


def _memory(flight: Made) -> tuple[str, str]:
    tracemalloc.start()
    prepared = prepare(flight)
    _run(prepared, load(flight.settings)[0])
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return ("memory of a tuned flight, beside its rows",
            f"{most / len(flight.rows):.0f} bytes a tick, {most / 1e6:.0f} MB for 1 h")


def tune_rows(sweeps: Stream) -> Rows:
    """sweeps: an hour at 100 Hz, from quiet to the stall and back every few seconds."""
    hard, usual = _as_flight(sweeps), _circuits()
    prepared = prepare(usual)
    spent = _seconds(lambda: [_run(prepared, settings) for settings in _candidates(
        usual.settings, CANDIDATES)])
    return [_side_by_side("stall after stall", hard), _side_by_side("circuits", usual),
            (f"{CANDIDATES} candidates, 1 h, one process",
             f"{spent:.0f} s without measures (aim 60 on two cores, all in all)"), _memory(usual)]
