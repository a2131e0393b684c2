"""``qcledger zone``: in which time zone the tester works."""

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import say, tell
from qcledger.errors import bad


@click.command()
@click.argument("name", required=False, default="")
@ledger_option
@click.option("--corrects", is_flag=True, help="The zone recorded last was wrong; NAME holds in its place.")
def zone(name: str, where: str | None, corrects: bool) -> None:
    """Say in which time zone you work; days are told by it.

    NAME is an IANA name, such as Europe/Berlin. It holds for what your daybook writes from now on; the first one also
    for what it wrote before. Without NAME the zones of your daybook are listed.
    """
    if name:
        _record(where, name, corrects)
    elif corrects:
        raise bad("NAME", "", "the zone that holds in place of the one recorded last")
    else:
        _list(where)


def _record(where: str | None, name: str, corrects: bool) -> None:
    from qcledger.bench.whereabouts import answer

    with open_ledger(where, write=True, ask_zone=False) as ledger:
        kept = answer(ledger, name, corrects=corrects)
    tell(f"Days are told by {kept}" + ("" if corrects else " from now on"))


def _list(where: str | None) -> None:
    from qcledger.clock import machine_zone

    with open_ledger(where) as ledger:
        held = ledger.zones
    for one in held:
        tell(f"{one.row.name} from entry {one.since} of your daybook on")
    if not held:
        say("No time zone is recorded: qcledger zone NAME records one, as in qcledger zone Europe/Berlin")
    here = machine_zone()
    tell(f"This machine is in {here}" if here else "This machine does not tell its time zone")
