"""Pieces: the same result whoever does them; nothing finished is done twice, nothing lost."""

import json
import os
import signal
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing import get_context
from threading import Event
from types import SimpleNamespace

import pytest

from host_sim.errors import UsageError
from host_sim.runtimes.paths import ROOT
from host_sim.tuning.candidates import candidate
from host_sim.tuning.work import crews, dask_cluster
from host_sim.tuning.work.crews import Crew, Lost, Store, processes
from host_sim.tuning.work.dask_cluster import Workers, cluster
from host_sim.tuning.work.pieces import BLOCK, OtherCode, Piece, code_hash, cut, work
from tests.tuning.made import WING, slowing

CANDIDATES = [candidate({"window_ms": window, "release_ms": release})
              for window in (160, 200) for release in (250, 500)]
FLIGHTS = [slowing(seconds=60, seed=seed, name=f"flight {seed}") for seed in (1, 2)]


def run(pieces, make, *more, **options):
    """With a crew of its own."""
    with Crew(make) as crew:
        return crews.run(pieces, crew, *more, **options)


def pieces():
    """Each candidate by itself: twelve small pieces."""
    return [Piece(subject, (one,), code_hash()) for subject in (WING, *FLIGHTS)
            for one in CANDIDATES]


@pytest.fixture(scope="module")
def expected():
    return [json.loads(json.dumps(work(piece))) for piece in pieces()]


def killed_once(marker: str, piece: Piece) -> list:
    """A worker that dies with the first piece it gets, and no other ever does."""
    try:
        os.close(os.open(marker, os.O_CREAT | os.O_EXCL))
    except FileExistsError:
        return work(piece)
    os.kill(os.getpid(), signal.SIGKILL)
    return []


def always_killed(piece: Piece) -> list:
    os.kill(os.getpid(), signal.SIGKILL)
    return []


def not_wanted(piece: Piece) -> list:
    raise AssertionError("this piece was finished before")


def broken(piece: Piece) -> list:
    raise ZeroDivisionError("a mistake in the code, not a dead worker")


def test_threads_and_processes_give_what_one_by_one_gives(expected):
    assert run(pieces(), partial(ThreadPoolExecutor, 2), Store(None), (lambda: 2)) == expected
    assert run(pieces(), processes(2), Store(None), (lambda: 2)) == expected


class PlainExecutor(ThreadPoolExecutor):
    """Takes no more than dask.distributed's executor does: `shutdown(wait)`."""

    def shutdown(self, wait=True):
        super().shutdown(wait)


def test_an_executor_that_knows_only_wait_will_do(expected):
    assert run(pieces(), partial(PlainExecutor, 2), Store(None), (lambda: 2)) == expected


def test_what_has_not_begun_is_called_back_at_an_interrupt():
    begun = []

    def noted(piece):
        begun.append(piece.key)
        Event().wait(0.1)  # the interrupt is there long before the next has ended
        return [1]

    def interrupt(done):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt), ThreadPoolExecutor(1) as pool:
        crews.run(pieces(), Crew(lambda: pool), Store(None), (lambda: 1), interrupt, noted)
    assert len(begun) <= 2  # of the four that were handed out: the first, and the one then begun


def test_a_worker_that_dies_loses_nothing(tmp_path, expected):
    job = partial(killed_once, str(tmp_path / "died"))
    done = []
    assert run(pieces(), processes(2), Store(tmp_path / "pieces"), (lambda: 2), done.append,
               job) == expected
    assert (tmp_path / "died").exists()
    assert done[-1] == len(expected)


def test_workers_go_where_the_command_was_killed(tmp_path):
    """Nobody is left to give them pieces, nor to end them."""
    script = tmp_path / "killed.py"
    script.write_text(
        "import os, signal\n"
        "from host_sim.tuning.work.crews import processes\n"
        "if __name__ == '__main__':\n"
        "    print(processes(1)().submit(os.getpid).result(), flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n")
    # the worker has the same output, so this comes back only when it has gone, too
    done = subprocess.run([sys.executable, script], capture_output=True, check=False,
                          env={**os.environ, "PYTHONPATH": str(ROOT)}, timeout=60)
    assert done.returncode == -signal.SIGKILL and int(done.stdout)


def test_a_piece_that_kills_every_worker_ends_the_run_with_what_to_do(monkeypatch):
    monkeypatch.setattr(crews, "TRIES", 2)
    pool = partial(ProcessPoolExecutor, 1, mp_context=get_context("spawn"))
    with pytest.raises(Lost, match="nothing that is finished is lost"):
        run(pieces()[:1], pool, Store(None), (lambda: 1), job=always_killed)


def test_a_mistake_in_the_code_is_not_taken_for_a_dead_worker():
    with pytest.raises(ZeroDivisionError):
        run(pieces()[:1], partial(ThreadPoolExecutor, 1), Store(None), (lambda: 1), job=broken)


