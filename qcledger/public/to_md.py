"""The view as Markdown, in the outline of the page; what comes from a ledger is text and marks up nothing."""

import re
from collections.abc import Iterator
from typing import Final

from qcledger.findings.words import day, how_many, listed, out_of
from qcledger.public import told
from qcledger.public.view import PublicAsking, PublicLot, PublicMaker, PublicStatement, PublicView
from qcledger.text import harmless, one_line

_MARKS: Final = re.compile(r"([\\`*_\[\]<>|&~$@]|(?<=www)\.|:(?=//))")
_FIRST: Final = re.compile(r"^(\d*)([-+=#.)])")
"""What begins a list, a heading or a line under one where it stands first."""


def as_text(text: str) -> str:
    r"""Return a text on one line in which nothing marks up or links: ``*`` becomes ``\*``."""
    return _FIRST.sub(r"\1\\\2", _MARKS.sub(r"\\\1", one_line(text)))


def scorecard_md(view: PublicView) -> str:
    """Return the scorecard as Markdown."""
    return harmless("\n\n".join(part for part in _parts(view) if part)) + "\n"


def _parts(view: PublicView) -> Iterator[str]:
    if view.edition.is_draft:
        yield "**DRAFT. This is not published and not recorded.**"
    yield f"# {as_text(view.question or view.title)}"
    yield as_text(view.title) if view.question else ""
    yield f"{told.in_short(view)} No total, no ranking. Within a section makers stand A to Z. {told.CAUTION}"
    yield "\n".join(f"- {_glance(one)}" for one in told.at_a_glance(view))
    yield as_text(told.edition_line(view))
    yield from (f"Published although something was missing: {as_text(one)}" for one in view.edition.reasons)
    yield "\n".join(f"- {as_text(one)}" for one in view.edition.missing)
    for anchor, title in told.SECTIONS.items():
        body = list(_SECTIONS[anchor](view))
        if body:
            yield f"## {title}"
            yield from body


def _glance(one: told.Glance) -> str:
    what = f"{one.maker}: {one.what}" if one.maker else one.what
    return as_text(f"{what}: {one.count}." if one.count else what)


def _yours(_: PublicView) -> Iterator[str]:
    yield f"Look for it in the table below, by its batch code: {told.SECTIONS['lots'].lower()}."
    yield told.READERS


def _lots(view: PublicView) -> Iterator[str]:
    yield told.NOT_TESTED.replace("this one", "what is not here")
    rows = ["| what | batch code | what we can say |", "| --- | --- | --- |", *map(_lot_row, view.lots)]
    yield "\n".join(rows)


def _lot_row(lot: PublicLot) -> str:
    said = [f"{lot.tested} tested."]
    for one in lot.statements:
        counted = "common to several makers" if one.faulty is None else out_of(one.faulty, one.tested or 0)
        said.append(f"{as_text(one.title)}: {counted}.")
    if lot.none_found:
        said.append(f"{told.NOTHING_HERE}: {as_text(told.titles(lot.none_found))}.")
    if lot.open:
        said.append(f"{told.OPEN_HERE}.")
    what = f"{as_text(lot.maker)} {as_text(lot.paint)}, {as_text(lot.format)}"
    return f"| {what} | {as_text(lot.code) or 'no code found'} | {' '.join(said)} |"


def _codes(view: PublicView) -> Iterator[str]:
    yield told.OF_CODE
    for one in view.of_codes:
        yield from _statement(one)
    if not view.of_codes:
        yield "Nothing is settled about a single lot."


def _makers(view: PublicView) -> Iterator[str]:
    for one in view.of_makers:
        yield from _statement(one)
    if not view.of_makers:
        yield "Nothing is settled about a maker."


def _common(view: PublicView) -> Iterator[str]:
    yield "What most makers have in common is blamed on none of them."
    for one in view.common:
        yield from _statement(one)
    if not view.common:
        yield "Nothing of this kind is settled."


def _statement(one: PublicStatement) -> Iterator[str]:
    yield f"### {as_text(f'{one.maker}: {told.heading(one)}' if one.maker else told.heading(one))}"
    yield f"{told.counted(one)} faulty. {told.allows(one)}".strip()
    yield as_text(told.judged(one))
    if one.fault_words:
        yield f"> Faulty here means, on our own scale: {as_text(one.fault_words)}"
    yield from map(as_text, told.blocks(one.sentence))
    if one.further:
        yield "\n".join(f"- {as_text(line)}" for line in one.further)
    yield from _asked(one.asked)
    yield from map(as_text, one.changed)
    yield told.apart(one)
    if one.held_up:
        yield as_text(f"One thing at a time was left out: {one.held_up}.")


def _asked(asked: tuple[PublicAsking, ...]) -> Iterator[str]:
    for one in asked:
        yield as_text(one.line)
        if one.answer:
            lines = "\n".join(f"> {as_text(line)}".rstrip() for line in one.answer.split("\n"))
            yield f"{lines}\n>\n> {as_text(one.maker)}, for print, uncut"


