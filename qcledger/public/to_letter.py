"""The letter as plain text and as a page that prints on one's own paper."""

import textwrap
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Final

from qcledger.bench.public.answers import MOST_WORDS
from qcledger.findings.words import day, how_many, listed
from qcledger.public.letter import LetterBlock, LetterView
from qcledger.public.to_html import page, pictures_in
from qcledger.public.told import nothing_of
from qcledger.text import harmless, one_line

if TYPE_CHECKING:
    from qcledger.public.photos import ReducedPhoto

MOST_QUOTED: Final = 40
"""Most words that a letter quotes of an earlier question."""
_KEPT: Final = "\u00a0%"
WIDTH: Final = 76
"""Columns of a plain letter."""


def letter_html(view: LetterView, photos: Mapping[str, "ReducedPhoto"]) -> str:
    """Return the letter as one page; `photos` are reduced copies by the SHA-256 that the view names them with."""
    named = [photo for one in view.blocks for photo in one.photos]
    named += [photo for one in view.labels for photo in one.photos]
    fixed = {"NOT_YET": NOT_YET, "SELLERS": SELLERS, "UNKNOWN": UNKNOWN, "NOT_NAMED": NOT_NAMED}
    words = {"answer_words": answer_words, "specimen_words": specimen_words, "before_words": before_words}
    return page(
        "letter.html",
        letter=view,
        photos=pictures_in(named, photos),
        folder="",
        parts_of=parts_of(view),
        fixed={**fixed, **words},
    )


def parts_of(view: LetterView) -> dict[str, tuple[str, ...]]:
    """Return the fixed parts of a letter, each a heading with its paragraphs; the tables stand between them."""
    opening = [
        f"I bought {view.bought} specimens of yours as any customer does: {listed(view.formats)}.{_looked(view)}",
        f"{view.edition} is published; newer words are not printed yet."
        if view.edition
        else "Nothing is printed yet.",
    ]
    if view.is_clear:
        return {"": tuple(opening), "Nothing to answer": (NOTHING,)}
    return {"": tuple(opening), "What I ask": (_questions(view),)}


def _looked(view: LetterView) -> str:
    """Return how many were looked at, where some were not."""
    return f" I looked at {view.looked} of them." if view.looked < view.bought else ""


def before_words(view: LetterView) -> tuple[str, ...]:
    """Return what was asked earlier and what came of it, a paragraph each."""
    return tuple(f'{one.line} "{_begins(one.asked)}"' if one.asked else one.line for one in view.before)


def _begins(text: str) -> str:
    """Return the first words of a question: its maker has the whole."""
    words = one_line(text).split()
    return " ".join(words[:MOST_QUOTED]) + (" ..." if len(words) > MOST_QUOTED else "")


def _questions(view: LetterView) -> str:
    lots = sorted({lot for one in view.blocks for lot in one.lots})
    few = f"lot {listed(lots, 'or')}" if 0 < len(lots) < 4 else "these lots"
    changed = f" Was anything changed since {few}?" if view.blocks else ""
    return f"Is it right? Is the cause known to you?{changed} Please answer by {day(view.answer_by)}."


NOTHING: Final = "I have nothing to ask you: nothing speaks against you that is settled or still to be confirmed."
UNKNOWN: Final = "The cause; later lots; how the post treated them. What is inside was not analysed."
NOT_NAMED: Final = "Other makers are not named here: not each of them has been asked."
SELLERS: Final = "Sellers stand here so that you can find the lots. No page of mine names them."
NOT_YET: Final = "Not settled: this would not be printed. I tell it so that you can look in time."


def answer_words(view: LetterView) -> tuple[str, ...]:
    """Return how an answer is taken."""
    return (
        f'Mark what may be printed "For print"; up to {MOST_WORDS} words are printed uncut. The rest stays private.',
        f'Silence is printed as "no answer by {day(view.answer_by)}".',
    )


