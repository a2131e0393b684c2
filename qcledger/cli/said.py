"""Everything that a command prints goes through `tell`; lines are no wider than a terminal of 80 columns."""

import sys
import textwrap
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import click

from qcledger.text import harmless, one_line, shorten

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

WIDTH = 80
"""Columns of the narrowest terminal that is usual."""


def tell(text: str, *, nl: bool = True, err: bool = False, data: bool = False) -> None:
    """Print a text without characters that steer a terminal; what the terminal cannot show becomes ``?``.

    Parameters
    ----------
    text
        What to print.
    nl
        Whether to end the line.
    err
        Whether it goes to stderr.
    data
        Whether another program may read it: in a file or pipe it stands in UTF-8, whatever the terminal can show.
    """
    stream, plain = sys.stderr if err else sys.stdout, harmless(text)
    if data and not stream.isatty():
        click.echo(plain.encode(), nl=nl, err=err)
        return
    encoding = stream.encoding or "utf-8"
    click.echo(plain.encode(encoding, "replace").decode(encoding), nl=nl, err=err)


def wrapped(text: str, indent: str = "  ") -> str:
    """Return a text on as many lines as it needs, those after the first indented."""
    return textwrap.fill(one_line(text), WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def say(text: str) -> None:
    """Print a text on as many lines as it needs."""
    tell(wrapped(text))


def tried(reason: str | None, done: str = "kept") -> str:
    """Return that a dry run did nothing; where no reason was given, that doing it needs one."""
    return f"dry run, nothing {done}" + ("" if (reason or "").strip() else "; it will need a --reason")


def say_doubts(doubts: Iterable[str]) -> None:
    """Print what a ledger holds that does not count, or needs a decision."""
    for doubt in doubts:
        say(f"Mind: {doubt}")


def say_closing(ledger: "Ledger", closing: Mapping[str, tuple[int, str]]) -> None:
    """Print whose each daybook is and how far it reaches; its closing hash has a line of its own."""
    from qcledger.records import Daybook

    books = ledger.by_id(Daybook, closing.keys())
    for daybook, (number, last) in sorted(closing.items()):
        reach = f"daybook {daybook}  {number} {'entry' if number == 1 else 'entries'}"
        book = books.get(daybook)
        whose = one_line(book.signed) if book else ""
        tell(f"{reach}  {shorten(whose, max(WIDTH - len(reach) - 2, 12))}".rstrip())
        tell(f"  closing hash {last}")