def test_an_interrupted_run_goes_on_from_the_finished_pieces(tmp_path, expected):
    store = Store(tmp_path)

    def interrupt(done):
        if done == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(pieces(), partial(ThreadPoolExecutor, 1), store, (lambda: 1), interrupt)
    finished = list(tmp_path.rglob("*.json"))
    assert len(finished) == 5
    finished[0].write_text(finished[0].read_text()[:-9])  # torn: counts as not done
    seen = []

    def counted(piece):
        seen.append(piece.key)
        return work(piece)

    assert run(pieces(), partial(ThreadPoolExecutor, 1), Store(tmp_path), (lambda: 1),
               job=counted) == expected
    assert len(seen) == len(expected) - 4
    assert run(pieces(), partial(ThreadPoolExecutor, 1), Store(tmp_path), (lambda: 1),
               job=not_wanted) == expected


def test_the_key_tells_flight_candidates_code_and_what_is_left_out():
    flight = FLIGHTS[0]
    base = Piece(flight, (CANDIDATES[0],), "code")
    others = [Piece(FLIGHTS[1], (CANDIDATES[0],), "code"), Piece(flight, (CANDIDATES[1],), "code"),
              Piece(flight, (CANDIDATES[0],), "other code"),
              Piece(flight, (CANDIDATES[0],), "code", ((1, 2),)),
              Piece(flight, (CANDIDATES[0],), "code", (), True),
              Piece(WING, (CANDIDATES[0],), "code")]
    assert len({piece.key for piece in (base, *others)}) == len(others) + 1
    renamed = slowing(seconds=60, seed=1, name="another name")
    assert Piece(renamed, (CANDIDATES[0],), "code").key == base.key


def test_blocks_hold_every_pair_once_and_what_smooths_alike_together():
    found = cut([(WING, ()), (FLIGHTS[0], ())], CANDIDATES * 2)
    assert [(piece.subject, one) for piece in found for one in piece.block] == [
        (subject, one) for subject in (WING, FLIGHTS[0]) for one in sorted(CANDIDATES)]
    assert all(len(piece.block) <= BLOCK for piece in found)
    windows = [dict(one)["window_ms"] for one in found[0].block]
    assert windows == sorted(windows)


def test_a_worker_with_other_code_is_found_out():
    with pytest.raises(OtherCode, match="same on all machines"):
        work(Piece(FLIGHTS[0], (CANDIDATES[0],), "older"))


def test_no_cluster_at_the_address_is_one_clear_line(monkeypatch):
    distributed = pytest.importorskip("distributed", reason="dask.distributed is not installed: "
                                      "the cluster is not tried")

    def nobody(*args, **kwargs):
        raise OSError("timed out")

    monkeypatch.setattr(distributed, "Client", nobody)
    with pytest.raises(UsageError, match="dask scheduler"), cluster("tcp://127.0.0.1:9"):
        pass


@pytest.mark.filterwarnings("default")  # dask's own, of its own parts
def test_a_cluster_without_workers_is_one_clear_line(monkeypatch, tmp_path):
    distributed = pytest.importorskip("distributed", reason="dask.distributed is not installed: "
                                      "the cluster is not tried")
    monkeypatch.setattr(dask_cluster, "WAIT_S", 1)
    with distributed.LocalCluster(n_workers=0, dashboard_address=None,
                                  local_directory=str(tmp_path)) as local, \
            pytest.raises(UsageError, match="no workers; start some"), \
            cluster(local.scheduler_address):
        pass


def test_a_scheduler_that_is_gone_ends_the_run_with_what_to_do():
    """dask.distributed's client then says `closed`, and leaves what it was asked for open for
    ever (seen with 2026.8.0)."""
    client = SimpleNamespace(status="running", nthreads=lambda: {"a": 1, "b": 2})
    workers = Workers(client, "tcp://there")
    assert workers() == 3

    def gone():
        raise OSError("connection reset")

    client.nthreads = gone
    assert workers() == 3
    client.status = "closed"
    with pytest.raises(Lost, match="the scheduler is gone; nothing that is finished is lost"):
        workers()


def test_without_dask_the_option_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match=r"alula\[cluster\]"), cluster("tcp://127.0.0.1:9"):
        pass


@pytest.mark.filterwarnings("default")  # dask's own, of its own parts
def test_a_local_cluster_of_two_workers_gives_the_same(tmp_path, expected):
    """Another machine's workers in small: two processes, one of them dies with its first piece."""
    distributed = pytest.importorskip("distributed", reason="dask.distributed is not installed: "
                                      "the cluster is not tried")
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None,
                                  local_directory=str(tmp_path / "dask")) as local, \
            cluster(local.scheduler_address) as (make, workers):
        assert workers() == 2
        assert run(pieces(), make, Store(None), (lambda: 2)) == expected
        job = partial(killed_once, str(tmp_path / "died"))
        assert run(pieces(), make, Store(None), (lambda: 2), job=job) == expected
    assert (tmp_path / "died").exists()


def test_a_dead_worker_of_a_cluster_is_known_by_name():
    """dask.distributed's `KilledWorker` and `CommClosedError`, by their documented names; they
    cannot be imported where it is not installed."""
    for name in ("KilledWorker", "CommClosedError"):
        assert crews._worker_died(type(name, (Exception,), {})("gone"))
    assert crews._worker_died(BrokenProcessPool("gone"))
    assert not crews._worker_died(ValueError("a mistake"))
