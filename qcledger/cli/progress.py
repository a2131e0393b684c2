"""Progress bars on stderr for work that takes longer than a second."""

import sys
import time
from collections.abc import Iterator, Sequence
from typing import TypeVar

import click

T = TypeVar("T")

PATIENCE = 1.0
"""Seconds before a bar appears."""


def shown(label: str, items: Sequence[T]) -> Iterator[T]:
    """Yield `items`; on a terminal a bar shows how far it is once that takes longer than `PATIENCE`."""
    begun = time.monotonic()
    rest = iter(items)
    done = 0
    for done, item in enumerate(rest, 1):  # noqa: B007 - counted on below
        yield item
        if sys.stderr.isatty() and time.monotonic() - begun > PATIENCE:
            break
    if done == len(items):
        return
    with click.progressbar(length=len(items), label=label, file=sys.stderr) as bar:
        bar.update(done)
        for item in rest:
            yield item
            bar.update(1)
