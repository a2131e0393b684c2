"""What ``qcledger amend`` does with a piece as it was bought: its facts, or those of its whole parcel."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import click

from qcledger.cli.options import F, open_ledger
from qcledger.cli.said import say, tried
from qcledger.errors import BadInput, Problem, bad
from qcledger.settings import load_settings

if TYPE_CHECKING:
    from qcledger.bench.mending import Mending
    from qcledger.ledger import Ledger
    from qcledger.records import Parcel, Specimen
    from qcledger.settings import Settings

OF_PIECE: Final = {
    "price": ("AMOUNT", "What it cost."),
    "lot": ("CODE", "Its batch code."),
    "format": ("FORMAT", "Its format."),
    "ml": ("AMOUNT", "Nominal ml, as printed."),
    "weight": ("AMOUNT", "Grams, as weighed."),
    "why": ("WORD", "Why it was bought."),
    "advised": ("WORD", "Whether it was bought on the advice of the list of what to buy: yes or no."),
    "source": ("WORD", "Where it is from."),
    "state": ("WORD", "Its state."),
    "opened_on": ("DAY", "The day it was opened."),
}
OF_PARCEL: Final = {
    "bought_on": ("DAY", "The day its parcel was bought."),
    "received_on": ("DAY", "The day its parcel came."),
    "seller": ("NAME", "The seller of its parcel."),
    "currency": ("CODE", "The currency of its parcel."),
    "shipping": ("AMOUNT", "The shipping of its parcel."),
}
TO_PARCEL: Final = "to_parcel"
ALIKE: Final = "alike"
WHOLE: Final = "whole_parcel"


def fact_options(command: F) -> F:
    """Give a command the options that name a fact; an empty text is what is not known."""
    flags = {
        WHOLE: "Of every specimen of its parcel, not of it alone.",
        ALIKE: "Of every specimen of its kind and format in its parcel, not of it alone.",
    }
    for name, help_ in reversed(flags.items()):
        command = click.option(f"--{name.replace('_', '-')}", name, is_flag=True, help=help_)(command)
    moved = {TO_PARCEL: ("STICKER", "Move it to the parcel of the specimen with this sticker.")}
    for name, (metavar, help_) in reversed({**OF_PIECE, **OF_PARCEL, **moved}.items()):
        command = click.option(f"--{name.replace('_', '-')}", name, metavar=metavar, help=help_)(command)
    return command


def asks(given: Mapping[str, Any]) -> list[str]:
    """Return the options given that name facts, as they are typed."""
    names = [name for name in (*OF_PIECE, *OF_PARCEL, TO_PARCEL) if given[name] is not None]
    return [f"--{name.replace('_', '-')}" for name in (*names, *(one for one in (WHOLE, ALIKE) if given[one]))]


def amend_facts(sticker: str, where: str | None, given: Mapping[str, Any]) -> None:
    """Change what is known about a piece; print each fact, and each count that moves, then and now."""
    from qcledger.bench import mending
    from qcledger.report.recounted import of_pieces

    with open_ledger(where, write=not given["dry_run"]) as ledger:
        settings = load_settings()
        try:
            wanted = _weighed(ledger, sticker, given, settings)
        except BadInput as refused:
            raise BadInput([_as_option(problem) for problem in refused.problems]) from refused
        if not wanted.differ:
            raise bad("amend", "what stands already", "a fact that is to be another")
        if not given["dry_run"] and not given["reason"].strip():
            raise bad("--reason", "", "why it is amended")
        for line in [*wanted.lines(settings.decimal_mark), *of_pieces(ledger, wanted.after)]:
            say(line)
        if given["dry_run"]:
            ledger.check([*wanted.lots, *wanted.after])
            say(tried(given["reason"]))
            return
        mending.keep(ledger, wanted, given["reason"])
        say(f"amended, because: {given['reason']}")


def _weighed(ledger: "Ledger", sticker: str, given: Mapping[str, Any], settings: "Settings") -> "Mending":
    from qcledger.bench import mending
    from qcledger.bench.unpacking import check_in_stock, find_sticker
    from qcledger.records import Parcel, Specimen

    one = ledger.get(Specimen, find_sticker(ledger, sticker))
    parcel = ledger.get(Parcel, one.parcel) if one is not None else None
    assert one is not None
    assert parcel is not None
    if made_by := ledger.made_by(Specimen, one.id):
        raise bad(one.sticker, f"a specimen of {made_by}", "one of your own: only its tester changes it")
    check_in_stock(ledger, one)
    of_piece, of_parcel = ({n: given[n] for n in names if given[n] is not None} for names in (OF_PIECE, OF_PARCEL))
    note = given["note"]
    pieces = [one]
    if given[WHOLE] or given[ALIKE]:
        if given[WHOLE] and given[ALIKE]:
            raise bad("options", "--whole-parcel and --alike", "one of them")
        pieces = mending.of_parcel(ledger, parcel.id) if given[WHOLE] else mending.alike(ledger, one)
    typed = {**of_piece, **({"note": note} if note is not None else {})}
    if given[TO_PARCEL] is not None:
        return _moved(ledger, pieces, parcel, given[TO_PARCEL], [*typed, *of_parcel])
    bought = mending.parcel_with(ledger, parcel, of_parcel, settings) if of_parcel else parcel
    if not typed:
        return mending.weigh(ledger, [parcel], [bought])
    after, lots = mending.of_pieces(ledger, pieces, typed, settings, ledger.new_id, bought)
    changes_parcel = bought != parcel
    before = [*([parcel] if changes_parcel else []), *pieces]
    return mending.weigh(ledger, before, [*([bought] if changes_parcel else []), *after], lots)


def _moved(
    ledger: "Ledger", pieces: "Sequence[Specimen]", parcel: "Parcel", sticker: str, others: Sequence[str]
) -> "Mending":
    """Return what moving pieces to the parcel of another one changes."""
    from qcledger.bench import reparcel
    from qcledger.bench.unpacking import find_sticker
    from qcledger.records import Specimen

    if others:
        names = ", ".join(f"--{name.replace('_', '-')}" for name in others)
        raise bad("options", f"--to-parcel and {names}", "--to-parcel by itself, then the others")
    there = ledger.get(Specimen, find_sticker(ledger, sticker))
    known = {one.id: one for one in reparcel.others(ledger, parcel.id)}
    target = known.get(there.parcel) if there is not None else None
    if target is None:
        raise bad("--to-parcel", sticker, "a specimen of another parcel of yours")
    return reparcel.weigh_parcel(ledger, pieces, target)


def _as_option(problem: Problem) -> Problem:
    """Return a problem whose field is called as it is typed."""
    if problem.where not in {**OF_PIECE, **OF_PARCEL}:
        return problem
    return Problem(f"--{problem.where.replace('_', '-')}", problem.found, problem.allowed)
