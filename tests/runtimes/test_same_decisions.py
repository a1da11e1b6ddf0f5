"""Promise 3: what you replay is what you heard. CPython and the MicroPython VM decide alike, to
the last bit, on whole flights and on streams of everything that can go wrong."""

import json
import subprocess
from pathlib import Path

import numpy as np
import pytest

from alula.health import WORDS
from host_sim.errors import UsageError
from host_sim.runtimes import run
from host_sim.runtimes.run import Stream, find_vm, run_stream, vm_environment
from host_sim.runtimes.session import OUT_COLUMNS, OUT_WIDTH
from tests.both.core_rig import record
from tests.external.truth import PHASES, PLUMBINGS, Probe, calibration, load, pressures, stream
from tests.runtimes.random_streams import bench_stream, words_stream
from tests.vm import every_branch

HERE = Path(__file__).parent
STREAMS, BATCHES = 1000, 4
FLIGHTS = sorted(PHASES)


def truth_stream(name: str, plumbing: str = "port-static") -> Stream:
    """One of the independent flights, with 1 Pa of noise so that no tick is like another."""
    flight, probe = load(name), Probe()
    learned = "hw_stall_1g" if name.startswith("hw") else "tp_stall_1g"
    rng = np.random.default_rng(11)
    felt = [p + rng.standard_normal(len(p)) for p in pressures(flight, plumbing, probe)]
    return stream(*felt, flight["time_s"], plumbing, calibration(learned, plumbing, probe),
                  sample_rate_hz=50)


