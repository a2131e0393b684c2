"""Does it hold? A claim looked at again with one thing at a time left out, or with the fault line moved.

Left out, each in turn: the claim's own lots (for a lot or a specimen, the other lots of the paint), the sessions and
the sellers behind them, and trials that were not blind. Its pattern has to be there in each such check that can tell;
where none can tell, the claim is still to be confirmed. A maker's pattern, or its format's, is plain: more than ten
points above the others, with faults in two lots and two paints. How much was bought is not asked again: a claim that
rests on three lots does not fall because two are left.

A maker, or its format, is also held once more against fair fields, with each lot and each session left out: those
drawn for the claim itself, so that no chance of a second draw comes in. The line is then wider, for less is left.

A claim that rests on two lots cannot be made from one, whatever that one shows. So where it does not stand with
something left out, the rest of its own specimens are taken as faulty, every one: if it does not stand even then, too
little is left, and the check tells nothing. Else its pattern is gone.

Where the fault line is moved, as far as grades may be given, and where grades are moved by the tester's own error, is
told beside the claim and decides nothing.
"""

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from typing import NamedTuple

from qcledger.findings import checks
from qcledger.findings.evidence import CriterionOf, Evidence, gather
from qcledger.findings.extent import Case, lots, paints, parcels
from qcledger.findings.field import CriterionField, fields
from qcledger.findings.finding import Check, CheckName, Claim, Need, Stress, Without
from qcledger.findings.lots import TestedLot, lot_key
from qcledger.findings.maker import shows_pattern
from qcledger.findings.narrow import specimens
from qcledger.findings.pooled import MODEL, Accused, stands_again
from qcledger.findings.strength import by_exchanging_lots
from qcledger.records import TestedRow
from qcledger.rubric import Criterion
from qcledger.vocab import Blinding, Extent, Standing, WhyBought

Left = tuple[str, str, Callable[[TestedRow], bool]]
"""What kind of thing is left out, what it is, and whether a row belongs to it."""

Moved = Callable[[Sequence[TestedRow]], Iterator[tuple[str, str, Sequence[TestedRow]]]]
"""Gives rows with grades moved, each with its kind and name: where a tester's measured error comes in."""

Strength = Callable[[CriterionField, Accused, Sequence[float]], float | None]
"""Returns how strong a suspect is in changed evidence, with these scales held; None where nothing of it is left."""

FARTHEST = 1.0
"""Grades that the fault line is moved by at most, as far as such grades may be given."""

KEPT_AS = "5"
"""Part of the hash of every outcome; raised when the same evidence would give another one."""

WIDE = (Extent.PIGMENT, Extent.FORMAT)
_BESIDE = (Extent.LOT, Extent.SPECIMEN)
_ACCUSES = (Extent.MAKER, Extent.MAKER_FORMAT)
_AT_HAND = (Extent.PARCEL, Extent.SPECIMEN)
"""What speaks of the pieces at hand alone: what is left out of it is looked at and told, but decides nothing."""
_MEASURED = ("lot", "session")
"""What is left out when a maker is held against fair fields once more."""


class Name(NamedTuple):
    """What tells a claim from every other of one ledger: criterion's key, extent, subject, maker's id."""

    criterion: str
    extent: Extent
    subject: tuple[str, ...]
    maker: str | None


@dataclass(frozen=True, slots=True, eq=False)
class Worry:
    """One claim to be looked at again.

    Parameters
    ----------
    claim
        What is claimed.
    everyone
        Its criterion's field.
    explained
        Keys of the lots that a pigment or a format explains, which no maker is accused of.
    line
        The line of its fair-field check.
    """

    claim: Claim
    everyone: CriterionField
    explained: frozenset[Hashable]
    line: float

    @property
    def accused(self) -> Accused | None:
        """The maker or maker's format that it accuses; None where it accuses none."""
        if self.claim.extent not in _ACCUSES:
            return None
        row = self.claim.lots[0].row
        return (row.maker, None if self.claim.extent is Extent.MAKER else str(row.format))

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
            sorted(map(str, self.explained)),
            rows,
        )
        return sha256(repr(told).encode()).hexdigest()


