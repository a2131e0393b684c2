"""One edition on its way: what a tester says beside it, what it will say, and writing and recording it together."""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from qcledger.errors import bad
from qcledger.findings import Findings
from qcledger.public import editions, keeping, place
from qcledger.public.from_findings import health_waiting
from qcledger.public.gather import Each, Gathered, LedgerPhotos, gather, rules_of, untold
from qcledger.public.missing import Gap, HeldBack, missing
from qcledger.public.photos import ReducedPhoto
from qcledger.public.to_html import scorecard_html
from qcledger.public.view import Edition, PublicChange
from qcledger.records import Comparison, Photo, Publication, Record
from qcledger.text import clean, harmless, one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class BesideEdition:
    """What a tester has printed with an edition, each empty where nothing is.

    Parameters
    ----------
    address
        Where the newest edition is found.
    disclosed
        Who paid, gifts and ties.
    rule
        What changed in how things are judged.
    limits
        What was not tested and cannot be said.
    reason
        Why it is published although something is missing.
    captions_read
        Whether the captions that go out were read; printed nowhere.
    """

    address: str = ""
    disclosed: str = ""
    rule: str = ""
    limits: str = ""
    reason: str = ""
    captions_read: bool = False

    @classmethod
    def read(cls, *, reason: str | None, captions_read: bool, **typed: str | None) -> "BesideEdition":
        """Return what was typed, by the names of the fields; raises BadInput for a reason that says nothing."""
        why = clean(reason or "")
        if reason is not None and not why:
            raise bad("--all-the-same", reason, "a reason, which is printed")
        texts = {name: text or "" for name, text in typed.items()}
        return cls(
            address=one_line(texts.get("address", "")),
            disclosed=clean(texts.get("disclosed", "")),
            rule=one_line(texts.get("rule", "")),
            limits=clean(texts.get("limits", "")),
            reason=why,
            captions_read=captions_read,
        )


@dataclass(frozen=True)
class PlannedEdition:
    """An edition before it is recorded: what it says, and what is missing."""

    made: Gathered
    now: list[editions.SaidNow]
    gaps: list[Gap]

    @property
    def number(self) -> int:
        """Its number, 1 or more."""
        return self.made.view.edition.number


def plan(
    ledger: "Ledger",
    found: Findings,
    comparison: Comparison | None,
    printed: BesideEdition,
    photos: LedgerPhotos | None = None,
    each: Each[Photo] = untold,
) -> PlannedEdition:
    """Return the edition that would come next.

    Parameters
    ----------
    ledger, found, comparison, photos, each
        As for `gather`.
    printed
        What is printed with it.
    """
    last, today, rules = editions.newest(ledger), ledger.day(), rules_of(ledger)
    edition = Edition(last.number + 1 if last else 1, today, ledger.daybook.letters, printed.address)
    made = gather(ledger, found, edition, comparison, photos, each)
    rule = (PublicChange("How things are judged", f"{editions.RULE}: {printed.rule}", today),) if printed.rule else ()
    view = replace(
        made.view,
        money=replace(made.view.money, disclosed=printed.disclosed),
        methods=replace(made.view.methods, limits=printed.limits),
        changes=(*made.view.changes, *rule),
    )
    waiting = [HeldBack(key.text, title) for key, title in health_waiting(found, rules)]
    gaps = missing(view, waiting, today, captions_read=printed.captions_read)
    if gaps and printed.reason:
        told = tuple(dict.fromkeys(one.printed for one in gaps if one.printed))
        view = replace(view, edition=replace(edition, reasons=(printed.reason,), missing=told))
    return PlannedEdition(replace(made, view=view), editions.said_now(found, rules), gaps)


@dataclass(frozen=True)
class WrittenEdition:
    """An edition as it goes to its place: what was planned, the page's text, and the larger photos beside it."""

    planned: PlannedEdition
    page: Path
    text: str
    photos: Mapping[str, ReducedPhoto]


def written(page: Path, planned: PlannedEdition, each: Each[str] = untold) -> WrittenEdition:
    """Return an edition as it would stand at a place; `each` shows how far its larger photos are, and may end it."""
    made = planned.made
    photos = place.larger(made.files, each)
    text = scorecard_html(made.view, made.copies, place.folder_of(page) if photos else "")
    return WrittenEdition(planned, page, text, photos)


def record(ledger: "Ledger", edition: WrittenEdition) -> None:
    """Write the page, keep it beside the ledger, and record what it says; where that fails both are gone again.

    Raises
    ------
    BadInput
        When the place is taken or cannot be written, the number was given meanwhile, or the ledger refuses the rows.
    """
    view = edition.planned.made.view
    last = editions.newest(ledger)
    if last is not None and last.number >= view.edition.number:
        raise bad("edition", str(view.edition.number), f"{last.number + 1}: another one was recorded meanwhile")
    content = harmless(edition.text).encode()
    sha256 = hashlib.sha256(content).hexdigest()
    rows = editions.rows_of(view, edition.planned.now, view.changes, sha256, ledger.new_id)
    ledger.check(rows)
    place.write(edition.page, edition.text, edition.photos)
    try:
        keeping.keep(ledger, content)
        ledger.append(rows)
    except BaseException:
        if not _stands(ledger, rows):
            keeping.forget(ledger, sha256)
            place.take_back(edition.page)
        raise


def _stands(ledger: "Ledger", rows: Iterable[Record]) -> bool:
    """Say whether an edition is recorded: what stopped the work may have come after that."""
    mine = {one.id for one in rows if isinstance(one, Publication)}
    return any(one.id in mine for one in ledger.rows(Publication))
