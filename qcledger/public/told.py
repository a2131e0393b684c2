"""Parts of the view as every face tells them: blocks of text, counts and shares, and lists A to Z."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import inf
from typing import Final

from qcledger.findings.checks import percent
from qcledger.findings.prices import Sold
from qcledger.findings.wording_of_counts import WHERE
from qcledger.findings.words import between, day, how_many, listed, lower_first, out_of
from qcledger.public.view import (
    IN_VIEW,
    PriceSpan,
    PublicCell,
    PublicChange,
    PublicStanding,
    PublicStatement,
    PublicView,
    Spent,
    WayOfTesting,
)
from qcledger.text import same_name
from qcledger.thing import worded
from qcledger.vocab import CURRENCY_DIGITS, Extent

MOST_WORDS: Final = 40
"""Most words of a block of text, where its sentences allow that."""
NOT_TESTED: Final = "We have not tested this one. That says nothing about it, good or bad."
OPEN: Final = "Looked at, no judgement published."
OPEN_WHY: Final = "Mostly too few were looked at. That says nothing about them, good or bad, so no count stands here."
OPEN_HERE: Final = "Else looked at, no judgement published"
DRAFT: Final = "Draft"
READERS: Final = (
    "Seen it too? Write down maker, colour, format, batch code, the shop and what you saw; no names. "
    "Such notes are counted apart: who writes chose to, so they are no sample."
)
"""A form of words for readers' notes."""
OF_CODE: Final = "What one lot, parcel or specimen shows is not said of its maker. Compare the code with yours."
MOST_AT_A_GLANCE: Final = 20
"""Most settled things that a page names before its sections; of more it tells the number."""
NOT_NAMED: Final = "What is not named here: nothing found, or still open, and open says nothing, good or bad."
NOTHING_HERE: Final = f"Nothing found {WHERE} of this maker"
PRICES: Final = (
    "What we paid in shops, discounts taken off, postage left out. Only what is alike in format, size, currency and "
    "tax stands together, makers A to Z."
)
PRICES_MIND: Final = (
    "What it is made of differs in price, too. Millilitres do not compare over formats: some are sold wet, some dry. "
    "A set's price is shared among its pieces by millilitres."
)
CAUTION: Final = "What we say is about what we bought and looked at. It names no cause and no motive."

_A_FORMAT: Final = "format, "
"""Begins the subject of what is common to a format; a heading names the format alone."""
_ENDS: Final = re.compile(r"(?<=[.!?])\s+(?=[A-Z0-9])")

SECTIONS: Final[Mapping[str, str]] = {
    "yours": "Have we tested yours?",
    "codes": "Look at the code first",
    "makers": "Settled about a maker",
    "labels": "A label, word for word",
    "common": "Common to several makers",
    "nothing": "Nothing found",
    "open": "Still open",
    "each": "Maker by maker",
    "prices": "What they cost",
    "methods": "What we did",
    "money": "Money and gifts",
    "changes": "Changed since the edition before",
    "lots": "Everything we tested, lot by lot",
    "check": "To check that nothing was altered",
}
"""The sections by their anchors, in order."""


@dataclass(frozen=True, slots=True)
class OpenLine:
    """On which criteria one maker's format was looked at and no judgement is published; titles A to Z."""

    format: str
    titles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OpenOfMaker:
    """What is open of one maker, by format."""

    maker: str
    lines: tuple[OpenLine, ...]


@dataclass(frozen=True, slots=True)
class NothingFound:
    """On one criterion the cells in which none was found."""

    title: str
    cells: tuple[PublicCell, ...]


@dataclass(frozen=True, slots=True)
class Glance:
    """One settled thing in a line: its anchor, whose it is (empty where none is blamed), what, and how often.

    A label has no rate: there `count` is empty, and no maker is named beside none.
    """

    anchor: str
    maker: str
    what: str
    count: str


@dataclass(frozen=True, slots=True)
class PricesAlike:
    """Prices that may be compared: what they have in common, and of each maker the span of what it cost, A to Z."""

    alike: str
    spans: tuple[tuple[str, PriceSpan], ...]

    @property
    def times(self) -> str:
        """How many times the lowest price the highest is; empty where all are one, and where something was free."""
        low, high = min(one.low_minor for _, one in self.spans), max(one.high_minor for _, one in self.spans)
        return f"The highest price here is {high / low:.2f} times the lowest." if 0 < low < high else ""


