"""Who does the pieces: processes here, or any concurrent.futures.Executor; `dask_cluster`."""

import json
import os
from collections.abc import Callable, Generator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from contextlib import closing, suppress
from multiprocessing import get_context, parent_process
from pathlib import Path
from threading import Thread

from host_sim.errors import UsageError
from host_sim.output.whole_file import whole_file
from host_sim.tuning.work.pieces import OtherCode, Piece, work

TRIES = 5  # a piece that ends its worker so often is not lost by accident
LOOK_S = 5  # how often to look whether there still are workers
AHEAD = 3  # pieces handed out beyond the workers: enough to keep them busy, little memory

MakeExecutor = Callable[[], Executor]


class Crew:
    """One executor for many runs; a new one where it was broken. Used with `with`."""

    def __init__(self, make: MakeExecutor) -> None:
        self._make = make
        self._executor: Executor | None = None

    def executor(self) -> Executor:
        """The one in use."""
        if self._executor is None:
            self._executor = self._make()
        return self._executor

    def dismiss(self) -> None:
        """Let go of it. Not every executor takes `cancel_futures`: see `_through`."""
        if self._executor is not None:
            with suppress(Exception):  # what it ran on may be gone
                self._executor.shutdown(wait=False)
            self._executor = None

    def __enter__(self) -> "Crew":
        return self

    def __exit__(self, *of_an_error: object) -> None:
        self.dismiss()


class Lost(Exception):
    """A piece could not be done, whoever tried."""


def processes(jobs: int) -> MakeExecutor:
    """Fresh interpreters: no thread or lock of this one is copied into them."""
    return lambda: ProcessPoolExecutor(jobs, mp_context=get_context("spawn"),
                                       initializer=_go_with_parent)


def _go_with_parent() -> None:
    """A worker waits for its next piece for ever where the command was killed; so it is watched
    from here."""
    parent = parent_process()
    assert parent is not None

    def watch() -> None:
        parent.join()
        os._exit(1)

    Thread(target=watch, daemon=True).start()


class Store:
    """Finished pieces in a folder, one JSON file each; without a folder in memory."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder
        self._held: dict[str, list] = {}

    def get(self, piece: Piece) -> list | None:
        """The result of a piece that is finished. A file that is torn counts as none."""
        if piece.key in self._held:
            return self._held[piece.key]
        if self._folder is not None:
            with suppress(OSError, ValueError):
                found = json.loads(self._path(piece).read_text())
                if isinstance(found, list) and len(found) == len(piece.block):
                    return found
        return None

    def put(self, piece: Piece, result: list) -> None:
        """Keep a result, whole or not at all."""
        if self._folder is None:
            self._held[piece.key] = result
            return
        with whole_file(self._path(piece)) as temporary:
            temporary.write_text(json.dumps(result))

    def _path(self, piece: Piece) -> Path:
        assert self._folder is not None
        return self._folder / piece.key[:2] / f"{piece.key}.json"


def run(pieces: list[Piece], crew: Crew, store: Store, workers: Callable[[], int],
        progress: Callable[[int], None] = lambda done: None,
        job: Callable[[Piece], list] = work) -> list[list]:
    """Results in the order of the pieces, whoever did them and in whatever order.

    Finished pieces come from the store. A worker that dies takes its piece with it: that piece is
    given out again, and where the whole pool is gone, to a new one. workers: how many pieces they
    can do at once; asked again and again, raises where they are gone. progress: pieces done."""
    found = [store.get(piece) for piece in pieces]
    todo = [i for i, result in enumerate(found) if result is None]
    tries, done = dict.fromkeys(todo, 0), len(pieces) - len(todo)
    while todo:
        with closing(_through(crew.executor(), pieces, todo, tries, workers, job)) as results:
            for i, result in results:
                store.put(pieces[i], result)
                found[i] = json.loads(json.dumps(result))  # as it will be read back
                done += 1
                progress(done)
        todo = [i for i in todo if found[i] is None]
        if todo:
            crew.dismiss()
        for i in todo:
            if tries[i] >= TRIES:
                raise Lost(f"a piece ended its worker {TRIES} times; nothing that is finished is "
                           "lost: see whether memory is short, and run the command again")
    return [result for result in found if result is not None]


def _through(executor: Executor, pieces: list[Piece], todo: list[int], tries: dict[int, int],
             workers: Callable[[], int], job: Callable[[Piece], list]
             ) -> Generator[tuple[int, list], None, None]:
    """What one executor can do of it: (place, result) as they come; those that were lost are
    left out. Ends early where the executor takes no more; whatever ends it, nothing that has not
    begun is left with the executor."""
    waiting = list(reversed(todo))
    running: dict[Future, int] = {}
    try:
        while waiting or running:
            most = workers() + AHEAD
            while waiting and len(running) < most:
                i = waiting.pop()
                try:
                    running[executor.submit(job, pieces[i])] = i
                except RuntimeError:  # a broken pool
                    waiting.clear()
            done, _ = wait(running, LOOK_S, FIRST_COMPLETED) if running else (set(), set())
            for future in done:
                i = running.pop(future)
                result = _result(future, tries, i)
                if result is not None:
                    yield i, result
    finally:
        for future in running:
            with suppress(Exception):  # of an executor that is gone: there is nothing to call back
                future.cancel()


def _result(future: Future, tries: dict[int, int], i: int) -> list | None:
    """None where the worker died; what is wrong with the piece itself is raised."""
    try:
        return future.result()
    except (UsageError, OtherCode):
        raise
    except Exception as error:
        if not _worker_died(error):
            raise
        tries[i] += 1
        return None


def _worker_died(error: Exception) -> bool:
    """By the exceptions' own names: the cluster's need not be installed here."""
    names = {kind.__name__ for kind in type(error).__mro__}
    return bool(names & {"BrokenExecutor", "KilledWorker", "CancelledError", "CommClosedError",
                         "FutureCancelledError"})
