"""Lines that several commands print, none wider than a terminal of 80 columns."""

import textwrap
from collections.abc import Iterable

import click

from qcledger.text import one_line

WIDTH = 80
"""Columns of the narrowest terminal that is usual."""


def wrapped(text: str, indent: str = "  ") -> str:
    """Return a text on as many lines as it needs, those after the first indented."""
    return textwrap.fill(one_line(text), WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def say(text: str) -> None:
    """Print a text on as many lines as it needs."""
    click.echo(wrapped(text))


def say_doubts(doubts: Iterable[str]) -> None:
    """Print what a ledger holds that does not count, or needs a decision."""
    for doubt in doubts:
        say(f"Mind: {doubt}")


def say_closing(daybook: str, number: int, closing: str) -> None:
    """Print how far a daybook reaches; its closing hash has a line of its own."""
    click.echo(f"daybook {daybook}  {number} entries")
    click.echo(f"  closing hash {closing}")
