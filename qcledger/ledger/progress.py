"""How long work tells what it is at, without knowing who listens."""

from collections.abc import Iterable, Sequence
from typing import Protocol, TypeVar

T = TypeVar("T")


class Progress(Protocol):
    """Yields the items of a piece of work one by one, telling somebody how far it is."""

    def __call__(self, label: str, items: Sequence[T]) -> Iterable[T]:
        """Yield `items` in order; `label` says what is being done to them."""
        ...


def untold(label: str, items: Sequence[T]) -> Iterable[T]:
    """Yield `items` and tell nobody."""
    return items
