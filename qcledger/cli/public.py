"""What the commands about questions, answers, notes, rates and small decisions share."""

from collections.abc import Collection, Iterable
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from qcledger.cli.said import say, tell, wrapped
from qcledger.settings import Settings, load_settings

if TYPE_CHECKING:
    from qcledger.findings import Findings
    from qcledger.ledger import Ledger
    from qcledger.records.finding_key import FindingKey
    from qcledger.vocab import DecisionKind


def list_said(ledger: "Ledger", tables: Collection[str], kinds: "Collection[DecisionKind]" = ()) -> None:
    """Print what there is of some tables, the newest first, each with the id that amends it."""
    from qcledger.bench.public.listed import listed

    found = listed(ledger, tables, kinds)
    for one in found:
        say(one.line())
        tell(f"  id {one.id}")
    if not found:
        tell("nothing yet")


def undo(where: str | None, table: str, id_: str, reason: str | None, kinds: "Collection[DecisionKind]" = ()) -> None:
    """Take back what the list has under an id, and say what it was."""
    from qcledger.bench.public.listed import listed
    from qcledger.bench.public.withdrawing import SMALL, take_back
    from qcledger.cli.options import open_ledger

    with open_ledger(where, write=True) as ledger:
        row = take_back(ledger, table, id_, reason or "", today_of(ledger)[0], kinds or SMALL)
        say(next(one.line() for one in listed(ledger, [table]) if one.id == row.id))


def today_of(ledger: "Ledger") -> tuple[date, Settings]:
    """Return the tester's day, and what he has set."""
    return ledger.day(datetime.now(UTC)), load_settings()


def given(**values: str | None) -> dict[str, str]:
    """Return what was given on the command line as a form has it: nothing is an empty field."""
    return {name: value or "" for name, value in values.items()}


def found_of(
    ledger: "Ledger", maker: str, criterion: str | None, format_: str | None, comparison: str | None, *, wait: bool
) -> "Findings":
    """Return the findings that the command line names; raises BadInput where there are none.

    With `wait`, what the pooled model has not answered yet is worked out first.
    """
    from qcledger.cli.findings import AskedNames, match, of_ledger
    from qcledger.errors import bad

    names = AskedNames.of(ledger)
    key = match("--criterion", criterion, names.criteria)
    maker_id = match("MAKER", maker, names.makers)
    only = match("--format", format_, names.formats)
    wanted = () if not wait else None if key is None else (key,)
    told = of_ledger(ledger, comparison, wanted).only(criterion=key, maker=maker_id, format=only)
    if not (told.findings or told.label_facts):
        raise bad("finding", maker, "a maker, criterion and format on which something was tested")
    return told


def key_named(ledger: "Ledger", maker: str, criterion: str, format_: str) -> "tuple[FindingKey, str]":
    """Return the key and title of the finding that the command line names; raises BadInput where there is none."""
    from qcledger.report.said import key_of

    found = found_of(ledger, maker, criterion, format_, None, wait=False)
    for one in found.findings:
        return key_of(one), f"{one.maker_name}, {one.format}, {one.criterion.title}"
    from qcledger.cli.findings import AskedNames, match
    from qcledger.records.finding_key import FindingKey

    label, wanted = found.label_facts[0], match("--criterion", criterion, AskedNames.of(ledger).criteria)
    stated = next(grade.criterion for grade in label.grades if grade.criterion.key == wanted)
    return FindingKey(stated.key, label.maker, label.format), f"{label.maker_name}, {label.format}, {stated.title}"


def say_lines(lines: Iterable[str]) -> None:
    """Print lines, each on as many as it needs."""
    for line in lines:
        tell(wrapped(line))
