"""``qcledger start``: begin a ledger of your own."""

import re
import shlex

import click

from qcledger.cli.options import ledger_option, room_for
from qcledger.cli.said import tell
from qcledger.errors import bad
from qcledger.settings import default_ledger
from qcledger.text import one_line

UNKNOWN = "This machine does not tell its time zone: qcledger zone NAME says it, as in qcledger zone Europe/Berlin"
LETTERS = re.compile(r"[^\W\d_]{1,4}")


@click.command()
@ledger_option
@click.option(
    "--letters", required=True, metavar="AB", help="One to four letters, capitals, that begin your sticker numbers."
)
@click.option("--tester", required=True, metavar="NAME", help="Your name, as findings print it.")
@click.option("--zone", metavar="NAME", help="Your time zone, as in Europe/Berlin; without, this machine's.")
def start(where: str | None, letters: str, tester: str, zone: str | None) -> None:
    """Begin your own ledger.

    Your letters, as capitals, and a count make the sticker numbers of your specimens: OV 0001, OV 0002 and so on.
    """
    from qcledger.clock import machine_zone
    from qcledger.ledger import Ledger
    from qcledger.ledger.zones import ANSWERED, remember

    capitals = letters.upper()
    if not LETTERS.fullmatch(capitals):
        raise bad("--letters", letters, "one to four letters, as in OV")
    name = one_line(tester)  # printed with every finding, so what steers a terminal is left out as everywhere
    if not name:
        raise bad("--tester", tester, "a name")
    kept_in = _zone(zone)
    place = where or default_ledger()
    with room_for(place), Ledger.create(place, letters=capitals, tester=name, zone=kept_in) as ledger:
        kept = ledger.where  # a URL without its password
    if zone:
        remember(kept, ANSWERED, machine_zone())
    tell(f"Your ledger is {kept}")
    tell(f"Days are told by {kept_in}" if kept_in else UNKNOWN)
    pages = f"qcledger --ledger {shlex.quote(kept)}" if where else "qcledger"
    tell(f"Next: {pages} opens its pages; there 2, then n begins your first parcel.")
    tell("On every page F9 opens the guide, ? lists the keys and ctrl-q leaves.")


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
