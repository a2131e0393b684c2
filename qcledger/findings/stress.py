"""Does it hold? A claim looked at again with one thing at a time left out, or with the fault line moved.

Left out, each in turn: the claim's own lots (for a lot or a specimen, the other lots of the paint), the sessions and
the sellers behind them, and trials that were not blind; the fault line is moved half a grade and a grade either way.
The claim stands where its pattern is still there and its strength still passes. How much was bought is not asked
again: a claim that rests on three lots does not fall because two are left.

A claim that rests on two lots cannot be made from one, whatever that one shows. So where it does not stand with
something left out, the rest of its own specimens are taken as faulty, every one: if it does not stand even then, too
little is left, and the check tells nothing. Else its pattern is gone.

A maker, or its format, is measured by the statistic of the fair-field check at one mode, against fair fields drawn
once from the whole field. Every other extent has its own exact test.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from typing import NamedTuple

from qcledger.findings.evidence import CriterionOf, Evidence, gather
from qcledger.findings.extent import Case, paints
from qcledger.findings.field import CriterionField, fields
from qcledger.findings.finding import CheckName, Claim, Need, Stress, Without
from qcledger.findings.lots import TestedLot, lot_key
from qcledger.findings.narrow import lots, parcels, specimens
from qcledger.findings.pooled import MODEL
from qcledger.findings.strength import StrengthCheck, by_exchanging_lots
from qcledger.records import TestedRow
from qcledger.rubric import Criterion
from qcledger.vocab import Blinding, Extent, WhyBought

Left = tuple[str, str, Callable[[TestedRow], bool]]
"""What kind of thing is left out, what it is, and whether a row belongs to it."""

Moved = Callable[[Sequence[TestedRow]], Iterator[tuple[str, str, Sequence[TestedRow]]]]
"""Gives rows with grades moved, each with its kind and name: where a tester's measured error comes in."""

SHIFTS = (-1.0, -0.5, 0.5, 1.0)
"""Grades that the fault line is moved by."""

KEPT_AS = "4"
"""Part of the hash of every outcome; raised when the same evidence would give another one."""

WIDE = (Extent.PIGMENT, Extent.FORMAT)
_BESIDE = (Extent.LOT, Extent.SPECIMEN)
_ACCUSES = (Extent.MAKER, Extent.MAKER_FORMAT)
_STRENGTH = (
    CheckName.WITHOUT_WORST,
    CheckName.WITHOUT_PARCEL,
    CheckName.BEYOND_CHANCE,
    CheckName.ABOVE_FIELD,
    CheckName.FAIR_FIELD,
)


class Name(NamedTuple):
    """What tells a claim from every other of one ledger: criterion's key, extent, subject, maker's id."""

    criterion: str
    extent: Extent
    subject: tuple[str, ...]
    maker: str | None


@dataclass(frozen=True, slots=True, eq=False)
class Worry:
    """One claim to be looked at again, its criterion's field, and the line of its fair-field check."""

    claim: Claim
    everyone: CriterionField
    line: float

    @property
    def criterion(self) -> str:
        """The key of its criterion."""
        return self.everyone.criterion.key

    @property
    def rows(self) -> tuple[TestedRow, ...]:
        """Every observation on the criterion, also those that do not count as things stand."""
        return rows_of(self.everyone.evidence, self.criterion)

    def key(self, rows: str) -> str:
        """Return the hash of everything that enters; `rows` is `digest` of its rows, which several claims share."""
        line = self.everyone.criterion.fault_line
        told = (
            MODEL,
            KEPT_AS,
            str(self.claim.extent),
            self.claim.subject,
            _maker(self.claim),
            f"{self.line:.3g}",
            line,
            rows,
        )
        return sha256(repr(told).encode()).hexdigest()