def prices_alike(view: PublicView) -> list[PricesAlike]:
    """Return what was paid, like beside like: by format A to Z, then by size, currency, tax and single or set."""
    found: dict[tuple[str, float, str, bool, str], list[tuple[str, PriceSpan]]] = {}
    for maker in view.makers:
        for one in maker.prices:
            size = float(one.nominal.split()[0]) if one.nominal else inf
            key = (same_name(one.format), size, one.currency, one.sold != Sold.SINGLE, one.tax)
            found.setdefault(key, []).append((maker.name, one))
    return [PricesAlike(alike(found[key][0][1]), tuple(found[key])) for key in sorted(found)]


def alike(one: PriceSpan) -> str:
    """Return what prices that may be compared have in common: ``half pan, 2 ml, EUR, with tax``."""
    sold = one.sold if one.sold != Sold.SINGLE else ""
    return ", ".join(
        part for part in (one.format, one.nominal or "no size said", sold, one.currency, one.tax) if part
    )


def paid(minor: int, digits: int) -> str:
    """Return coins in their currency, with as many decimals as that has."""
    return f"{Decimal(minor).scaleb(-digits):,.{digits}f}"


def each_paid(one: PriceSpan) -> str:
    """Return the price of one specimen, lowest to highest."""
    return _from_to(one.low_minor, one.high_minor, one.minor_digits)


def ml_paid(one: PriceSpan) -> str:
    """Return the price of a nominal millilitre, lowest to highest; empty without a size."""
    if one.low_per_ml_minor is None or one.high_per_ml_minor is None:
        return ""
    return _from_to(one.low_per_ml_minor, one.high_per_ml_minor, one.minor_digits)


def _from_to(low: int, high: int, digits: int) -> str:
    return paid(low, digits) if low == high else f"{paid(low, digits)} to {paid(high, digits)}"


def spent(one: Spent) -> str:
    """Return what was spent in one currency."""
    return f"{one.amount:,.{CURRENCY_DIGITS.get(one.currency, 2)}f} {one.currency}"


def blocks(text: str, most: int = MOST_WORDS) -> list[str]:
    """Return a text in blocks of whole sentences, each of at most `most` words where its sentences allow that."""
    found: list[str] = []
    for one in _ENDS.split(text.strip()):
        if found and len(f"{found[-1]} {one}".split()) <= most:
            found[-1] = f"{found[-1]} {one}"
        elif one:
            found.append(one)
    return found


def counted(one: PublicStatement) -> str:
    """Return how many of a statement's specimens were faulty."""
    return out_of(one.faulty, one.tested)


def at_a_glance(view: PublicView) -> list[Glance]:
    """Return what is settled and which labels are quoted, a line each, in order; none where many are."""
    of_makers = [
        Glance(one.id, one.maker or "", heading(one), f"{counted(one)} faulty, {WHERE}")
        for one in (*view.of_codes, *view.of_makers)
    ]
    labels = [Glance(one.id, "", f"A label, word for word: {one.paint}, {one.format}", "") for one in view.labels]
    common = [Glance(one.id, "", heading(one), f"{counted(one)} faulty, at several makers") for one in view.common]
    found = [*of_makers, *labels, *common]
    return found if len(found) <= MOST_AT_A_GLANCE else []


def allows(one: PublicStatement) -> str:
    """Return the share of faulty specimens that a statement's counts allow; empty where its sentence says it."""
    if one.low is None or one.high is None:
        return ""
    return f"The share may be {percent(one.low)} to {percent(one.high)} (95 %, lots allowed for)."


def nothing_of(one: PublicCell) -> str:
    """Return that none was found of how many, in what was tested, and the share that may be faulty even so."""
    return f"none of {one.tested}, {WHERE} (up to {percent(one.still_allowed or 0)})"


