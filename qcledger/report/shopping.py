"""What to buy next in a ledger: the last prices on file, the plan, and its faces as CSV and JSON."""

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Final, NamedTuple

from qcledger import figures
from qcledger.bench.public.rates import rate_words
from qcledger.errors import bad
from qcledger.findings import Finding
from qcledger.findings.exchanged import conversion
from qcledger.findings.shopping import Errand, LastPrice, PaintOf, ShoppingPlan, plan
from qcledger.ledger.identity import who_is_who
from qcledger.records import Paint, Parcel
from qcledger.report.prices import paid_in
from qcledger.report.rows import Row
from qcledger.report.to_csv import table_csv
from qcledger.text import harmless_in
from qcledger.vocab import CURRENCY_DIGITS

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

FORM: Final = 1
"""Raised when a name of the JSON changes or goes; new names may come without it."""


class Budget(NamedTuple):
    """A sum in the smallest coin of a currency."""

    minor: int
    currency: str


def budget(text: str, mark: str = ".") -> Budget:
    """Return the sum that a text says: ``60 EUR``.

    Raises
    ------
    BadInput
        When it is no sum, or names no currency.
    """
    parts = text.split()
    if len(parts) != 2:
        raise bad("--budget", text, "a sum and its currency, as in 60 EUR")
    sum_, code = reversed(parts) if parts[0].upper() in CURRENCY_DIGITS else parts
    currency = figures.currency(code, "--budget")
    return Budget(figures.money(sum_, "--budget", currency, mark), currency)


def usual_currency(ledger: "Ledger") -> str:
    """Return the currency of the newest parcel; euro where none was bought."""
    newest = max(ledger.rows(Parcel), key=lambda one: (one.bought_on, one.id), default=None)
    return newest.currency if newest else "EUR"


def last_prices(ledger: "Ledger", currency: str) -> dict[PaintOf, list[LastPrice]]:
    """Return the last price at each seller of each paint in each format, the newest first, in one currency.

    As on the receipt, before a discount and without shipping. What was sold in a set has no price of its own; a price
    in another currency is left out where the ledger has no rate between the two. The newest rate is taken:
    what is bought next is bought now.
    """
    pieces, rates = paid_in(ledger)
    found: dict[PaintOf, dict[str, LastPrice]] = defaultdict(dict)
    for one in sorted(pieces, key=lambda piece: (piece.bought_on, piece.sticker)):
        how = conversion(rates, one.currency, currency, date.max)
        if not one.price_minor or one.pack or how is None:
            continue
        paid = f"{figures.money_text(one.price_minor, one.currency)} {one.currency}"
        rate = f"{rate_words(how.rate)}, {how.rate.on}" if how.rate else ""
        price = LastPrice(max(how.of(one.price_minor), 1), one.seller, one.bought_on, paid, rate)
        found[one.paint, str(one.format)][one.seller] = price
    return {of: sorted(by.values(), key=lambda one: one.bought_on, reverse=True) for of, by in found.items()}


def shopping_plan(ledger: "Ledger", findings: Iterable[Finding], sum_: Budget) -> ShoppingPlan:
    """Return what to buy next with a sum, by findings of an open ledger."""
    return plan(findings, last_prices(ledger, sum_.currency), sum_.minor)


def errand_rows(found: ShoppingPlan, currency: str, paints: Mapping[str, str]) -> Iterator[Row]:
    """Yield a row for each question of each errand, those of the plan first."""
    for in_plan, errands in ((1, found.taken), (0, found.others)):
        for number, errand in enumerate(errands, 1):
            for answer in errand.answers:
                yield {
                    "in_plan": in_plan,
                    "errand": number,
                    "buy": "; ".join(_bought(errand, paints)),
                    "why": "to confirm" if any(one.pieces.confirms for one in errand.lines) else "planned",
                    "pieces": errand.pieces,
                    "cost_minor": errand.cost,
                    "currency": currency,
                    "criterion": answer.finding.criterion.key,
                    "maker": answer.finding.maker_name,
                    "format": str(answer.finding.format),
                    "standing": answer.finding.standing.name_for_files,
                    "settles": answer.way.settles,
                    "chance": round(answer.way.chance, 4),
                }


def _bought(errand: Errand, paints: Mapping[str, str]) -> Sequence[str]:
    return [f"{line.count} {line.pieces.format} {paints.get(line.paint, 'of other makers')}" for line in errand.lines]


def paint_names(ledger: "Ledger") -> dict[str, str]:
    """Return the name of each paint, as it is called now."""
    known = who_is_who(ledger)
    return {one.id: one.name for one in known.all(Paint.TABLE)}


def shopping_csv(found: ShoppingPlan, currency: str, paints: Mapping[str, str]) -> str:
    """Return a line a question as CSV."""
    return table_csv(errand_rows(found, currency, paints))


def shopping_json(found: ShoppingPlan, currency: str, paints: Mapping[str, str]) -> str:
    """Return the plan as JSON, indented, ended by a line feed; money in the smallest coin."""
    told = {
        "form": FORM,
        "currency": currency,
        "budget_minor": found.budget,
        "spent_minor": found.spent,
        "questions_settled_on_average": round(found.hoped, 4),
        "errands": [dict(row) for row in errand_rows(found, currency, paints)],
        "look_first": [
            {**_about(one.finding), "stickers": [piece.sticker for piece in one.pieces]} for one in found.look
        ],
        "without_price": [_about(one) for one in found.no_price],
        "not_foreseen": [{**_about(one.finding), "about_minor": one.about} for one in found.not_foreseen],
        "unpack_together": [
            {"format": one.format, "makers": list(one.makers), "stickers": [piece.sticker for piece in one.pieces]}
            for one in found.together
        ],
    }
    return json.dumps(harmless_in(told), ensure_ascii=False, indent=2) + "\n"


def _about(finding: Finding) -> dict[str, str]:
    return {"criterion": finding.criterion.key, "maker": finding.maker_name, "format": str(finding.format)}
