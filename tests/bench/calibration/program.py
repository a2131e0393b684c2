"""A made-up ledger put to the program: rows in, its own findings out, so that what is measured is what is said."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from qcledger.findings import Claim, Finding, find, gather
from qcledger.findings.evidence import Evidence
from qcledger.findings.model import ModelQuestion, answer, checked, question, strength_left
from qcledger.findings.pool import Pool
from qcledger.findings.pooled import Accused, Pooled
from qcledger.findings.stress import WIDE, Worries, stress
from qcledger.records import TestedRow
from qcledger.rubric import PeerGroup
from qcledger.stats.pooled.fair_field import BATCH, is_clear
from qcledger.vocab import Extent, Format, Standing, WhyBought
from tests.bench.calibration.scenarios import HARDNESS, PIGMENTS, Truth
from tests.findings.made import FROTH, only, row

FORMATS = (Format.HALF_PAN, Format.TUBE)
BY_HARDNESS = replace(FROTH, peers=PeerGroup("hardness", "hardness", "hardnesses"))
REACHED = (Standing.TO_CONFIRM, Standing.SETTLED)
Name = tuple[str, int, int]
"""("maker", m, -1) or ("cell", m, f), as a `Truth` names the guilty."""


@dataclass(frozen=True)
class Said:
    """What the program says of one ledger.

    Parameters
    ----------
    findings
        One for each maker and format.
    able
        Whoever has everything that an accusation needs but its strength.
    fair
        Suspects with k and N of the fair-field check, the strongest first; those that were not reached are missing.
    """

    findings: tuple[Finding, ...]
    able: tuple[Name, ...]
    fair: tuple[tuple[Name, int, int], ...]

    def claims(self, *extents: Extent, standings: Sequence[Standing] = REACHED) -> dict[tuple[str, ...], Claim]:
        """Return the claims of these extents and standings, by subject; of what a maker makes, by maker before it."""
        every = (claim for one in self.findings for claim in (one.claim, *one.exceptions) if claim)
        wanted = (claim for claim in every if claim.extent in extents and claim.standing in standings)
        return {(*(() if one.extent in WIDE else (one.lots[0].row.maker,)), *one.subject): one for one in wanted}

    @property
    def accused(self) -> tuple[Name, ...]:
        """Makers and makers' formats accused, to be confirmed or confirmed, the strongest first."""
        claims = self.claims(Extent.MAKER, Extent.MAKER_FORMAT)
        named = {claimed(claim) for claim in claims.values()}
        return tuple(sorted(named, key=[name for name, *_ in self.fair].index))


def rows_of(truth: Truth, why: Sequence[WhyBought] | None = None) -> Iterator[TestedRow]:
    """Yield a row for each specimen; `why` tells of each lot why it was bought, as planned when None."""
    for place, (lot, grades) in enumerate(zip(truth.lots, truth.grades, strict=True)):
        for grade in grades:
            yield row(
                maker=f"{lot.maker:02d}",
                paint=f"P{lot.paint[1]:02d}",
                pigments=lot.pigments if truth.peers == PIGMENTS else (),
                facts=(f"hardness: {lot.pigments[0]}",) if truth.peers == HARDNESS else (),
                format=FORMATS[lot.format],
                lot=f"L{place}",
                grade=grade,
                session=f"S{truth.session[place]}",
                parcel=f"P{truth.parcel[place]}",
                why=why[place] if why else WhyBought.PLANNED,
            )


def said_of(truth: Truth, why: Sequence[WhyBought] | None = None, *, strict: bool = True) -> Said:
    """Return what the program says of a ledger of one criterion.

    With `strict` False the posterior is left out where the fair-field check alone shows that nobody is accused: it
    could only excuse more. The check is then asked of all suspects, whether past the floor of the posterior or not.
    """
    judged = FROTH if truth.peers == PIGMENTS else BY_HARDNESS
    return said_in(gather(rows_of(truth, why), only(judged)), strict=strict)


def said_in(evidence: Evidence, *, strict: bool = True, seed: int = 0) -> Said:
    """Return what the program says of the evidence of one criterion; `strict` as for `said_of`.

    The program draws with `seed` 0; others show what hangs on it.
    """
    kept: dict[str, Pooled] = {}
    pool = Pool(kept.get, Worries({}))
    waiting = Said(find(evidence, pool=pool).findings, (), ())
    able = waiting.claims(Extent.MAKER, Extent.MAKER_FORMAT, standings=(Standing.CHECKING,))
    names = tuple(map(claimed, able.values()))
    asked = pool.missing[FROTH.key]
    if not (able or strict):
        return Said(worked_out(evidence, kept), names, ())
    put = question(asked.field, asked.suspects, asked.line)
    kept[asked.key] = answer(put, seed=seed) if strict else cheaply(put, seed)
    fair = sorted(kept[asked.key].fair.items(), key=lambda one: one[1].p_value)
    told = tuple((_name(who), found.as_strong, found.fields) for who, found in fair)
    return Said(worked_out(evidence, kept), names, told)


def worked_out(evidence: Evidence, kept: Mapping[str, Pooled]) -> tuple[Finding, ...]:
    """Return the findings with these answers, and with the stress checks of whatever would be settled."""
    worries, strengths = Worries(), {}
    found = find(evidence, pool=Pool(kept.get, worries))
    wanted = {name: one for name, one in worries.missing.items() if one.claim.standing is Standing.SETTLED}
    if not wanted:
        return found.findings
    asked = only(*evidence.criteria.values())
    known = {
        name: stress(one, asked, strength=lambda *asked: strength_left(*asked, strengths))
        for name, one in wanted.items()
    }
    return find(evidence, pool=Pool(kept.get, Worries(known))).findings


def cheaply(asked: ModelQuestion, seed: int = 0) -> Pooled:
    """Return the model's answer, without the posterior where the fair-field check's first look clears everybody."""
    fair = checked(asked, asked.suspects, most=BATCH, seed=seed).fair
    nearest = min(fair.values(), key=lambda one: one.p_value)
    if nearest.p_value > asked.line and is_clear(nearest.as_strong, nearest.fields, asked.line):
        return Pooled({}, {}, {}, {}, {}, {}, fair, asked.line, ())
    return answer(asked, seed=seed)


def claimed(claim: Claim) -> Name:
    """Return whom a claim accuses."""
    first = claim.lots[0].row
    return _name((first.maker, None if claim.extent is Extent.MAKER else str(first.format)))


def _name(accused: Accused) -> Name:
    maker, format_ = accused
    if format_ is None:
        return ("maker", int(maker), -1)
    return ("cell", int(maker), [str(one) for one in FORMATS].index(format_))
