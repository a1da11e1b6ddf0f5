"""The tuning engine beside a float filter pass over the same log: cost and memory of a candidate,
and a thousand of them through the pool of processes that `alula tune` uses."""

import statistics
import time
import tracemalloc
from collections.abc import Callable, Iterator

import numpy as np
from scipy.signal import butter, lfilter

from alula.settings import Settings, load
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.runtimes.run import Stream
from host_sim.tuning.candidates import Candidate, candidate, record_of
from host_sim.tuning.engine.decided import Course
from host_sim.tuning.engine.prepared import Prepared, stretches
from host_sim.tuning.engine.through_engine import records
from host_sim.tuning.fleet.flights import TuneFlight, pack
from host_sim.tuning.work.crews import Crew, Store, processes, run
from host_sim.tuning.work.pieces import Piece, code_hash, cut, work
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario

CANDIDATES = 1000
SIDE_BY_SIDE = 60
CORES = 2
HOUR_TICKS = 360000
Rows = list[tuple[str, str]]


def _as_flight(stream: Stream) -> TuneFlight:
    assert stream.calibration is not None
    return TuneFlight("sweeps", pack(stream.rows), stream.settings, stream.calibration,
                      stream.zero)


def _circuits(hours: int) -> TuneFlight:
    """Hours of ordinary circuits, raw words, end to end."""
    flight = fly(load_scenario("ordinary"), 1)
    one = sensor_rows(flight, 1)
    rows = np.tile(one, (hours * HOUR_TICKS // len(one) + 1, 1))[:hours * HOUR_TICKS]
    rows[:, 0] = np.arange(len(rows)) * 10
    return TuneFlight("circuits", pack(rows), scenario_settings(
        flight.scenario, "port-static", {}), perfect_calibration(flight),
        stored_zero(flight.scenario))


def _candidates(many: int) -> Iterator[Candidate]:
    """Hardly two with the same window and lead: nothing is shared."""
    rng = np.random.default_rng(2)
    for _ in range(many):
        yield candidate({
            "window_ms": int(rng.integers(8, 41)) * 10, "lead_ms": int(rng.integers(151)),
            "pressing_pm": int(rng.integers(600, 760)),
            "stalling_pm": int(rng.integers(860, 940)),
            "hysteresis_pm": int(rng.integers(5, 60)), "release_ms": int(rng.integers(1000))})


def _settings(flight: TuneFlight, one: Candidate) -> Settings:
    settings, problems = load(record_of(flight.settings, one))
    assert not problems
    return settings


def _busy_s(action: Callable[[], object]) -> float:
    """Processor time: others on the machine count less than with a clock on the wall."""
    begun = time.thread_time()
    action()
    return time.thread_time() - begun


def _decide(prepared: list[Prepared], settings: Settings) -> None:
    course = Course(settings)
    for stretch in prepared:
        course.step(stretch)


def _side_by_side(name: str, flight: TuneFlight) -> tuple[str, str]:
    """In turns, each candidate once; both channels through a filter of second order."""
    prepared = list(stretches(flight.blocks(), records(flight)))
    section = butter(2, 0.05)
    words = np.ascontiguousarray(flight.rows[:, [2, 4]].T, dtype=np.float64)
    ours, theirs = [], []
    for one in _candidates(SIDE_BY_SIDE):
        settings = _settings(flight, one)
        theirs.append(_busy_s(lambda: lfilter(*section, words)))
        ours.append(_busy_s(lambda settings=settings: _decide(prepared, settings)))
    usual, quiet = ([1e3 * of(times) for times in (ours, theirs)]
                    for of in (statistics.median, min))
    return (f"a candidate of `alula tune`, 1 h, {name}",
            f"{usual[0]:.1f} ms; one lfilter pass {usual[1]:.1f} ms: {usual[0] / usual[1]:.1f} "
            f"times, the fastest of each {quiet[0] / quiet[1]:.1f} times (aim 3)")


def _memory() -> tuple[str, str]:
    most = []
    for hours in (1, 4):
        piece = Piece(_circuits(hours), tuple(_candidates(2)), code_hash())
        tracemalloc.start()
        work(piece)
        most.append(tracemalloc.get_traced_memory()[1] / 1e6)
        tracemalloc.stop()
    return ("memory of a worker, beside its packed flight",
            f"{most[0]:.0f} MB for 1 h, {most[1]:.0f} MB for 4 h")


def _pool(flight: TuneFlight) -> tuple[str, str]:
    """From nothing: the start of the processes, reading the flight, measures and all."""
    pieces = cut([(flight, ())], list(_candidates(CANDIDATES)))
    begun = time.perf_counter()
    with Crew(processes(CORES)) as crew:
        found = run(pieces, crew, Store(None), lambda: CORES)
    spent_s = time.perf_counter() - begun
    many = sum(map(len, found))
    return (f"{many} candidates, 1 h, {CORES} processes",
            f"{spent_s:.0f} s by the clock on the wall, measures and all (aim 60)")


def tune_rows(sweeps: Stream) -> Rows:
    """sweeps: an hour at 100 Hz, from quiet to the stall and back every few seconds."""
    usual = _circuits(1)
    return [_side_by_side("stall after stall", _as_flight(sweeps)),
            _side_by_side("circuits", usual), _pool(usual), _memory()]
