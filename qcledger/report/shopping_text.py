"""What to buy next, as text for a terminal."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from qcledger import figures
from qcledger.bench.advice import remember
from qcledger.bench.due import Due, LooseEndKind
from qcledger.findings import Finding
from qcledger.findings.chances import ways
from qcledger.findings.evidence import NEAR
from qcledger.findings.shopping import Answer, Errand, ErrandLine, ShoppingPlan, best_errand, plan
from qcledger.findings.wording_of_settling import would_settle
from qcledger.findings.words import day, how_many, listed, lower_first
from qcledger.report.layout import paragraph
from qcledger.report.parts import WOULD_SETTLE, Part
from qcledger.report.shopping import last_prices, paint_names, usual_currency
from qcledger.rubric.ladder import WIDTH

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

PURCHASE = "What settles it likeliest for the money, by prices on file"
MOST_LISTED = 8
"""Most lines below a heading; the rest is counted."""
_MOST_STICKERS = 6
_MOST_MAKERS = 4
Coins = Callable[[int], str]
"""Tells a sum in the smallest coin, with its currency."""
NOTES = (
    "A chance says how often the finding's own rule would be met, by what is known today. It is a reason to test, "
    "not a verdict: what settles a finding may also clear it.",
    "Prices are the last on file, without shipping. What is named here is marked by itself when its parcel is "
    "entered: as advised, and why it was bought. Test it beside its peers.",
)


def shopping_text(
    found: ShoppingPlan, currency: str, paints: Mapping[str, str], mark: str = ".", width: int = WIDTH
) -> str:
    """Return what to look at, the plan, and the rest, as lines of at most `width` columns."""

    def coins(minor: int) -> str:
        return f"{figures.money_text(minor, currency, mark)} {currency}"

    lines = [*_look_first(found, width)]
    pieces = sum(errand.pieces for errand in found.taken)
    if found.taken:
        lines += paragraph(
            f"The plan: {how_many(pieces, 'piece')}, {coins(found.spent)} of {coins(found.budget)}; "
            f"{found.hoped:.1f} of {sum(len(one.answers) for one in found.taken)} questions settled on average",
            width=width,
        )
        lines += _errands(found.taken, coins, paints, None, width)
    elif not found.others:
        lines.append("Nothing to buy by the findings and prices on file.")
    elif found.budget:
        cheapest = min(one.cost for one in found.others)
        lines += paragraph(
            f"Nothing that can be foreseen costs {coins(found.budget)} or less; the least is {coins(cheapest)}.",
            width=width,
        )
    if found.others:
        which = "Not in the plan" if found.budget else "What could be bought"
        lines += ["", f"{which}, the likeliest for the money first"]
        lines += _errands(found.others, coins, paints, MOST_LISTED, width)
    lines += _together(found, width)
    lines += _listed("No price on file for", [(one, "") for one in found.no_price], width)
    unforeseen = [(one.finding, _costs(one.about, coins)) for one in found.not_foreseen]
    lines += _listed("No chance can be foreseen; what would settle it", unforeseen, width)
    lines += ["", *(line for note in (*NOTES, *_rates(found)) for line in paragraph(note, width=width))]
    return "\n".join(lines) + "\n"


def shown_errands(found: ShoppingPlan) -> tuple[Errand, ...]:
    """Return the purchases that the text names: those of the plan, and as many others as it lists."""
    return *found.taken, *found.others[:MOST_LISTED]


def errand_lines(errand: Errand, currency: str, paints: Mapping[str, str], width: int, mark: str = ".") -> list[str]:
    """Return one errand in lines of at most `width` columns."""
    return list(
        _errand(errand, lambda minor: f"{figures.money_text(minor, currency, mark)} {currency}", paints, width)
    )


def next_buy(ledger: "Ledger", findings: Iterable[Finding], mark: str, go_on: Callable[[], None]) -> list[Due]:
    """Return as a loose end what settles most questions for the money, by the prices on file; none where none is.

    What is named is kept, so that it is marked when it is bought.

    Parameters
    ----------
    ledger
        Where prices are on file.
    findings, mark
        Of the whole ledger, and the decimal mark.
    go_on
        Asked before each finding; what it raises ends the work.
    """
    currency = usual_currency(ledger)
    found = plan(findings, last_prices(ledger, currency), 0, go_on)
    if not found.others:
        return []
    best, paints = found.others[0], paint_names(ledger)
    maker = best.answers[0].finding.maker_name
    bought = "; ".join(
        f"{how_many(line.count, str(line.pieces.format))} of "
        f"{'makers not tested with it yet' if line.alike else f'{maker} {paints[line.paint]}'}"
        for line in best.lines
    )
    settles = ", ".join(_answer(answer) for answer in best.answers[:1])
    more = f" and {how_many(left, 'more question')}" if (left := len(best.answers) - 1) else ""
    cost = f"{figures.money_text(best.cost, currency, mark)} {currency}"
    remember(ledger, [best])
    words = f"what to buy next, most settled for the money: {bought}, {cost} by prices on file; {settles}{more}"
    return [Due(LooseEndKind.BUY, words)]


def with_purchase(
    parts: Sequence[Part], ledger: "Ledger", finding: Finding, width: int, mark: str = "."
) -> list[Part]:
    """Return the parts of a Why with what settles it likeliest for the money, behind what would settle it.

    What is named is kept, so that it is marked when it is bought.

    Parameters
    ----------
    parts
        As `parts_of` gives them.
    ledger
        Where prices are on file.
    finding, width, mark
        What is asked about, columns of the longest line, and the decimal mark.
    """
    place = next((number for number, part in enumerate(parts) if part.title == WOULD_SETTLE), None)
    if place is None or not ways(finding):
        return list(parts)
    currency = usual_currency(ledger)
    errand = best_errand(finding, last_prices(ledger, currency))
    if errand:
        remember(ledger, [errand])
    told = (
        errand_lines(errand, currency, paint_names(ledger), width, mark) if errand else ["  No price on file for it."]
    )
    return [*parts[: place + 1], Part(PURCHASE, tuple(line[2:] for line in told), plain=True), *parts[place + 1 :]]


def _rates(found: ShoppingPlan) -> list[str]:
    """Return by which rates prices were converted."""
    lines = (line for errand in (*found.taken, *found.others) for line in errand.lines)
    return [f"Converted by {rate}." for rate in sorted({line.price.rate for line in lines if line.price.rate})]


def _look_first(found: ShoppingPlan, width: int) -> Iterator[str]:
    if not found.look:
        return
    yield "Look first: here, and not looked at for it yet"
    for one in found.look[:MOST_LISTED]:
        told = _stickers([piece.sticker for piece in one.pieces])
        yield from paragraph(f"{about(one.finding)}: {told}", "  ", "    ", width)
    if (left := len(found.look) - MOST_LISTED) > 0:
        yield f"  and {how_many(left, 'more question')}"
    yield ""


def about(finding: Finding) -> str:
    """Return what a question is about: ``MAKER half pan, rewetting difficulty``."""
    return f"{finding.maker_name} {finding.format}, {lower_first(finding.criterion.title)}"


def _errands(
    errands: Sequence[Errand], coins: Coins, paints: Mapping[str, str], most: int | None, width: int
) -> Iterator[str]:
    for errand in errands[:most]:
        yield from _errand(errand, coins, paints, width)
    if most is not None and (left := len(errands) - most) > 0:
        yield f"  and {how_many(left, 'more purchase')}"


def _errand(errand: Errand, coins: Coins, paints: Mapping[str, str], width: int) -> Iterator[str]:
    maker = errand.answers[0].finding.maker_name
    for line in errand.lines:
        yield from paragraph(_line(line, maker, paints, coins), "  ", "    ", width)
    if errand.pieces > 1:
        yield f"    {coins(errand.cost)} together"
    for told, count in Counter(map(_answer, errand.answers)).items():
        several = f" ({how_many(count, 'question')})" if count > 1 else ""
        yield from paragraph(told + several, "    ", "      ", width)


def _line(line: ErrandLine, maker: str, paints: Mapping[str, str], coins: Coins) -> str:
    price, format_ = line.price, line.pieces.format
    if line.alike:
        few = f"the middle of {how_many(line.alike, 'price')} on file" if line.alike > 1 else "as the one on file"
        asked = listed(
            [*line.pieces.makers[:_MOST_MAKERS], *(["others"] if len(line.pieces.makers) > _MOST_MAKERS else [])],
            "or",
        )
        each = "one each of" if line.count > 1 else "of"
        what = f"{how_many(line.count, str(format_))}, {each} {how_many(line.count, 'maker')} not tested with it yet"
        return f"{what[0].upper()}{what[1:]}, as {asked}: about {coins(price.minor)} each, {few}"
    what = f"{how_many(line.count, str(format_))} of {maker} {paints[line.paint]}"
    which = f"of lot {line.pieces.lot}" if line.pieces.lot else f"{'each ' if line.count > 1 else ''}of another lot"
    why = ", to confirm" if line.pieces.confirms else ""
    whence = ", from another seller than those on file" if line.other_seller else ""
    each = " each" if line.count > 1 else ""
    paid = f" ({price.paid})" if price.rate else ""
    told = f"{coins(price.minor)}{paid}{each}, last at {price.seller}, {day(price.bought_on)}"
    return f"{what[0].upper()}{what[1:]}, {which}{why}{whence}: {told}"


def _answer(answer: Answer) -> str:
    return f"{answer.way.chance:.0%} {answer.way.settles}: {lower_first(answer.finding.criterion.title)}".replace(
        "%", " %", 1
    )


def _together(found: ShoppingPlan, width: int) -> Iterator[str]:
    """Yield what is to be unpacked together: only what was unpacked near it is compared with it."""
    for number, one in enumerate(found.together):
        if not number:
            yield ""
            yield f"Unpack together, within {NEAR.days} days: only that is compared"
        here = _stickers([piece.sticker for piece in one.pieces])
        beside = f"with {here}, which are here" if here else "with others' that you buy; none is here"
        if len(one.pieces) == 1:
            beside = f"with {here}, which is here"
        yield from paragraph(f"{one.format}s of {listed(one.makers)}, {beside}", "  ", "    ", width)


def _costs(about_: int | None, coins: Coins) -> str:
    if about_ is None:
        return ""
    return f" About {coins(about_)} by prices on file." if about_ else " Nothing has to be bought."


def _stickers(stickers: Sequence[str]) -> str:
    more = len(stickers) - _MOST_STICKERS
    return listed([*stickers[:_MOST_STICKERS], f"{more} more"] if more > 0 else stickers)


def _listed(head: str, findings: Sequence[tuple[Finding, str]], width: int) -> Iterator[str]:
    if not findings:
        return
    yield ""
    yield head
    for finding, costs in findings[:MOST_LISTED]:
        yield from paragraph(f"{about(finding)}: {lower_first(would_settle(finding))}{costs}", "  ", "    ", width)
    if (left := len(findings) - MOST_LISTED) > 0:
        yield f"  and {how_many(left, 'more question')}"
