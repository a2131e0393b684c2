"""What a picture may be about: what is settled or common, and where none was found; all of it read from the view."""

from dataclasses import dataclass, replace

from qcledger.findings.checks import percent
from qcledger.findings.wording_of_counts import WHERE
from qcledger.findings.words import day, how_many, lower_first, out_of
from qcledger.public import told
from qcledger.public.anchors import anchors, slug
from qcledger.public.view import DrawnLot, Edition, PublicCell, PublicStatement
from qcledger.text import one_line
from qcledger.thing import worded


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictured:
    """One thing that a picture says.

    Parameters
    ----------
    id
        Its anchor: names the files.
    head
        Whom and what it is about.
    count
        How many of how many, in what was tested.
    limit
        What that leaves open, and on which edition's page it stands.
    lots
        Its specimens in their lots.
    sentence
        What is said, word for word, or empty.
    fault_words
        The words of the scale from which on it is a fault, or empty.
    asked
        When the maker was asked and what came of it, or empty.
    """

    id: str
    head: str
    count: str
    limit: str
    lots: tuple[DrawnLot, ...]
    sentence: str = ""
    fault_words: str = ""
    asked: str = ""

    @property
    def meant(self) -> tuple[DrawnLot, ...]:
        """The lots that it is about."""
        return tuple(one for one in self.lots if one.meant)

    @property
    def others(self) -> tuple[DrawnLot, ...]:
        """The lots that it is held against."""
        return tuple(one for one in self.lots if not one.meant)

    @property
    def drawing_words(self) -> str:
        """Return in words what is drawn."""
        against = f" Held against other lots. {_counted(self.others)}." if self.others else ""
        return f"Drawn are specimens in their lots, faulty ones hatched. {_counted(self.meant)}.{against}"

    @property
    def told(self) -> str:
        """Return the whole picture in words, for those who do not see it."""
        faulty = f"Faulty here means, on our own scale: {self.fault_words}" if self.fault_words else ""
        parts = (f"{self.head}.", f"{self.count}.", self.limit, self.drawing_words, faulty, self.sentence, self.asked)
        return one_line(" ".join(part for part in parts if part))


def cell_ids(cells: tuple[PublicCell, ...]) -> list[str]:
    """Return an anchor for each cell."""
    return anchors(f"n-{slug(one.maker, one.format, one.criterion_title)}" for one in cells)


def of_statement(one: PublicStatement, edition: Edition) -> Pictured:
    """Return what a picture of a settled statement says, with the edition that said it."""
    whose = one.maker or "Common to several makers"
    alone = f"This is about one {worded(str(one.extent))}; of others it tells nothing." if one.is_of_code else ""
    last = one.asked[-1] if one.asked else None
    answer = " The answer stands uncut on the page." if last and last.answer else ""
    return Pictured(
        id=one.id,
        head=one_line(f"{whose}: {told.heading(one)}"),
        count=f"{told.counted(one)} faulty, {WHERE}",
        limit=" ".join(part for part in (_edition(edition), told.allows(one) or alone) if part),
        lots=_lots(one.drawn),
        sentence=one_line(one.sentence),
        fault_words=one_line(one.fault_words),
        asked=one_line(f"{last.line}{answer}") if last else "",
    )


def of_cell(id_: str, one: PublicCell, edition: Edition) -> Pictured:
    """Return what a picture of a cell says in which none was found, with the edition that said it."""
    allowed = f"Even so, up to {percent(one.still_allowed or 0)} could be faulty (95 %)."
    return Pictured(
        id=id_,
        head=one_line(f"{one.maker}, {one.format}: {lower_first(one.criterion_title)}"),
        count=f"None of {one.tested} faulty, {WHERE}",
        limit=f"{_edition(edition)} {allowed}",
        lots=_lots(one.drawn),
        sentence=one_line(one.sentence),
    )


def _counted(lots: tuple[DrawnLot, ...]) -> str:
    """Return how many are faulty in each lot; where lots have no names, in each format."""
    if all(one.name for one in lots):
        return "; ".join(f"{one.name}: {out_of(one.faulty, one.tested)}" for one in lots)
    formats = {one.format: [lot for lot in lots if lot.format == one.format] for one in lots}
    return "; ".join(f"{name}: {_sum(some)}, {how_many(len(some), 'lot')}" for name, some in formats.items())


def _sum(lots: list[DrawnLot]) -> str:
    return out_of(sum(one.faulty for one in lots), sum(one.tested for one in lots))


def _lots(drawn: tuple[DrawnLot, ...]) -> tuple[DrawnLot, ...]:
    return tuple(replace(one, name=one_line(one.name), format=one_line(one.format)) for one in drawn)


def _edition(edition: Edition) -> str:
    return "DRAFT, not published." if edition.is_draft else f"{edition.words}, {day(edition.on)}."