def specimen_words(view: LetterView) -> tuple[str, ...]:
    """Return which sealed specimens are kept, and what becomes of what a maker sends."""
    kept = f"Kept sealed: {'; '.join(view.sealed)}." if view.sealed else "No sealed specimen of these lots is kept."
    return (kept, "What you send is looked at and told, and not counted.")


def letter_text(view: LetterView) -> str:
    """Return the letter as plain text of at most `WIDTH` columns, but for words that are longer."""
    parts = (f"To {view.maker}, {day(view.on)}", *_paragraphs(view), f"{view.by}")
    return "\n\n".join(harmless(one) for one in parts if one) + "\n"


def _paragraphs(view: LetterView) -> Iterator[str]:
    for title, told in parts_of(view).items():
        yield from _part(title, *told)
    if view.final:
        yield _title("The words I would print")
        yield from (_said(one) for one in view.final)
    if view.early:
        yield from _part("Still to be confirmed", NOT_YET)
        yield from (_said(one) for one in view.early)
    if view.labels:
        yield _title("A label, word for word")
        yield from (_label(view, place) for place in range(len(view.labels)))
    if view.blocks:
        yield from _part("What it rests on", SELLERS)
        yield from (_rests(one) for one in view.blocks)
        yield from _tried(view)
        yield from _part("What I do not know", UNKNOWN, NOT_NAMED)
    if view.nothing:
        clear = (f"- {one.format}, {one.criterion_title}: {nothing_of(one)}" for one in view.nothing)
        yield from _part("Nothing found in")
        yield "\n".join(_lines(one, "  ") for one in clear)
    if view.before:
        yield from _part("What I asked before", *before_words(view))
    if not view.is_clear:
        yield from _part("Your answer", *answer_words(view))
        yield from _part("Seeing a specimen", *specimen_words(view))


def _tried(view: LetterView) -> Iterator[str]:
    told = [f"{one.title}: {one.tried}." for one in view.blocks if one.tried]
    if told:
        yield from _part("How I tried to break it", "One thing at a time was left out.", *told)


def _said(one: LetterBlock) -> str:
    fault = [f"Faulty here means, on a scale of my own: {one.fault_words}"] if one.fault_words else []
    told = (_lines(line, "    ", "    ") for line in (one.sentence, *fault, *one.further))
    return "\n".join((_lines(one.title), *told))


def _label(view: LetterView, place: int) -> str:
    one = view.labels[place]
    printed = "; ".join(f'"{one_line(words)}"' for words in one.printed)
    told = (
        f"{one.paint}, {one.format}, seen on {day(one.seen_on)}. It prints: {printed}.",
        f"My reference: {' '.join(one.reference)}",
    )
    return "\n".join(_lines(part) for part in told)


def _rests(one: LetterBlock) -> str:
    rows = (
        f"- {each.sticker}: {each.paint}, {each.format}, {each.lot}; {each.seller}, bought {each.bought_on}; "
        f"looked at {each.looked_on}, name {'in view' if each.in_view else 'not in view'}: "
        f"{'faulty, ' if each.faulty else ''}{each.seen or 'no grade'}"
        for each in one.specimens
    )
    count = how_many(len(one.photos), "photo") if one.photos else ""
    photos = [_lines(f"With this letter: {count}.")] if count else []
    return "\n".join([_lines(f"{one.title}:"), *(_lines(row, "  ") for row in rows), *photos])


def _part(title: str, *told: str) -> Iterator[str]:
    if title:
        yield _title(title)
    yield from (_lines(one) for one in told)


def _title(title: str) -> str:
    return title.upper()


def _lines(text: str, indent: str = "", first: str = "") -> str:
    whole = one_line(text).replace(" %", _KEPT)  # no line begins with a sign for percent
    return textwrap.fill(
        whole, WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False,
        break_long_words=False,
    ).replace(_KEPT, " %")  # fmt: skip
