"""The workers of a Dask scheduler as an executor: `pip install 'alula[cluster]'`."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from host_sim.errors import UsageError
from host_sim.tuning.work.crews import Lost, MakeExecutor

WAIT_S = 10  # for a scheduler to answer, and for its first worker


class Workers:
    """How many pieces they can do at once by now, when called. Lost where the scheduler is gone.

    client: of distributed, which need not be installed where this is only checked."""

    def __init__(self, client: Any, address: str) -> None:
        self._client, self._address, self._threads = client, address, 1

    def __call__(self) -> int:
        if self._client.status == "closed":  # it has tried to reach it again, and given up
            raise Lost(f"--cluster {self._address}: the scheduler is gone; nothing that is "
                       "finished is lost: start it again, and run the command again")
        with suppress(OSError, RuntimeError):  # it is just going
            self._threads = max(1, sum(self._client.nthreads().values()))
        return self._threads


@contextmanager
def cluster(address: str) -> Iterator[tuple[MakeExecutor, Workers]]:
    """The cluster's executor, and its workers. UsageError where distributed is not installed, the
    scheduler not reached, or without a worker."""
    with _client(address) as client:
        try:
            client.wait_for_workers(1, timeout=WAIT_S)
        except TimeoutError as error:
            raise UsageError(f"--cluster {address}: the scheduler has no workers; start some with "
                             f"`dask worker {address}`") from error
        yield lambda: client.get_executor(pure=False), Workers(client, address)


def _client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError as error:
        raise UsageError("--cluster needs dask.distributed: pip install 'alula[cluster]'"
                         ) from error
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # the lines here say it plainly
    try:
        return Client(address, timeout=WAIT_S)
    except (OSError, ValueError, TimeoutError) as error:
        raise UsageError(f"--cluster {address}: no scheduler answers there ({error}); start one "
                         "with `dask scheduler`, or check the address") from error