@dataclass
class Worries:
    """Gives claims their stress checks from what is known, and notes the others."""

    known: Mapping[Name, Stress] = field(default_factory=dict)
    missing: dict[Name, Worry] = field(default_factory=dict)

    def about(self, claim: Claim, case: Case, line: float) -> Claim:
        """Return `claim` with its stress checks, and what follows from them, where they are known.

        While they are not, what would be settled of a maker, a paint or a lot is still being worked out.
        """
        if claim.critical:
            return claim
        name = Name(case.field.criterion.key, claim.extent, claim.subject, _maker(claim))
        found = self.known.get(name)
        if found is None:
            self.missing[name] = Worry(claim, case.field, case.explained, line)
            if claim.standing is not Standing.SETTLED or claim.extent in (*_AT_HAND, *WIDE):
                return claim
        if claim.extent in _AT_HAND:
            return replace(claim, stress=found)
        asked = (*claim.checks, _left_out_check(found))
        return replace(claim, stress=found, checks=asked, standing=checks.standing_of(asked) or claim.standing)


def _left_out_check(found: Stress | None) -> Check:
    """Return whether a claim is there whatever one thing is left out; where none can tell, it is to be confirmed."""
    needed = "there in each check that can tell, and in one at least"
    if found is None:
        return Check(CheckName.LEFT_OUT, False, "checking", needed, Need.CHECKING)
    telling = [check for check in found.checks if check.leaves_out and not check.too_little]
    told = f"there in {sum(check.stands for check in telling)} of {len(telling)} that can tell"
    return Check(CheckName.LEFT_OUT, found.bears_out, told, needed, Need.CONFIRMATION, int(not found.bears_out))


def rows_of(evidence: Evidence, criterion: str) -> tuple[TestedRow, ...]:
    """Return every observation on a criterion, whether it counts or not."""
    counted = evidence.rows.where(criterion.__eq__, "criterion")
    others = (unit.row for unit in (*evidence.missing, *(left.unit for left in evidence.aside)))
    return (*counted, *(row for row in others if row.criterion == criterion))