def _labels(view: PublicView) -> Iterator[str]:
    for one in view.labels:
        yield f"### {as_text(f'{one.maker} {one.paint}, {one.format}')}"
        yield f"Seen on {day(one.seen_on)}. It prints:"
        yield "\n".join(f"- {as_text(words)}" for words in one.printed)
        yield "Our reference:"
        yield "\n".join(f"- {as_text(words)}" for words in one.reference)
        yield from _asked(one.asked)
    if not view.labels:
        yield "No label is set down here."


def _nothing(view: PublicView) -> Iterator[str]:
    for one in told.nothing_found(view):
        yield f"### {as_text(one.title)}"
        yield "\n".join(
            f"- {as_text(f'{cell.maker}, {cell.format}')}: {told.nothing_of(cell)}. {told.apart(cell)}".rstrip()
            for cell in one.cells
        )
    if not told.nothing_found(view):
        yield "Of nothing we looked for can that be said yet."


def _open(view: PublicView) -> Iterator[str]:
    yield f"{told.OPEN} {told.OPEN_WHY}"
    for one in told.still_open(view):
        yield f"### {as_text(one.maker)}"
        for line in one.lines:
            yield f"{as_text(line.format)}: {as_text(told.titles(line.titles))}."


def _each(view: PublicView) -> Iterator[str]:
    for one in view.makers:
        yield f"### {as_text(one.name)}"
        yield f"{one.tested} looked at: {as_text(listed(one.formats))}."
        own = (said for said in view.statements if said.maker == one.name)
        yield "\n".join(f"- {as_text(_named(said))}: {told.counted(said)}" for said in own)
        yield from _asked(one.asked)
        yield _prices(one)


def _prices(one: PublicMaker) -> str:
    if not one.prices:
        return ""
    rows = (f"| {as_text(told.alike(paid))} | {paid.count} | {told.each_paid(paid)} |" for paid in one.prices)
    return "\n".join(["| what we paid | specimens | price each |", "| --- | --- | --- |", *rows])


def _prices_alike(view: PublicView) -> Iterator[str]:
    tables = told.prices_alike(view)
    if not tables:
        return
    yield told.PRICES
    for table in tables:
        yield f"### {as_text(table.alike)}"
        head = ["| maker | specimens | price each | for a nominal ml |", "| --- | --- | --- | --- |"]
        rows = (
            f"| {as_text(maker)} | {one.count} | {told.each_paid(one)} | {told.ml_paid(one)} |"
            for maker, one in table.spans
        )
        yield "\n".join([*head, *rows])
        yield table.times
    yield told.PRICES_MIND


def _methods(view: PublicView) -> Iterator[str]:
    done = view.methods
    days = told.span(done.tested_first, done.tested_last)
    yield as_text(f"{how_many(len(done.sessions), 'sheet')} of work counted ({listed(done.sessions)}), {days}.")
    if done.ways:
        yield "\n".join(f"- {as_text(told.way(one))}" for one in done.ways)
    yield as_text(f"What we did not test: {done.limits}") if done.limits else ""
    yield as_text(f"Paper: {done.paper}.") if done.paper else ""
    yield as_text(f"Left out as void: {listed(done.void)}.") if done.void else ""
    yield from (as_text(f"Under question: {one}. Nobody has decided on it yet.") for one in done.in_question)
    yield as_text(done.repeats)
    yield as_text(f"Scales of our own: {listed(done.rubrics)}. A grade runs from 0, none, to 5, worst.")


def _money(view: PublicView) -> Iterator[str]:
    money = view.money
    spent = listed([told.spent(one) for one in money.spent])
    paid = f" {spent} were paid, postage left out." if spent else ""
    yield as_text(f"{money.bought} specimens were bought from {how_many(money.sellers, 'seller')}.{paid}")
    yield f"{how_many(money.gifts, 'gift')} looked at, told apart and not counted."
    yield as_text(money.disclosed)


def _changes(view: PublicView) -> Iterator[str]:
    lines = [f"- {day(one.on)}: {as_text(told.change(one))}" for one in view.changes]
    if lines:
        yield "\n".join(lines)


def _check(view: PublicView) -> Iterator[str]:
    yield "\n".join(f"- {as_text(book)}, {number} entries, {hash_}" for book, number, hash_ in view.closing)


_SECTIONS: Final = {
    "yours": _yours, "codes": _codes, "makers": _makers, "labels": _labels, "common": _common, "nothing": _nothing,
    "open": _open, "each": _each, "prices": _prices_alike, "methods": _methods, "money": _money,
    "changes": _changes, "lots": _lots, "check": _check,
}  # fmt: skip


def _named(said: PublicStatement) -> str:
    """Return what a statement is about beside its maker's name: what is one lot's or specimen's is told as that."""
    narrow = said.maker is None or said.maker not in said.subject
    return f"{said.criterion_title}, {said.subject}" if narrow else said.criterion_title
