"""``qcledger start``: begin a ledger of your own, or join one that others write in."""

import re
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from qcledger.cli.options import ledger_option, room_for
from qcledger.cli.said import tell
from qcledger.errors import bad
from qcledger.settings import default_ledger
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

UNKNOWN = "This machine does not tell its time zone: qcledger zone NAME says it, as in qcledger zone Europe/Berlin"
BEGUN = "Your ledger is {place}"
JOINED = "You joined the ledger {place} as {who}"
CONTINUED = "You go on as {who} in the ledger {place}, with a new daybook for this machine"
LETTERS = re.compile(r"[^\W\d_]{1,4}")


@click.command()
@ledger_option
@click.option(
    "--letters", required=True, metavar="AB", help="One to four letters, capitals, that begin your sticker numbers."
)
@click.option("--tester", required=True, metavar="NAME", help="Your name, as findings print it.")
@click.option("--zone", metavar="NAME", help="Your time zone, as in Europe/Berlin; without, this machine's.")
@click.option("--although", is_flag=True, help="Join although your name is in that ledger under other letters.")
def start(where: str | None, letters: str, tester: str, zone: str | None, although: bool) -> None:
    """Begin your own ledger, or join one on a server.

    Your letters, as capitals, and a count make the sticker numbers of your specimens: OV 0001, OV 0002 and so on.
    At a PostgreSQL URL where a ledger is already you join it: with letters nobody else in it has, or, on one more
    machine of yours, with the letters and name you have there. Where your name is in it under other letters, it is
    asked back: findings would count two testers.
    """
    from qcledger.clock import machine_zone
    from qcledger.ledger.zones import ANSWERED, remember

    capitals = letters.upper()
    if not LETTERS.fullmatch(capitals):
        raise bad("--letters", letters, "one to four letters, as in OV")
    name = one_line(tester)  # printed with every finding, so what steers a terminal is left out as everywhere
    if not name:
        raise bad("--tester", tester, "a name")
    kept_in = _zone(zone)
    place = where or default_ledger()
    with room_for(place):
        ledger, joined = _begun(place, capitals, name, kept_in, although=although)
    with ledger:
        kept, book = ledger.where, ledger.daybook  # a URL without its password
    if zone:
        remember(kept, ANSWERED, machine_zone())
    tell(joined.format(place=kept, who=book.signed))
    tell(f"Days are told by {kept_in}" if kept_in else UNKNOWN)
    pages = f"qcledger --ledger {shlex.quote(kept)}" if where else "qcledger"
    tell(f"Next: {pages} opens its pages; there , then s and n begins your first parcel.")
    tell("On every page F9 opens the guide, ? lists the keys and ctrl-q leaves.")


def _begun(place: str | Path, letters: str, tester: str, zone: str | None, *, although: bool) -> "tuple[Ledger, str]":
    """Begin a ledger, or join the one on a server; returns it, and what is to be said of that."""
    from qcledger.ledger import AlreadyThere, Ledger, join

    try:
        return Ledger.create(place, letters=letters, tester=tester, zone=zone), BEGUN
    except AlreadyThere:
        ledger, is_same = join(str(place), letters=letters, tester=tester, zone=zone, although=although)
        return ledger, CONTINUED if is_same else JOINED


def _zone(given: str | None) -> str | None:
    """Return the time zone given, else this machine's, else the tester's answer; None where nobody can be asked."""
    import sys

    from qcledger.clock import machine_zone, zone_named

    if given is not None:
        return zone_named(given.strip(), "--zone").key
    found = machine_zone()
    if found is not None or not sys.stdin.isatty():
        return found
    return zone_named(click.prompt("Your time zone, as in Europe/Berlin", err=True).strip()).key
