"""``qcledger conditions``: what the stages of a session were worked under."""

from typing import TYPE_CHECKING, Any, Final

import click

from qcledger.cli.asked import by_name, condition_options
from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import say, tried
from qcledger.errors import BadInput, Problem, bad

if TYPE_CHECKING:
    from qcledger.bench.conditions import Noted
    from qcledger.ledger import Ledger

OPTIONS: Final = {"temperature_c": "--temperature", "humidity_pct": "--humidity"}
"""Options that are not called as their field."""


@click.command()
@click.argument("session")
@ledger_option
@click.option("--stage", metavar="NAME", default="", help="Of which stage; needed to note anything.")
@condition_options
@click.option("--lamp", metavar="TEXT", help="The lamp.")
@click.option("--temperature", "temperature_c", metavar="NUMBER", help="Degrees Celsius.")
@click.option("--humidity", "humidity_pct", metavar="NUMBER", help="Percent.")
@click.option("--reason", metavar="TEXT", default="", help="Why something that was noted is changed.")
@click.option("--dry-run", is_flag=True, help="Say what would be noted; change nothing.")
def conditions(session: str, where: str | None, stage: str, reason: str, dry_run: bool, **given: Any) -> None:
    """Note or amend what a stage of a session was worked under.

    SESSION is its code; where several have it, with the title of its comparison behind a comma. Without any condition
    they are listed, stage by stage, with what was amended and why. An empty text is a condition that is not noted.
    """
    from qcledger.bench import conditions as kept
    from qcledger.bench.named import session_of
    from qcledger.bench.worked import of_session

    named = given.pop("conditions")
    texts = {field: text for field, text in given.items() if text is not None}
    if (texts or named) and not stage.strip():
        raise bad("--stage", stage, "the stage it was, as in --stage dry")
    with open_ledger(where, write=bool(texts or named) and not dry_run) as ledger:
        found = session_of(ledger, session)
        texts |= by_name(named, of_session(ledger, found))
        if not texts:
            lines = kept.lines(ledger, found)
            for line in lines or ["no stage yet"]:
                say(line)
            return
        noted = kept.load(ledger, found.id, stage.strip())
        _write(ledger, noted, texts, reason, dry_run=dry_run)


def _write(ledger: "Ledger", noted: "Noted", texts: dict[str, str], reason: str, *, dry_run: bool) -> None:
    from qcledger.bench import conditions as kept

    try:
        typed = kept.typed(texts)
        values = {field: typed[field] if field in texts else noted.stands(field) for field in typed}
        told = kept.differing(noted, values)
        if not told:
            raise bad("conditions", "what is noted already", "a condition that is to be another")
        if dry_run:
            why = reason.strip() or "tried"
            ledger.check([kept.weigh(ledger, noted, values, reason=why, new_id=ledger.new_id).now])
        else:
            kept.write(ledger, noted, values, reason=reason, new_id=ledger.new_id)
    except BadInput as refused:
        raise BadInput([_as_option(problem) for problem in refused.problems]) from refused
    say(f"{noted.stage}: {', '.join(told)}")
    if dry_run:
        say(tried(reason) if kept.changed(noted, values) else "dry run, nothing kept")


def _as_option(problem: Problem) -> Problem:
    """Return a problem whose field is called as it is typed."""
    names = {**{field: f"--{field}" for field in ("water", "brush", "lamp", "reason")}, **OPTIONS}
    return Problem(names.get(problem.where, problem.where), problem.found, problem.allowed)
