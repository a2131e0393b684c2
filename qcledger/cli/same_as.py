"""``qcledger same-as``: two spellings of one, or two of their own."""

from typing import TYPE_CHECKING

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import say, tell
from qcledger.errors import bad
from qcledger.text import one_line
from qcledger.thing import PAINT, UNLIKE, spoken, worded

if TYPE_CHECKING:
    from qcledger.bench.naming import Naming
    from qcledger.ledger import Ledger
    from qcledger.records import SameAs


@click.command("same-as")
@click.argument("kind", required=False)
@click.argument("one", required=False)
@click.argument("other", required=False)
@ledger_option
@click.option(
    "--not", "apart", is_flag=True, help="They are not the same, however near or equal their spellings are."
)
@click.option("--undo", is_flag=True, help="Take back your own decision about these two.")
@click.option("--reason", default="", metavar="TEXT", help="Why; kept with the decision.")
@click.option("--dry-run", is_flag=True, help="Say what it would unite; change nothing.")
def same_as(
    kind: str | None,
    one: str | None,
    other: str | None,
    where: str | None,
    apart: bool,
    undo: bool,
    reason: str,
    dry_run: bool,
) -> None:
    """Say that two makers, ranges, products or sellers are one, or are not.

    KIND is maker, range, product or seller; ONE counts as OTHER from then on, and OTHER's name is shown. A product or
    range is named with its maker before it. Spellings that differ in case or blanks alone are one without a word.
    Without arguments, what may be one and what was decided is listed.
    """
    if kind is None:
        with open_ledger(where) as ledger:
            _list(ledger)
        return
    if one is None or other is None:
        raise bad("same-as", " ".join(filter(None, (kind, one))), 'a kind and two names: maker "ONE" "OTHER"')
    if apart and undo:
        raise bad("options", "--not and --undo", "one of them")
    with open_ledger(where, write=not dry_run) as ledger:
        _decide(ledger, check_kind(kind), one, other, apart=apart, undo=undo, reason=reason, dry_run=dry_run)


def check_kind(kind: str) -> str:
    """Return what a decision is about; raises BadInput for anything else."""
    from qcledger.bench.naming import KINDS

    asked = one_line(kind).casefold()
    known = {**{one: one for one in KINDS}, UNLIKE.one: PAINT.one, spoken().one: PAINT.one}
    if asked not in known:
        raise bad("kind", one_line(kind), ", ".join(worded(one) for one in KINDS))
    return known[asked]


def _decide(
    ledger: "Ledger", kind: str, one: str, other: str, *, apart: bool, undo: bool, reason: str, dry_run: bool
) -> None:
    from qcledger.bench import naming
    from qcledger.ledger import new_id
    from qcledger.ledger.identity import who_is_who
    from qcledger.vocab import Sameness

    known = who_is_who(ledger)
    first, second = (naming.find(known, kind, text, name) for text, name in ((one, "ONE"), (other, "OTHER")))
    decides = naming.Naming(ledger, ledger.day(), new_id, tries=dry_run)
    if undo:
        sides = (naming.rows_called(known, found, text) for found, text in ((first, one), (second, other)))
        found = naming.about(naming.decisions(ledger), kind, *sides)
        take_back(decides, decides.own(found)[0], reason, dry_run=dry_run)
        return
    names = f"{naming.title(known, first.one)} and {naming.title(known, second.one)}"
    touched = naming.weigh(ledger, [first.one, second.one]).words
    decides.decide(Sameness.DIFFERENT if apart else Sameness.SAME, first, second, reason)
    what = "two of their own" if apart else f"one, shown as {naming.title(known, second.one)}"
    say(f"{kind} {names}: {'would be ' * dry_run}{what}. This touches {touched}.")
    if dry_run:
        tell("dry run, nothing changed")


def take_back(decides: "Naming", row: "SameAs", reason: str, *, dry_run: bool = False) -> None:
    """Take a decision back and say so."""
    decides.take_back(row, reason)
    done = "would be taken back" if dry_run else "taken back"
    say(f"{done}: {row.kind}{f' {row.name}' if row.name else ''}, decided by {row.by} on {row.on}")


def _list(ledger: "Ledger") -> None:
    """Print what may be one, what was decided, and what testers disagree on."""
    from qcledger.bench import naming
    from qcledger.ledger.identity import who_is_who
    from qcledger.ledger.nearby import near_pairs

    known = who_is_who(ledger)
    with ledger.reading() as connection:
        near = near_pairs(connection, across=False)
    for pair in near:
        say(naming.question(pair))
    decided = naming.decisions(ledger)
    for one in decided:
        say(naming.decision_line(known, one.row))
    for line in known.disputed():
        say(f"Mind: {line}")
    if not near and not decided:
        tell("nothing may be one, and nothing was decided")
