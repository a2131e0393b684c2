"""``qcledger amend``: another result or fact in place of one that was recorded, with a reason."""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

import click

from qcledger.cli.amend_facts import amend_facts, asks, fact_options
from qcledger.cli.amend_photo import AmendedPhoto, of_piece
from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.said import say, tried
from qcledger.errors import bad
from qcledger.settings import load_settings
from qcledger.vocab import Censored

if TYPE_CHECKING:
    from qcledger.bench.amending import Amendable
    from qcledger.bench.result import Result
    from qcledger.ledger import Ledger

RESULTS: Final = ("grade", "choice", "reading", "not_testable", "take_back")
"""Options that say what should stand; a reading may have its grade beside it."""


@click.command()
@click.argument("specimen")
@click.argument("criterion", required=False)
@ledger_option
@click.option("--session", metavar="CODE", default="", help="In which session, where it was judged in several.")
@click.option("--day", metavar="DATE", default="", help="On which day, as in 2026-03-09.")
@click.option("--grade", type=float, default=None, help="The grade that should stand.")
@click.option("--choice", metavar="WORD", default=None, help="The choice that should stand, as the rubric has it.")
@click.option("--reading", metavar="VALUE", default=None, help="The reading that should stand, as in 23 or '>60'.")
@click.option("--not-testable", metavar="WHY", default=None, help="It could not be tested, and why.")
@click.option("--take-back", is_flag=True, help="It should not be there at all.")
@click.option("--note", metavar="TEXT", default=None, help="The note that should stand; an empty one takes it away.")
@fact_options
@click.option(
    "--photo", type=PathInUtf8(), help="A picture to be filed with it, or without CRITERION with the specimen."
)
@click.option("--move", is_flag=True, help="With --photo: it is filed with something else, and is moved here.")
@click.option("--reason", metavar="TEXT", default="", help="Why; kept with the amendment.")
@click.option("--dry-run", is_flag=True, help="Say what would stand and what it would count; change nothing.")
def amend(specimen: str, criterion: str | None, where: str | None, session: str, day: str, **given: Any) -> None:
    """Amend what was observed, or a specimen's facts, with a reason.

    What stood before stays. SPECIMEN is a sticker; in a session that is still blind, its code, with --session.
    CRITERION is a title or key of the rubric. Then and now are printed, and the counts of the cell before and after.
    Where several observations fit, it is asked back which.

    Without CRITERION it is about the specimen as it was bought: --price to --state, --note, and with --bought-on to
    --shipping about its parcel. An empty text is what is not known.

    A picture that is filed with something else is moved by --move, with a reason; its bytes stay as they are.
    """
    from qcledger.bench import amending
    from qcledger.bench.found import find

    _check_one_kind(criterion, session, day, given)
    if criterion is None and given["photo"] is not None:
        of_piece(specimen, where, given)
        return
    if criterion is None:
        amend_facts(specimen, where, given)
        return
    with open_ledger(where, write=not given["dry_run"]) as ledger:
        found = amending.load(ledger, find(ledger, specimen, criterion, session, day))
        found.check_own()
        instead = _instead(found, given)
        if instead != found.result and not given["dry_run"] and not given["reason"].strip():
            raise bad("--reason", "", "why it is amended")
        if instead == found.result and given["photo"] is None:
            raise bad("amend", "what stands already", "another grade, choice, reading or note, or a photo")
        photo = AmendedPhoto.of(given)
        told = photo.weigh(ledger, found.specimen, found.observation.id) if photo else ""
        _tell(ledger, found, instead)
        for line in filter(None, (told,)):
            say(line)
        if given["dry_run"]:
            _try(ledger, found, instead, given["reason"])
            say(tried(given["reason"]) if instead != found.result or given["move"] else "dry run, nothing kept")
            return
        _keep(ledger, found, instead, given["reason"], photo)


def _check_one_kind(criterion: str | None, session: str, day: str, given: Mapping[str, Any]) -> None:
    """Refuse facts of a piece beside a criterion, and a result without one."""
    facts = asks(given)
    if criterion is not None and facts:
        raise bad("options", " and ".join(facts), "facts of a specimen without CRITERION, or a result with it")
    if given["move"] and given["photo"] is None:
        raise bad("options", "--move", "--move with the --photo that is moved")
    if criterion is None and given["photo"] is not None and not (facts or given["note"] is not None):
        return
    result = [f"--{name.replace('_', '-')}" for name in (*RESULTS, "photo") if given[name] not in (None, False)]
    result += [name for name, text in (("--session", session), ("--day", day)) if text]
    if criterion is None and (result or not (facts or given["note"] is not None)):
        raise bad("CRITERION", " and ".join(result), "what was judged, or a fact of the specimen, as in --price 5.90")


def _instead(found: "Amendable", given: Mapping[str, Any]) -> "Result":
    """Return what should stand; raises BadInput for what the criterion does not offer."""
    from qcledger.bench import amending

    asked = [name for name in RESULTS if given[name] not in (None, False)]
    if len(asked) > 1 and set(asked) != {"grade", "reading"}:
        names = " and ".join(f"--{name.replace('_', '-')}" for name in asked)
        raise bad("options", names, "one of them; a reading may have its --grade")
    result = found.result
    if given["take_back"]:
        result = amending.nothing()
    elif given["not_testable"] is not None:
        result = amending.untestable(result, given["not_testable"])
    elif given["choice"] is not None:
        result = amending.chosen(result, found.criterion, given["choice"])
    elif given["grade"] is not None or given["reading"] is not None:
        result = amending.measured(result, found.criterion, given["grade"], *_reading(given["reading"]))
    return result if given["note"] is None else amending.noted(result, given["note"])


def _reading(text: str | None) -> tuple[float | None, Censored]:
    from qcledger.figures import reading

    return (None, Censored.EXACT) if text is None else reading(text, "--reading")


def _tell(ledger: "Ledger", found: "Amendable", instead: "Result") -> None:
    from qcledger.bench.amending import result_words
    from qcledger.report.amended import cell_of, why_none

    mark = load_settings().decimal_mark
    say(f"{found.criterion.title} of {found.name}")
    say(f"then: {result_words(found.result, found.criterion, mark)}")
    say(f"now: {result_words(instead, found.criterion, mark)}")
    cell = cell_of(ledger, found)
    say(cell.preview(instead) if cell is not None else why_none(found))


def _try(ledger: "Ledger", found: "Amendable", instead: "Result", reason: str) -> None:
    """Refuse what keeping it would refuse, but for a reason that is not given yet."""
    from qcledger.bench import amending
    from qcledger.bench.result import Pencil

    if instead != found.result:
        pencil = Pencil(id=ledger.new_id(), tester=ledger.daybook.tester, at=datetime.now(UTC))
        stood, why = found.observation, reason.strip() or "tried"
        ledger.check([amending.superseding(found, stood, instead, reason=why, pencil=pencil)])


def _keep(ledger: "Ledger", found: "Amendable", instead: "Result", reason: str, photo: AmendedPhoto | None) -> None:
    from qcledger.bench import amending
    from qcledger.bench.result import Pencil

    stands = found.observation
    if instead != found.result:
        pencil = Pencil(id=ledger.new_id(), tester=ledger.daybook.tester, at=datetime.now(UTC))
        stands = amending.write(ledger, stands, instead, reason=reason, pencil=pencil)
        say(f"amended, because: {stands.reason}")
    if photo is not None:
        say(photo.keep(ledger, found.specimen, stands.id, found.criterion.title))
