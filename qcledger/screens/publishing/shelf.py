"""What the page Publish lists and asks the desk for; what takes a ledger runs in a thread of the desk."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Final

from qcledger.public.missing import Gap, GapKind
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.bench.public.asking import AskingOffer
    from qcledger.ledger import Ledger
    from qcledger.public.publishing import BesideEdition, PlannedEdition, WrittenEdition
    from qcledger.records import Publication
    from qcledger.report.kept import KeptFindings


class WithEdition(StrEnum):
    """What a tester types to be printed with an edition; each is kept as a draft until it is published."""

    DISCLOSED = "money and ties"
    LIMITS = "not tested"
    ADDRESS = "address"
    RULE = "rule changed"


ASKED: Final[Mapping[WithEdition, str]] = {
    WithEdition.DISCLOSED: "Who paid; gifts, sponsorship, affiliate income, or that there are none",
    WithEdition.LIMITS: "What was not tested and cannot be said",
    WithEdition.ADDRESS: "Where the newest edition is found",
    WithEdition.RULE: "What changed in how things are judged; empty for nothing",
}
"""What is asked for, above the line in which it is typed."""
GIVEN: Final[Mapping[GapKind, WithEdition]] = {
    GapKind.DISCLOSED: WithEdition.DISCLOSED,
    GapKind.LIMITS: WithEdition.LIMITS,
    GapKind.ADDRESS: WithEdition.ADDRESS,
}
"""What is missing that a line of words mends."""


class ShelfKind(StrEnum):
    """What a line of the page is."""

    GAP = "missing"
    GIVEN = "printed with it"
    CHANGES = "changes"
    EDITION = "edition"


@dataclass(frozen=True, slots=True)
class ShelfLine:
    """One line: what it is, a word or two for it, its words, and what its key needs.

    `gap` is what is missing, `given` what is printed with the edition, `more` what may be read.
    """

    kind: ShelfKind
    title: str
    words: str
    gap: Gap | None = None
    given: WithEdition | None = None
    more: tuple[str, ...] = ()


@dataclass(frozen=True)
class BeforeEdition:
    """The page as it stands: its lines, the next edition's number, its gaps and captions, and what is not worked out.

    `open` counts the answers of the pooled model that are still missing, `printed` what goes with the edition.
    """

    lines: tuple[ShelfLine, ...]
    number: int
    gaps: tuple[Gap, ...]
    captions: tuple[str, ...]
    said: int
    photos: int
    open: int
    printed: Mapping[WithEdition, str]


def draft_name(given: WithEdition) -> str:
    """Return the name under which something that goes with an edition is kept until that is published."""
    return f"publish {given.name.casefold()}"


CAPTIONS_READ: Final = "publish captions"
"""The name of the draft that says which captions were read."""


def mark_of(captions: tuple[str, ...]) -> str:
    """Return what says that these captions were read: others want another look."""
    return hashlib.sha256("\n".join(captions).encode()).hexdigest()


def look(kept: "KeptFindings", typed: Mapping[str, str], stop: Event, ledger: "Ledger") -> BeforeEdition:
    """Return the page as the ledger stands; raises `Stopped` soon after `stop` was set.

    Parameters
    ----------
    kept
        Findings that are kept from before.
    typed
        What was typed to go with the edition, by the names of its drafts.
    stop
        Set from elsewhere, it ends the work.
    ledger
        An open one.
    """
    from qcledger.public import editions, missing
    from qcledger.public.gather import NamedPhotos
    from qcledger.records import Publication

    reading = kept.reading(ledger, None, stop)
    every = sorted(ledger.rows(Publication), key=lambda one: one.number, reverse=True)
    given = printed_with(ledger, typed)
    planned = _planned(kept, given, typed, stop, ledger, NamedPhotos(ledger))
    view, last = planned.made.view, editions.newest(ledger)
    captions = tuple(missing.captions(view))
    lines = (
        *_gap_lines(planned.gaps),
        *_given_lines(given),
        *_change_lines(planned, last),
        *(_edition_line(ledger, one) for one in every),
    )
    return BeforeEdition(
        lines, planned.number, tuple(planned.gaps), captions, len(planned.now), len(view.photos), reading.open, given
    )


def printed_with(ledger: "Ledger", typed: Mapping[str, str]) -> dict[WithEdition, str]:
    """Return what goes with the next edition: what was typed, else what the newest one said, but for a rule."""
    from qcledger.public import editions
    from qcledger.records import Statement

    last = editions.newest(ledger)
    before: dict[WithEdition, str] = {}
    if last is not None:
        rows = ledger.rows(Statement, publication=last.id)
        limits = next((one.sentence for one in rows if one.standing == editions.LIMITS), "")
        before = {
            WithEdition.DISCLOSED: last.disclosed,
            WithEdition.ADDRESS: last.address or "",
            WithEdition.LIMITS: limits,
        }
    return {one: typed.get(draft_name(one), "") or before.get(one, "") for one in WithEdition}


def _planned(
    kept: "KeptFindings",
    given: Mapping[WithEdition, str],
    typed: Mapping[str, str],
    stop: Event,
    ledger: "Ledger",
    photos: object = None,
    reason: str = "",
) -> "PlannedEdition":
    from qcledger.errors import bad
    from qcledger.public import missing, publishing
    from qcledger.public.gather import LedgerPhotos
    from qcledger.records import Comparison

    found = kept.reading(ledger, None, stop).whole
    if not any(one.counts.tested for one in found.findings):
        raise bad("publish", "nothing tested", "a ledger in which something was judged on closed sheets")
    comparisons = ledger.rows(Comparison)
    one = comparisons[0] if len(comparisons) == 1 else None
    beside = _beside(given, reason)
    assert photos is None or isinstance(photos, LedgerPhotos)
    planned = publishing.plan(ledger, found, one, beside, photos)
    captions = tuple(missing.captions(planned.made.view))
    if captions and typed.get(CAPTIONS_READ) == mark_of(captions):
        gaps = [gap for gap in planned.gaps if gap.kind is not GapKind.CAPTIONS]
        return replace(planned, gaps=gaps)
    return planned


def _beside(given: Mapping[WithEdition, str], reason: str) -> "BesideEdition":
    from qcledger.public.publishing import BesideEdition

    return BesideEdition.read(
        reason=reason or None,
        captions_read=False,
        address=given[WithEdition.ADDRESS],
        disclosed=given[WithEdition.DISCLOSED],
        rule=given[WithEdition.RULE],
        limits=given[WithEdition.LIMITS],
    )


def _gap_lines(gaps: list[Gap]) -> Iterator[ShelfLine]:
    """Yield what is missing, makers and their matters in one line each."""
    by_maker: dict[tuple[GapKind, str], list[Gap]] = {}
    for gap in gaps:
        by_maker.setdefault((gap.kind, gap.subject or gap.problem.where), []).append(gap)
    for (kind, _), some in by_maker.items():
        yield ShelfLine(ShelfKind.GAP, kind, _gap_words(some), gap=some[0])


def _gap_words(some: list[Gap]) -> str:
    first = some[0].problem
    if some[0].kind in (GapKind.ASK, GapKind.ANSWER):
        about = "; ".join(gap.problem.where.partition(", ")[2] for gap in some)
        return f"{some[0].subject}: {first.found}, about {about}"
    if some[0].kind in (GapKind.DISCLOSED, GapKind.LIMITS, GapKind.ADDRESS):
        return f"missing: {first.allowed}"
    return f"{first.found} to read: they go out as typed" if some[0].kind is GapKind.CAPTIONS else first.found


def _given_lines(given: Mapping[WithEdition, str]) -> Iterator[ShelfLine]:
    for one, text in given.items():
        if text:
            yield ShelfLine(ShelfKind.GIVEN, one, one_line(text), given=one)
        elif one is WithEdition.RULE:
            yield ShelfLine(ShelfKind.GIVEN, one, "nothing", given=one)


def _change_lines(planned: "PlannedEdition", last: "Publication | None") -> Iterator[ShelfLine]:
    from qcledger.public.told import change

    if last is not None:
        told = tuple(change(one) for one in planned.made.view.changes)
        words = f"{len(told)} since edition {last.number}" if told else f"none since edition {last.number}"
        yield ShelfLine(ShelfKind.CHANGES, "changes", words, more=told or ("Nothing changed.",))


def _edition_line(ledger: "Ledger", one: "Publication") -> ShelfLine:
    from qcledger.public import editions, keeping
    from qcledger.records import Statement

    rows = ledger.rows(Statement, publication=one.id)
    page = keeping.path_of(ledger, one.sha256) if one.sha256 else None
    said = [row for row in rows if row.standing == editions.SETTLED]
    told = (
        f"By {one.by}, {one.on}; newest at {one.address or 'no address'}.",
        *(f"Published although something was missing: {one_line(one.reason)}" for _ in range(bool(one.reason))),
        *(one_line(row.sentence) for row in rows if row.standing == editions.MISSING),
        f"SHA-256 of the page: {one.sha256 or 'not kept'}",
        f"Kept as it went out: {page}" if page is not None and page.exists() else "The page is not kept here.",
        *(one_line(row.sentence) for row in said),
    )
    where = f", {one.address}" if one.address else ""
    return ShelfLine(ShelfKind.EDITION, f"edition {one.number}", f"{one.on}, {len(said)} settled{where}", more=told)


# What its keys do


def offer_of(kept: "KeptFindings", maker: str, ledger: "Ledger") -> "AskingOffer":
    """Return what a maker, by its name, may be asked about."""
    from qcledger.bench.public.makers import maker_called
    from qcledger.report.said import offer

    found = kept.reading(ledger, None).whole.only(maker=maker_called(ledger, maker, "maker").id)
    return offer(found.findings, found.label_facts)


def awaited_of(maker: str, ledger: "Ledger") -> str:
    """Return the id of the oldest awaited question to a maker, by its name; raises BadInput without one."""
    from qcledger.bench.public.answers import letters
    from qcledger.bench.public.makers import maker_called
    from qcledger.errors import bad

    members = maker_called(ledger, maker, "maker").members
    for one in letters(ledger):
        if one.awaited and one.maker_id in members:
            return one.id
    raise bad("maker", maker, "a maker whose answer is awaited")


def session_id(code: str, ledger: "Ledger") -> str:
    """Return the id of a session by its code."""
    from qcledger.bench.named import session_of

    return session_of(ledger, code).id


Told = Callable[[int], None]
"""Takes how many photos were reduced so far."""


def _counting(stop: Event, told: Told) -> Callable[[], None]:
    from qcledger.report.kept import go_on

    count = 0

    def going_on() -> None:
        nonlocal count
        go_on(stop)
        count += 1
        told(count)

    return going_on


def write_draft(
    kept: "KeptFindings", page: Path, typed: Mapping[str, str], stop: Event, told: Told, ledger: "Ledger"
) -> None:
    """Write a draft of the page to a new file; nothing is recorded."""
    from qcledger.public import place
    from qcledger.public.gather import LedgerPhotos, heard
    from qcledger.public.to_html import scorecard_html

    place.refuse_taken(page, force=False)
    going_on = _counting(stop, told)
    given = printed_with(ledger, typed)
    planned = _planned(kept, given, typed, stop, ledger, LedgerPhotos(ledger, going_on))
    view = planned.made.view
    view = replace(view, edition=replace(view.edition, number=0, reasons=(), missing=()))
    photos = place.larger(planned.made.files, heard(going_on))
    text = scorecard_html(view, planned.made.copies, place.folder_of(page) if photos else "")
    place.write(page, text, photos)


def write_edition(
    kept: "KeptFindings",
    page: Path,
    typed: Mapping[str, str],
    reason: str,
    stop: Event,
    told: Told,
    ledger: "Ledger",
) -> "WrittenEdition":
    """Return the next edition as it will stand at a place.

    Raises
    ------
    BadInput
        With everything that is missing, where no reason is given, or where the place is taken.
    """
    from qcledger.errors import BadInput
    from qcledger.public import place, publishing
    from qcledger.public.gather import LedgerPhotos, heard

    place.refuse_taken(page, force=False)
    going_on = _counting(stop, told)
    given = printed_with(ledger, typed)
    planned = _planned(kept, given, typed, stop, ledger, LedgerPhotos(ledger, going_on), reason)
    if planned.gaps and not reason:
        raise BadInput([gap.problem for gap in planned.gaps])
    return publishing.written(page, planned, heard(going_on))