@dataclass
class Worries:
    """Gives claims their stress checks from what is known, and notes the others."""

    known: Mapping[Name, Stress] = field(default_factory=dict)
    missing: dict[Name, Worry] = field(default_factory=dict)

    def about(self, claim: Claim, everyone: CriterionField, line: float) -> Claim:
        """Return `claim` with its stress checks where they are known."""
        if claim.critical:
            return claim
        name = Name(everyone.criterion.key, claim.extent, claim.subject, _maker(claim))
        if name in self.known:
            return replace(claim, stress=self.known[name])
        self.missing[name] = Worry(claim, everyone, line)
        return claim


def rows_of(evidence: Evidence, criterion: str) -> tuple[TestedRow, ...]:
    """Return every observation on a criterion, whether it counts or not."""
    counted = evidence.rows.where(criterion.__eq__, "criterion")
    others = (unit.row for unit in (*evidence.missing, *(left.unit for left in evidence.aside)))
    return (*counted, *(row for row in others if row.criterion == criterion))


def stress(
    worry: Worry,
    criterion_of: CriterionOf,
    *,
    strength: StrengthCheck = by_exchanging_lots,
    moved: Moved | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> Stress:
    """Return in which of its stress checks a claim stands.

    Parameters
    ----------
    worry
        The claim.
    criterion_of
        As for `evidence.gather`.
    strength
        What a maker or its format is measured by.
    moved
        Further changes, as the tester's measured error makes them.
    stop
        Asked between checks; True ends with those that were made.
    """
    rows, told = worry.rows, []
    before = _judged(gather(rows, criterion_of))
    for kind, what, leaves in _left_out(worry.claim, rows):
        if stop():
            break
        rest = [row for row in rows if not leaves(row)]
        if _judged(evidence := gather(rest, criterion_of)) != before:
            stands = _stands(worry, evidence, strength)
            worst = None if stands else gather(_all_faulty(rest, worry.claim, criterion_of), criterion_of)
            told.append(Without(kind, what, stands, worst is not None and not _stands(worry, worst, strength)))
    for kind, what, evidence in _moved(rows, criterion_of, moved):
        if stop():
            break
        if _judged(evidence) != before:
            told.append(Without(kind, what, _stands(worry, evidence, strength)))
    return Stress(tuple(told))


def digest(rows: Sequence[TestedRow]) -> str:
    """Return the hash of everything in `rows` that evidence, and what is left out, depend on."""
    told = sorted(
        repr((
            row.observation, row.trial, row.rubric, row.grade, row.reading, row.not_testable, str(row.trial_at),
            str(row.role), row.void, row.mixed, row.on_reference, row.session, row.blinding, row.seller, str(row.why),
            row.specimen, str(row.source), str(row.occasion), row.parcel, row.pigments, row.sitting,
            *map(str, lot_key(row)),
        ))
        for row in rows
    )  # fmt: skip
    return sha256("".join(told).encode()).hexdigest()


def _maker(claim: Claim) -> str | None:
    return None if claim.extent in WIDE else claim.lots[0].row.maker


def _judged(evidence: Evidence) -> list[tuple[str, int]]:
    return sorted(zip((row.specimen for row in evidence.rows), evidence.faulty.tolist(), strict=True))


def _all_faulty(rows: Sequence[TestedRow], claim: Claim, criterion_of: CriterionOf) -> list[TestedRow]:
    """Return rows with the worst grade for the claim's own specimens; of a claim about one, for that alone."""
    units = [unit for lot in claim.lots for unit in lot.units if claim.extent is not Extent.SPECIMEN or unit.faulty]
    own = {unit.row.specimen for unit in units}
    return [
        replace(row, grade=max(criterion_of(row.rubric, row.criterion).anchors, default=5))
        if row.specimen in own and not row.not_testable
        else row
        for row in rows
    ]


def _moved(
    rows: Sequence[TestedRow], criterion_of: CriterionOf, moved: Moved | None
) -> Iterator[tuple[str, str, Evidence]]:
    for shift in SHIFTS:
        yield "fault line", _shift(shift), gather(rows, _shifted(criterion_of, shift))
    for kind, what, other in moved(rows) if moved else ():
        yield kind, what, gather(other, criterion_of)


def _shift(shift: float) -> str:
    size = "half a grade" if abs(shift) == 0.5 else "a grade"
    return f"{size} {'stricter' if shift < 0 else 'milder'}"


def _shifted(criterion_of: CriterionOf, shift: float) -> CriterionOf:
    """Return a look-up of criteria whose fault line is moved, within what may be graded."""

    def shifted(rubric: str, key: str) -> Criterion:
        one = criterion_of(rubric, key)
        line = None if one.fault_line is None else one.fault_line + shift
        # At 0 everything would be faulty and past the worst grade nothing: neither is a fault line.
        return one if line is None or not 0 < line <= max(one.anchors, default=5) else replace(one, fault_line=line)

    return shifted


def _left_out(claim: Claim, rows: Sequence[TestedRow]) -> Iterator[Left]:
    own = {lot.key for lot in claim.lots}
    make = {(key[1], key[2]) for key in own}
    near = [row for row in rows if (row.paint, row.format) in make] if claim.extent in _BESIDE else []
    scope = near or [unit.row for lot in claim.lots for unit in lot.units]
    if claim.extent in _ACCUSES:  # what else was bought has no part in it
        scope = [row for row in scope if row.why is WhyBought.PLANNED]
    for key, row in {lot_key(row): row for row in scope}.items():
        if claim.extent not in _BESIDE or key not in own:
            yield "lot", f"{row.lot_code or 'without a code'} of {row.paint_name}", _is_lot(key)
    for session, code in {row.session: row.session_code for row in scope if row.session}.items():
        yield "session", str(code), _is_session(session)
    for seller in sorted({row.seller for row in scope}):
        yield "seller", seller, _is_seller(seller)
    yield "not blind", "trials that were not blind", lambda row: row.blinding is Blinding.OPEN


def _is_lot(key: tuple[str, str, object]) -> Callable[[TestedRow], bool]:
    return lambda row: lot_key(row) == key


def _is_session(session: str | None) -> Callable[[TestedRow], bool]:
    return lambda row: row.session == session


def _is_seller(seller: str) -> Callable[[TestedRow], bool]:
    return lambda row: row.seller == seller


def _stands(worry: Worry, evidence: Evidence, strength: StrengthCheck) -> bool:
    """Say whether the same claim is still there, with its strength."""
    everyone = fields(evidence).get(worry.everyone.criterion.key)
    if everyone is None:
        return False
    claim, case = worry.claim, Case(everyone, strength)
    same = (
        one
        for one in _CLAIMS[claim.extent](case, _bad_lots(case, claim))
        if one.extent is claim.extent and one.subject == claim.subject and _maker(one) == _maker(claim)
    )
    return any(all(check.met for check in one.checks if _asked_again(check.name, check.need)) for one in same)


def _asked_again(name: CheckName, need: Need) -> bool:
    return need is Need.PATTERN or name in _STRENGTH


def _bad_lots(case: Case, claim: Claim) -> list[TestedLot]:
    """Return the lots with a fault among which a narrow claim is looked for: its cell's; a paint's in each format."""
    cells = dict.fromkeys((lot.row.maker, lot.row.format) for lot in claim.lots)
    found = [lot for cell in cells for lot in case.field.of_cell(*cell) if lot.faulty]
    return [lot for lot in found if claim.extent in _OF_ALL or lot.key not in case.explained]


_OF_ALL = (Extent.LOT, Extent.PAINT)
"""What is looked for among all faulty lots of a cell, those that a pigment or a format explains too."""
_CLAIMS: Mapping[Extent, Callable[[Case, Sequence[TestedLot]], Iterator[Claim]]] = {
    Extent.PIGMENT: lambda case, _: iter(case.pigments),
    Extent.FORMAT: lambda case, _: iter(case.formats),
    Extent.MAKER: lambda case, _: iter(case.accusations),
    Extent.MAKER_FORMAT: lambda case, _: iter(case.accusations),
    Extent.PAINT: paints,
    Extent.PARCEL: lambda case, bad: parcels(case.rest, bad),
    Extent.LOT: lambda case, bad: lots(case.field, bad),
    Extent.SPECIMEN: lambda case, bad: specimens(case.rest, bad),
}
