"""Made-up findings of which each cell's standing is chosen, and every face of the view that is made of them."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from qcledger.findings import Claim, Finding, Findings, read
from qcledger.findings.finding import Check, CheckName, Stress, Without
from qcledger.findings.said import SaidBeside
from qcledger.public import from_findings as told
from qcledger.public.assemble import LedgerFacts, view_of
from qcledger.public.faces import FACES
from qcledger.public.to_html import scorecard_html
from qcledger.public.view import Edition, PublicMethods, PublicMoney, PublicView, WayOfTesting
from qcledger.vocab import Extent, Standing
from tests.findings.made import HALF, only, row

SECRET = "Sallowmark"
"""Stands in everything that is private; no face may hold it."""
OPEN = ("open", "to confirm", "private")
"""What reads as open in public."""
STANDINGS = (*OPEN, "settled")


@dataclass(frozen=True)
class MadeCell:
    """One maker's half pans: its standing, the grades of its specimens lot by lot, and readers' notes about it."""

    standing: str
    grades: tuple[tuple[float, ...], ...]
    notes: int = 0


def rows_of(cells: Mapping[str, MadeCell]) -> list:
    """Return the observations of some makers, each with a pigment of its own, so that nobody has peers."""
    return [
        row(
            maker=maker, maker_name=maker, pigments=(f"P{place}",), lot=f"{maker}-{n}", lot_code=f"L{place}{n}",
            grade=grade, seller=f"{SECRET} shop {n}", tester=f"{SECRET} tester", parcel=f"{maker} {n}",
        )
        for place, (maker, cell) in enumerate(sorted(cells.items()))
        for n, lot in enumerate(cell.grades)
        for grade in lot
    ]  # fmt: skip


def found_of(cells: Mapping[str, MadeCell]) -> Findings:
    """Return findings with the standings that were chosen."""
    found = read(rows_of(cells), only())
    return replace(found, findings=tuple(as_chosen(one, cells[one.maker_name]) for one in found.findings))


def as_chosen(finding: Finding, cell: MadeCell) -> Finding:
    """Return a finding with the standing that was chosen, and private words beside it."""
    said = SaidBeside(asked=(SECRET,), notes=(SECRET,), decided=(SECRET,))
    bare = replace(finding, claim=None, exceptions=(), standing=Standing.OPEN, reader_notes=cell.notes, said=said)
    if cell.standing == "open":
        return bare
    if cell.standing == "private":
        return replace(settled(bare), said=replace(said, private=f"{SECRET} reason"))
    return settled(bare) if cell.standing == "settled" else settled(bare, Standing.TO_CONFIRM)


def as_settled(found: Findings) -> Findings:
    """Return findings of which what is still to be confirmed is settled."""
    told_ = (
        replace(one, standing=told.SETTLED, claim=replace(one.claim, standing=told.SETTLED))
        if one.standing is Standing.TO_CONFIRM and one.claim is not None
        else one
        for one in found.findings
    )
    return replace(found, findings=tuple(told_))


def settled(
    finding: Finding, standing: Standing = told.SETTLED, extent: Extent = Extent.MAKER_FORMAT, **more: object
) -> Finding:
    """Return a finding that is settled, or to confirm, at an extent, with a stress check that names a seller."""
    own = {
        Extent.MAKER_FORMAT: (finding.maker_name, str(finding.format)),
        Extent.LOT: (finding.lots[0].row.paint_name, finding.lots[0].row.lot_code or ""),
        Extent.PARCEL: (finding.lots[0].row.paint_name, finding.lots[0].row.seller, "2 January 2026"),
    }
    lots = finding.lots if extent is Extent.MAKER_FORMAT else finding.lots[:1]
    claim = Claim(
        extent=extent,
        subject=own[extent],
        lots=lots,
        explained=frozenset(unit.row.specimen for lot in lots for unit in lot.units if unit.faulty),
        checks=(Check(CheckName.MAKERS_SHOWING, True, "3", "3"),),
        standing=standing,
        stress=Stress((Without("seller", f"{SECRET} shop 0", False), Without("lot", "L00", True))),
    )
    return replace(finding, claim=claim, standing=standing, **more)


def facts(edition: Edition | None = None, **more: object) -> LedgerFacts:
    """Return facts of a ledger that holds nothing but what is tested."""
    day = date(2026, 11, 2)
    given = {
        "title": "A comparison", "question": "Which differ?", "edition": edition or Edition(0, day, "OV"),
        "methods": PublicMethods(
            ("S1",), day, day, (WayOfTesting("not blind", 1, ("Froth",)),), 1, (), (), "", ("Scale",), "cotton"
        ),
        "money": PublicMoney(1, 0, 1, day, day, ()), "closing": (("b1", 1, "0" * 64),), "labels": (),
        "prices": lambda _: (), "photos": lambda _: (), **more,
    }  # fmt: skip
    return LedgerFacts(**given)


def view(found: Findings, rules: told.PublicRules | None = None, **more: object) -> PublicView:
    """Return the view of some findings."""
    return view_of(found, rules or told.PublicRules(), facts(**more))


Face = Callable[[PublicView], str]
EVERY_FACE: Mapping[str, Face] = {"html": lambda one: scorecard_html(one, {}), **FACES}


def faces(one: PublicView) -> dict[str, str]:
    """Return every face of a view."""
    return {name: face(one) for name, face in EVERY_FACE.items()}


def tells_apart(some: Findings, others: Findings) -> list[str]:
    """Return the faces that differ between two findings."""
    one, other = faces(view(some)), faces(view(others))
    return [name for name in one if one[name] != other[name]]


def private_in(texts: Iterable[str], marks: Sequence[str] = (SECRET,)) -> list[str]:
    """Return which private marks some texts hold, whatever their case."""
    small = [text.casefold() for text in texts]
    return [mark for mark in marks if any(mark.casefold() in text for text in small)]


__all__ = ["HALF", "MadeCell", "faces", "found_of", "private_in", "rows_of", "settled", "tells_apart", "view"]
