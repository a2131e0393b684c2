"""``qcledger retest`` and ``qcledger correct``: decisions about a finding, a specimen or a session."""

from typing import TYPE_CHECKING

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.errors import bad
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

SUBJECTS = "specimen STICKER, session CODE, or finding MAKER CRITERION FORMAT"


@click.command()
@click.argument("what", nargs=-1)
@ledger_option
@click.option("--reason", metavar="TEXT", help="Why it is to be tested again.")
@click.option("--undo", metavar="ID", help="Take back this one, as the list has it, with a --reason.")
@click.option("--how", metavar="TEXT", help="What is to be done: at 50 % humidity, beside a sound one.")
def retest(what: tuple[str, ...], where: str | None, reason: str | None, undo: str | None, how: str | None) -> None:
    """Have a finding, specimen or session tested again.

    WHAT is, as in specimen "OV 0147", session S05, or finding MAKER CRITERION FORMAT. Loose ends names it until
    you have. Without WHAT, what was decided is listed.
    """
    _decide(DecisionKind.RETEST, what, where, reason, how, undo=undo)


@click.command()
@click.argument("what", nargs=-1)
@ledger_option
@click.option("--reason", metavar="TEXT", help="What was wrong, and what is right; stays with you.")
@click.option("--print", "how", metavar="TEXT", help="What the next edition prints of it, where it said so.")
@click.option("--undo", metavar="ID", help="Take back this one, as the list has it, with a --reason.")
def correct(what: tuple[str, ...], where: str | None, reason: str | None, how: str | None, undo: str | None) -> None:
    """Correct what was said or printed, with a reason.

    WHAT is, as in finding MAKER CRITERION FORMAT, question ID, or answer ID. It is shown beside it. Without WHAT,
    what was decided is listed.
    """
    _decide(DecisionKind.CORRECT, what, where, reason, how, undo=undo)


def _decide(
    kind: DecisionKind,
    what: tuple[str, ...],
    where: str | None,
    reason: str | None,
    how: str | None,
    *,
    undo: str | None,
) -> None:
    from qcledger.bench.public.deciding import about_row
    from qcledger.bench.public.listed import WORDS, title_of
    from qcledger.cli.public import list_said, today_of
    from qcledger.cli.public import undo as take_back
    from qcledger.cli.said import say
    from qcledger.records import Decision

    if undo is not None:
        take_back(where, Decision.TABLE, undo, reason, [kind])
        return
    if not what:
        with open_ledger(where) as ledger:
            list_said(ledger, [Decision.TABLE], [kind])
        return
    with open_ledger(where, write=True) as ledger:
        table, subject = _subject(ledger, kind, what)
        on, _ = today_of(ledger)
        by, new_id = ledger.daybook.tester, ledger.new_id
        row = about_row(kind, table, subject, reason=reason or "", by=by, on=on, new_id=new_id, how=how or "")
        ledger.append([row])
        say(f"{title_of(ledger, row)}: {WORDS[kind]}")


def _subject(ledger: "Ledger", kind: DecisionKind, what: tuple[str, ...]) -> tuple[str, str]:
    """Return table and id of what the command line names."""
    from qcledger.bench.named import session_of
    from qcledger.bench.unpacking import find_sticker
    from qcledger.cli.public import key_named
    from qcledger.records import MakerAnswer, Question, Session, Specimen

    word, rest = what[0].casefold(), what[1:]
    if word == "finding" and len(rest) == 3:
        key, _ = key_named(ledger, *rest)
        return key.subject_table, key.maker
    retests = kind is DecisionKind.RETEST
    if len(rest) == 1 and retests and word == Specimen.TABLE:
        subject = find_sticker(ledger, rest[0])
        if made_by := ledger.made_by(Specimen, subject):
            raise bad("specimen", f"a specimen of {made_by}", "one of yours")
        return Specimen.TABLE, subject
    if len(rest) == 1 and retests and word == Session.TABLE:
        return Session.TABLE, session_of(ledger, rest[0]).id
    for name, table in (("question", Question), ("answer", MakerAnswer)):
        if len(rest) == 1 and not retests and word == name and ledger.get(table, rest[0]) is not None:
            return table.TABLE, rest[0]
    allowed = SUBJECTS if retests else "finding MAKER CRITERION FORMAT, question ID, or answer ID"
    raise bad("WHAT", " ".join(what), allowed)
