"""``qcledger answer``: what a maker answered, or that it did not."""

from typing import TYPE_CHECKING

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.vocab import AnswerKind

if TYPE_CHECKING:
    from qcledger.bench.public.answers import Letter
    from qcledger.ledger import Ledger


@click.command()
@click.argument("maker", required=False)
@ledger_option
@click.option("--kind", metavar="KIND", help=f"What it comes to: {', '.join(AnswerKind)}.")
@click.option("--received", metavar="DAY", help="The day it came, as in 2026-11-12. Default: today.")
@click.option("--print", "answer", metavar="TEXT", help="What may be printed, uncut.")
@click.option("--private", metavar="TEXT", help="What stays with you.")
@click.option("--lot", metavar="CODE", help="The lot withdrawn, or from which something was changed.")
@click.option("--changed-on", "changed_on", metavar="DAY", help="The day from which something was changed.")
@click.option("--question", "id_", metavar="ID", help="Which question, where a maker was asked several times.")
@click.option("--undo", metavar="ID", help="Take back this one, as the list has it, with a --reason.")
@click.option("--reason", metavar="TEXT", help="Amend an answer that is kept already, or take it back, because ...")
def answer(
    maker: str | None, where: str | None, id_: str | None, undo: str | None, reason: str | None, **values: str | None
) -> None:
    """Keep what a maker answered, or that it did not.

    The words for print stay uncut; the day is that on which the answer came.

    Without MAKER, answers and what is still awaited are listed. "no answer" is kept once the day to answer by has
    passed. With --reason an answer is amended: what is not given stays as it is.
    """
    from qcledger.bench.public.answers import letter, read_answer
    from qcledger.bench.public.deciding import read_reason
    from qcledger.bench.public.versions import changes
    from qcledger.cli.public import list_said, today_of
    from qcledger.cli.public import undo as take_back
    from qcledger.cli.said import say
    from qcledger.records import MakerAnswer, Question

    if undo is not None:
        take_back(where, MakerAnswer.TABLE, undo, reason)
        return
    if maker is None:
        with open_ledger(where) as ledger:
            list_said(ledger, [Question.TABLE, MakerAnswer.TABLE])
        return
    with open_ledger(where, write=True) as ledger:
        one = letter(ledger, id_) if id_ else _letter(ledger, maker, amends=reason is not None)
        today, settings = today_of(ledger)
        why = read_reason(reason) if reason is not None else ""
        typed = {**_kept(one), **{name: value for name, value in values.items() if value is not None}}
        typed.setdefault("received", today.isoformat())
        row = read_answer(typed, one, today, settings, ledger.new_id)
        changes(one.answer, row)
        ledger.append([row], reason=why)
        say(f"answer of {one.maker} kept: {row.kind}; for print: {row.answer or 'nothing'}")


def _kept(one: "Letter") -> dict[str, str]:
    """Return what an answer holds already, as it would be typed; its kind is typed anew where none was."""
    row = one.answer
    if row is None or one.awaited:
        return {}
    days = {"received": row.answered_on, "changed_on": row.changed_on}
    told = {"kind": row.kind or "", "lot": row.lot or "", "answer": row.answer, "private": row.private}
    return {**told, **{name: day.isoformat() for name, day in days.items() if day is not None}}


def _letter(ledger: "Ledger", maker: str, *, amends: bool) -> "Letter":
    """Return the one question to a maker that is awaited, or answered where it is amended."""
    from qcledger.bench.public.answers import letters
    from qcledger.bench.public.makers import maker_called
    from qcledger.errors import bad

    known = maker_called(ledger, maker, "MAKER")
    found = [one for one in letters(ledger) if one.maker_id in known.members and one.awaited != amends]
    if len(found) == 1:
        return found[0]
    if not found:
        allowed = "a maker with an answer that is kept" if amends else "a maker whose answer is awaited"
        more = "" if amends else "; qcledger ask asks one, --reason amends an answer"
        raise bad("MAKER", maker, allowed + more)
    raise bad("--question", "nothing", " or ".join(f"{one.id} (asked {one.asked_on})" for one in found))
