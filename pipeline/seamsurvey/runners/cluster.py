"""On an existing Dask cluster: the same work, done by whichever worker is free.

The pictures go to the workers and the results come back as bytes, so that the machines need share no disk. Dask
gives the work of a worker that died to another; work that has killed several workers is handed back as failed.
"""

from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypeVar

from attrs import frozen

from seamsurvey.errors import InputError, PartMissingError
from seamsurvey.runners.outcome import Outcome

T = TypeVar("T")
R = TypeVar("R")

# Pieces of work on their way for each of the cluster's threads: one being done, one waiting, no queue of pictures.
AHEAD = 2
CONNECT_S = 15.0


@frozen(kw_only=True)
class Cluster:
    """A runner on the Dask scheduler at ``address`` ("tcp://host:8786")."""

    address: str

    def __call__(self, function: Callable[[T], R], works: Iterable[T]) -> Iterator[Outcome[T, R]]:
        """Yield the outcomes as they come. PartMissingError ``cluster-missing``; InputError ``no-cluster``."""
        distributed = _distributed()
        try:
            client = distributed.Client(self.address, timeout=CONNECT_S)
        except (OSError, ValueError) as error:
            raise _no_cluster(self.address, error) from error
        with client:
            yield from _done_by(client, distributed, function, works)


def _done_by(
    client: Any, distributed: Any, function: Callable[[T], R], works: Iterable[T]
) -> Iterator[Outcome[T, R]]:
    waiting = iter(works)
    on_their_way: dict[Any, T] = {}
    while True:
        room = max(1, AHEAD * sum(client.nthreads().values()))
        while len(on_their_way) < room and (work := next(waiting, _END)) is not _END:
            # pure=False: equal work given twice is done twice, as on one machine.
            on_their_way[client.submit(function, work, pure=False)] = work
        if not on_their_way:
            return
        ready, _ = distributed.wait(list(on_their_way), return_when="FIRST_COMPLETED")
        for future in ready:
            work = on_their_way.pop(future)
            error = future.exception()
            if error is None:
                yield Outcome(work, future.result())
            elif isinstance(error, distributed.scheduler.KilledWorker):
                yield Outcome(work, died="every worker of the cluster that had it died")
            else:
                raise error
            future.release()


_END: Any = object()


def _distributed() -> Any:
    try:
        import distributed  # noqa: PLC0415 (an optional part)
    except ImportError as error:
        raise PartMissingError(
            "cluster-missing",
            "Working on a cluster needs the optional part [cluster], which is not installed.",
            todo="Run: python3 -m pip --python .venv install 'seamsurvey[cluster]'",
        ) from error
    return distributed


def _no_cluster(address: str, error: Exception) -> InputError:
    return InputError(
        "no-cluster",
        f"No Dask scheduler answers at {address}: {error}.",
        where=address,
        likely="The scheduler does not run, the address is mistyped, or a firewall stands between.",
        todo="Start one with “dask scheduler” and workers with “dask worker ADDRESS”; give its address.",
    )
