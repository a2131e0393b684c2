"""``qcledger start``: begin a ledger of your own."""

import re
import shlex

import click

from qcledger.cli.options import ledger_option, room_for
from qcledger.cli.said import tell
from qcledger.errors import bad
from qcledger.settings import default_ledger
from qcledger.text import one_line

LETTERS = re.compile(r"[^\W\d_]{1,4}")


@click.command()
@ledger_option
@click.option(
    "--letters", required=True, metavar="AB", help="One to four letters, capitals, that begin your sticker numbers."
)
@click.option("--tester", required=True, metavar="NAME", help="Your name, as findings print it.")
def start(where: str | None, letters: str, tester: str) -> None:
    """Begin your own ledger.

    Your letters, as capitals, and a count make the sticker numbers of your specimens: OV 0001, OV 0002 and so on.
    """
    from qcledger.ledger import Ledger

    capitals = letters.upper()
    if not LETTERS.fullmatch(capitals):
        raise bad("--letters", letters, "one to four letters, as in OV")
    name = one_line(tester)  # printed with every finding, so what steers a terminal is left out as everywhere
    if not name:
        raise bad("--tester", tester, "a name")
    place = where or default_ledger()
    with room_for(place), Ledger.create(place, letters=capitals, tester=name) as ledger:
        kept = ledger.where  # a URL without its password
    tell(f"Your ledger is {kept}")
    pages = f"qcledger --ledger {shlex.quote(kept)}" if where else "qcledger"
    tell(f"Next: {pages} opens its pages; there 2, then n begins your first parcel.")
    tell("On every page F9 opens the guide, ? lists the keys and ctrl-q leaves.")