def stress(
    worry: Worry,
    criterion_of: CriterionOf,
    *,
    strength: Strength | None = None,
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
        What a maker or its format is measured by once more; None asks for its pattern alone.
    moved
        Further changes, as the tester's measured error makes them.
    stop
        Asked between checks; True ends with those that were made.
    """
    rows, told = worry.rows, []
    seen = {_judged(gather(rows, criterion_of))}  # the same evidence under another name is no further check
    for kind, what, leaves in _left_out(worry.claim, rows):
        if stop():
            break
        rest = [row for row in rows if not leaves(row)]
        evidence = gather(rest, criterion_of)
        if (judged := _judged(evidence)) not in seen:
            seen.add(judged)
            told.append(_looked_at(worry, (kind, what), (evidence, rest), criterion_of, strength))
    for kind, what, evidence in _moved(worry, rows, criterion_of, moved):
        if stop():
            break
        if (judged := _judged(evidence)) not in seen:
            seen.add(judged)
            told.append(Without(kind, what, _pattern_there(worry, evidence)))
    drawn = worry.claim.chance.drawn if worry.claim.chance else None
    return Stress(tuple(told), drawn.fields if drawn else 0)


def _looked_at(
    worry: Worry,
    named: tuple[str, str],
    left: tuple[Evidence, Sequence[TestedRow]],
    criterion_of: CriterionOf,
    strength: Strength | None,
) -> Without:
    """Return one check; where the claim does not stand, what is left of it is taken as faulty to tell why."""
    evidence, rows = left
    measured = strength if named[0] in _MEASURED else None
    stands, as_strong = _stands(worry, evidence, measured)
    if stands:
        return Without(*named, True, as_strong=as_strong)
    worst = gather(_all_faulty(rows, worry.claim, criterion_of), criterion_of)
    return Without(*named, False, not _stands(worry, worst, measured)[0], as_strong)


def digest(rows: Sequence[TestedRow]) -> str:
    """Return the hash of everything in `rows` that evidence, and what is left out, depend on."""
    told = sorted(
        repr((
            row.observation, row.trial, row.rubric, row.grade, row.reading, row.not_testable, str(row.trial_at),
            str(row.role), row.void, row.mixed, row.on_reference, row.session, row.blinding, row.seller, str(row.why),
            row.specimen, str(row.source), str(row.occasion), row.parcel, row.peer_group, row.sitting,
            *map(str, lot_key(row)),
        ))
        for row in rows
    )  # fmt: skip
    return sha256("".join(told).encode()).hexdigest()


def _maker(claim: Claim) -> str | None:
    return None if claim.extent in WIDE else claim.lots[0].row.maker


def _judged(evidence: Evidence) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(zip((row.specimen for row in evidence.rows), evidence.faulty.tolist(), strict=True)))


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
    worry: Worry, rows: Sequence[TestedRow], criterion_of: CriterionOf, moved: Moved | None
) -> Iterator[tuple[str, str, Evidence]]:
    for what, shift in moved_lines(worry.everyone.criterion):
        yield "fault line", what, gather(rows, _shifted(criterion_of, shift))
    for kind, what, other in moved(rows) if moved else ():
        yield kind, what, gather(other, criterion_of)


def moved_lines(criterion: Criterion) -> Iterator[tuple[str, float]]:
    """Yield how the fault line is moved, in words and in grades, the nearest first: to grades that may be given.

    Within one grade either way; where no worse grade is so near, to the next worse one.
    """
    line = criterion.fault_line
    if line is None:
        return
    worse = [grade - line for grade in criterion.grades if grade > line]
    better = [grade - line for grade in reversed(criterion.grades) if 0 < grade < line]
    near = ([shift for shift in some if abs(shift) <= FARTHEST] for some in (better, worse))
    stricter, milder = near
    for shift in (*stricter, *(milder or worse[:1])):
        yield f"{_SIZES.get(abs(shift), f'{abs(shift):g} grades')} {'stricter' if shift < 0 else 'milder'}", shift


_SIZES = {0.5: "half a grade", 1.0: "a grade", 2.0: "two grades"}


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


def _stands(worry: Worry, evidence: Evidence, strength: Strength | None) -> tuple[bool, int | None]:
    """Say whether the same claim is still there and, where it is measured, how many fair fields are as strong."""
    if not _pattern_there(worry, evidence):
        return False, None
    drawn = worry.claim.chance.drawn if worry.claim.chance else None
    if strength is None or drawn is None or worry.accused is None:
        return True, None
    found = strength(fields(evidence)[worry.criterion], worry.accused, drawn.held)
    if found is None:
        return False, None
    as_strong = drawn.as_strong(found)
    return stands_again(as_strong, drawn.fields, worry.line), as_strong


def _pattern_there(worry: Worry, evidence: Evidence) -> bool:
    everyone = fields(evidence).get(worry.criterion)
    if everyone is None:
        return False
    if worry.accused is not None:
        return shows_pattern(everyone.without(worry.explained), *worry.accused)
    claim, case = worry.claim, Case(everyone, by_exchanging_lots)
    return any(
        one.extent is claim.extent and one.subject == claim.subject and _maker(one) == _maker(claim)
        for one in _CLAIMS[claim.extent](case, _bad_lots(case, claim))
    )


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
    Extent.PAINT: paints,
    Extent.PARCEL: parcels,
    Extent.LOT: lots,
    Extent.SPECIMEN: lambda case, bad: specimens(case.rest, bad),
}