def heading(one: PublicStatement) -> str:
    """Return what a statement is about, after its maker's name: the criterion, and whatever is narrower or wider."""
    title = one.criterion_title if one.is_common else lower_first(one.criterion_title)
    if one.extent is Extent.FORMAT:
        return f"{title}, {one.subject.removeprefix(_A_FORMAT)}s"
    return title if one.extent is Extent.MAKER else f"{title}, {one.subject}"


def apart(one: PublicStatement | PublicCell) -> str:
    """Return what was counted apart, in words; empty for nothing."""
    told = [
        how_many(count, word)
        for count, word in ((one.gifts, "gift"), (one.older_notes, "older note"), (one.reader_notes, "reader's note"))
        if count
    ]
    return f"Counted apart: {listed(told)}." if told else ""


def titles(some: Iterable[str]) -> str:
    """Return titles of criteria as they stand within a sentence."""
    return listed([lower_first(one) for one in some])


def change(one: PublicChange) -> str:
    """Return what changed since the edition before."""
    before = f' Before: "{one.before}"' if one.before else ""
    return " ".join(part for part in (f"{one.about}: {one.how}.{before}", one.reason) if part)


def span(first: date | None, last: date | None) -> str:
    """Return two days as a span; empty without days."""
    return between(first, last) if first and last else ""


def nothing_found(view: PublicView) -> list[NothingFound]:
    """Return where none was found, by criterion, A to Z."""
    cells = view.standing(PublicStanding.NONE_FOUND)
    titles = sorted({one.criterion_title for one in cells}, key=same_name)
    return [NothingFound(title, tuple(one for one in cells if one.criterion_title == title)) for title in titles]


def still_open(view: PublicView) -> list[OpenOfMaker]:
    """Return what is open, by maker and format, A to Z; however often it was looked at, it reads alike."""
    cells = view.standing(PublicStanding.OPEN)
    return [_open_of(maker, [one for one in cells if one.maker == maker]) for maker in _names(cells)]


def _open_of(maker: str, cells: list[PublicCell]) -> OpenOfMaker:
    formats = sorted({one.format for one in cells})
    return OpenOfMaker(
        maker, tuple(OpenLine(each, tuple(_titles(one for one in cells if one.format == each))) for each in formats)
    )


def _titles(cells: Iterable[PublicCell]) -> list[str]:
    return sorted({one.criterion_title for one in cells}, key=same_name)


def _names(cells: Iterable[PublicCell]) -> list[str]:
    return sorted({one.maker for one in cells}, key=same_name)


def in_short(view: PublicView) -> str:
    """Return in a line what the view covers."""
    money, done = view.money, view.methods
    gifts = f", {how_many(money.gifts, 'gift')} not counted" if money.gifts else ""
    bought = f"{money.bought} bought in shops{gifts}, {span(money.bought_first, money.bought_last)}"
    testers = f"{how_many(done.testers, 'tester')}, {how_many(len(done.sessions), 'sheet')}"
    return f"{bought}; {testers}. {blinded(view)}".rstrip()


def blinded(view: PublicView) -> str:
    """Return in a sentence whether the maker's name was in view; empty where nothing was tested."""
    ways = view.methods.ways
    seen = [one for one in ways if one.how in IN_VIEW]
    if not ways:
        return ""
    if not seen:
        return worded("The tester did not see whose paint was graded.")
    if len(seen) == len(ways):
        return worded("The tester saw whose paint was graded.")
    return "Some was graded under codes, some with the maker's name in view; each statement says which."


def way(one: WayOfTesting) -> str:
    """Return one way of judging, with its sheets and what was judged so."""
    on = f"{how_many(one.sheets, 'sheet')} {one.how}" if one.sheets else one.how
    return f"{on[:1].upper()}{on[1:]}: {listed([lower_first(title) for title in one.criteria])}."


def judged(one: PublicStatement) -> str:
    """Return how a statement's specimens were judged; empty where nothing is known of it."""
    return f"Judged {listed(one.judged)}." if one.judged else ""


def edition_line(view: PublicView) -> str:
    """Return which edition it is, of which day."""
    one = view.edition
    where = f"; newest at {one.address}" if one.address else ""
    return f"{one.words}, {day(one.on)}{where}"
