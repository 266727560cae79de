"""What a runner hands back for each piece of work, whichever way it was done."""

from collections.abc import Callable, Iterable, Iterator
from typing import Generic, Protocol, TypeVar

from attrs import frozen

T = TypeVar("T")
R = TypeVar("R")


@frozen
class Outcome(Generic[T, R]):
    """One piece of work and its result; without a result ``died`` says what became of the process that had it."""

    work: T
    result: R | None = None
    died: str = ""


class Runner(Protocol):
    """Does ``function`` for every piece of work, several at once, in any order.

    Work is taken from ``works`` only as room comes free, so that what waits takes no memory. A piece that kills its
    process, or never ends, is handed back without a result and stops no other.
    """

    def __call__(self, function: Callable[[T], R], works: Iterable[T]) -> Iterator[Outcome[T, R]]:
        """Yield the outcomes as they come."""
        ...