def many_in_vm(streams: list[Stream], folder: Path) -> list[np.ndarray]:
    """All streams in one VM."""
    jobs = [{**s.job(1), "rows": len(s.rows)} for s in streams]
    (folder / "jobs").write_text(json.dumps(jobs))
    (folder / "rows").write_bytes(b"".join(s.rows.tobytes() for s in streams))
    done = subprocess.run(
        [find_vm(), HERE / "many_in_vm.py", *(folder / n for n in ("jobs", "rows", "out"))],
        env=vm_environment(), capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    flat = np.frombuffer((folder / "out").read_bytes(), np.int32).reshape(-1, OUT_WIDTH)
    assert len(flat) == sum(len(s.rows) for s in streams)
    return np.split(flat, np.cumsum([len(s.rows) for s in streams])[:-1])


def assert_same(here: np.ndarray, vm: np.ndarray, what: str) -> None:
    if here.tobytes() == vm.tobytes():
        return
    row = int(np.flatnonzero((here != vm).any(axis=1))[0])
    differing = [(name, int(here[row, i]), int(vm[row, i]))
                 for i, name in enumerate(OUT_COLUMNS) if here[row, i] != vm[row, i]]
    pytest.fail(f"{what}: first difference at row {row}: {differing}")


@pytest.mark.parametrize("name", FLIGHTS)
def test_g9_whole_flights_are_the_same_in_both(name):
    plumbing = PLUMBINGS[FLIGHTS.index(name) % 3]
    chosen = truth_stream(name, plumbing)
    here = run_stream(chosen)
    assert_same(here, run_stream(chosen, "micropython"), name)
    assert len(set(here[:, OUT_COLUMNS.index("lift_pm")])) > 50  # it was a flight, not a fault




def every_branch_stream(plumbing: str) -> Stream:
    """The flights that pass every line of the tick."""
    now_ms, rows = every_branch.START_MS, []
    for count, q, q_to, port, port_to, pitot, angled, flap, dt_ms, _ in every_branch.ALL:
        for i in range(1, count + 1):
            now_ms = (now_ms + dt_ms) % (1 << 30)
            rows.append((now_ms, pitot, q + (q_to - q) * i // count, angled,
                         port + (port_to - port) * i // count, 4, 0, flap, 0))
    curves = [{"flap": flap, "points": [list(pair) for pair in points]}
              for flap, points in every_branch.CURVES]
    return Stream(np.array(rows, np.int32), record(plumbing=plumbing),
                  {"plumbing": plumbing, "curves": curves}, {"pitot_dpa": 60, "angled_dpa": 40})


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_every_branch_is_the_same_in_both(plumbing):
    chosen = every_branch_stream(plumbing)
    here = run_stream(chosen)
    assert_same(here, run_stream(chosen, "micropython"), plumbing)
    if plumbing == "port-static":
        met = {WORDS[i] for i in here[:, OUT_COLUMNS.index("health")]}
        # what is looked for in raw words only, or with n: in the bench streams
        assert set(WORDS) - met == {"settings", "uncalibrated", "no-zero", "pitot-frozen",
                                    "angled-frozen", "angled-dead", "twins", "both-frozen",
                                    "pitot-jump", "angled-jump", "both-jump", "unbalanced"}


@pytest.mark.parametrize("batch", range(BATCHES))
def test_g9_random_streams_are_the_same_in_both(batch, tmp_path):
    seeds = range(batch, STREAMS, BATCHES)
    streams = [words_stream(seed) for seed in seeds]
    for seed, chosen, vm in zip(seeds, streams, many_in_vm(streams, tmp_path), strict=True):
        assert_same(run_stream(chosen), vm, f"words_stream({seed})")


def test_the_random_streams_meet_what_they_are_for():
    """Every state, plumbing and level, most health words; else they prove little."""
    streams = [words_stream(seed) for seed in range(0, STREAMS, 3)]
    out = np.concatenate([run_stream(chosen) for chosen in streams])
    states, healths = (set(out[:, OUT_COLUMNS.index(name)]) for name in ("state", "health"))
    assert states == set(range(6))
    never = {WORDS[i] for i in range(len(WORDS))} - {WORDS[i] for i in healths}
    # a loss of one tick alone is no fault, and two seconds are too short for "too-slow" and for
    # what lasts: those are in the flights above, and in tests/both, which runs in both, too
    lasting = {"pitot-frozen", "angled-frozen", "pitot-dead", "angled-dead", "twins",
               "both-frozen", "outside", "unbalanced"} | {w for w in WORDS if "-unsteady" in w}
    assert never <= {"settings", "too-slow"} | lasting | {w for w in WORDS if "not-fitted" in w}
    assert {s.settings["plumbing"] for s in streams} == set(PLUMBINGS)
    assert set(out[:, OUT_COLUMNS.index("voice_level")]) == set(range(9))


def test_g9_the_bench_is_the_same_in_both(tmp_path):
    streams = [bench_stream(seed) for seed in range(60)]
    for seed, vm in enumerate(many_in_vm(streams, tmp_path)):
        assert_same(run_stream(streams[seed]), vm, f"bench_stream({seed})")


def test_g9_the_same_run_twice_is_the_same_bytes():
    for chosen in (truth_stream("tp_gusts"), words_stream(7), bench_stream(7)):
        for runtime in run.RUNTIMES:
            assert run_stream(chosen, runtime).tobytes() == run_stream(chosen, runtime).tobytes()


@pytest.mark.parametrize("chosen", [truth_stream("tp_pullups"), words_stream(3, 1001),
                                    bench_stream(3, 1001)], ids=["truth", "words", "bench"])
def test_g9_the_size_of_the_blocks_changes_nothing(chosen):
    whole = run_stream(chosen, block_rows=1000)
    for block_rows in (1, 7, 1000):
        for runtime in run.RUNTIMES:
            found = run_stream(chosen, runtime, block_rows)
            assert_same(whole, found, f"{runtime} in blocks of {block_rows}")


def test_g9_one_row_less_is_one_decision_less_and_no_shift():
    chosen = truth_stream("tp_stall_1g")
    cut = Stream(np.delete(chosen.rows, 1000, axis=0), chosen.settings, chosen.calibration,
                 chosen.zero)
    whole, less = run_stream(chosen), run_stream(cut)
    assert len(less) == len(whole) - 1
    assert (less[:1000] == whole[:1000]).all()
    # 1000 ms later the missing word has left every window, and all is as if it had been there
    lift = OUT_COLUMNS.index("lift_pm")
    assert np.abs(less[1050:, lift] - whole[1051:, lift]).max() <= 1
    assert (less[:, 0] == np.delete(whole[:, 0], 1000)).all()


def test_an_empty_stream_is_an_empty_answer():
    chosen = words_stream(1, 20)
    empty = Stream(chosen.rows[:0], chosen.settings, chosen.calibration, chosen.zero)
    for runtime in run.RUNTIMES:
        assert run_stream(empty, runtime).shape == (0, OUT_WIDTH)


def test_records_that_make_no_unit_are_an_error_and_not_a_default():
    rows = words_stream(1, 20).rows
    with pytest.raises(ValueError, match="plumbing is not set"):
        run_stream(Stream(rows, {}, None, None))
    with pytest.raises(RuntimeError, match="plumbing is not set"):
        run_stream(Stream(rows, {}, None, None), "micropython")


def test_a_missing_vm_is_one_clear_line(monkeypatch, tmp_path):
    monkeypatch.setattr(run.sys, "executable", str(tmp_path / "python"))
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(UsageError) as error:
        run_stream(words_stream(1, 20), "micropython")
    assert "micropython" in str(error.value) and "\n" not in str(error.value)
