"""What a finding is: an extent and a standing, and everything that led to them; frozen, without rules or words."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from qcledger.findings.bought import BoughtCounts, by_reason
from qcledger.findings.evidence import SetAside
from qcledger.findings.field import CriterionField
from qcledger.findings.lots import Counts, TestedLot, faulty_specimens, tally
from qcledger.findings.papers import LeftApart
from qcledger.findings.pooled import Fair, FairFields, Pooled, Reach
from qcledger.findings.said import NOTHING_SAID, SaidBeside
from qcledger.findings.stock import BoughtPieces
from qcledger.findings.trail import Grades, Recurrence, Trail, grades_of, trail_of
from qcledger.records import Piece
from qcledger.rubric import Criterion, PeerGroup
from qcledger.rubric.model import PIGMENTS
from qcledger.stats.proportion import Interval
from qcledger.vocab import Extent, Standing, WhyBought

_OPEN = (Standing.OPEN, Standing.CHECKING)


class Need(StrEnum):
    """What a check is for, and so what follows when it is not met."""

    PATTERN = "pattern"
    EVIDENCE = "evidence"
    CHECKING = "still being worked out"
    CONFIRMATION = "confirmation"


class CheckName(StrEnum):
    """The stable names of the checks."""

    FAULTY_SPECIMENS = "faulty specimens"
    FAULTY_LOTS = "lots with a fault"
    FAULTY_PAINTS = "paints with a fault"
    FAULTY_PIGMENTS = "pigments with a fault"
    FAULTY_FORMATS = "formats with a fault"
    FAULTY_PARCELS = "parcels with a fault"
    SHARE_OF_LOTS = "share of its lots"
    MAKERS_SHOWING = "makers that show it"
    EXCESS = "above the other makers"
    CONTRAST = "above the rest"
    ANY_MAKERS_OUT = "without whoever is left out"
    OTHER_FORMATS = "its other formats"
    WITHOUT_WORST = "without its worst paint"
    WITHOUT_PARCEL = "without its worst parcel"
    OTHER_PAINTS = "its other paints"
    PEERS_SOUND = "peers of the pigment"
    ONE_PARCEL = "one parcel"
    CODE = "batch code"
    SHOWN = "more than a comparison"
    MAKERS = "makers enough to name it"
    PAINTS = "paints"
    LOTS = "lots"
    PEERS = "pigments with peers"
    SESSIONS = "sessions with peers"
    TOGETHER = "tested side by side"
    PARCELS = "sellers or parcels"
    BEYOND_CHANCE = "beyond chance"
    ABOVE_FIELD = "chance of an excess"
    FAIR_FIELD = "fair-field check"
    CONFIRMED = "bought to confirm"
    SOUND_LOTS = "sound lots of the paint"
    SOUND_PARCELS = "sound parcels"
    SOUND_IN_LOT = "sound ones of its lot"
    ELSEWHERE = "other lots of the paint"
    CRITICAL = "critical fault"
    SPECIMENS = "specimens"
    UPPER_LIMIT = "rate still allowed"
    LEFT_OUT = "whatever one thing is left out"


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that must be so before an extent may be said.

    Parameters
    ----------
    name
        What is checked.
    met
        Whether it is so.
    found, needed
        What there is and what there must be, as short texts.
    need
        What it is for.
    missing
        How many more would meet it, where that is a number to buy; else 0.
    """

    name: CheckName
    met: bool
    found: str
    needed: str
    need: Need = Need.EVIDENCE
    missing: int = 0


class Likeliest(NamedTuple):
    """Of the units of one extent that a finding touches, the one most likely to be the worse, and that chance."""

    extent: Extent
    name: str
    chance: float


class Without(NamedTuple):
    """One stress check: what kind of thing was changed, what it was, and whether the claim stands without it.

    `too_little` where it could not stand, whatever the rest of its own specimens showed: such a check tells nothing.
    `as_strong` tells in how many of the claim's fair fields somebody looked at least as bad as it does then; None
    where that is not asked.
    """

    kind: str
    what: str
    stands: bool
    too_little: bool = False
    as_strong: int | None = None

    @property
    def leaves_out(self) -> bool:
        """Whether something is left out: only such checks decide. Moved grades and fault lines are told beside."""
        return self.kind in LEFT_OUT


LEFT_OUT = ("lot", "session", "seller", "not blind")
"""Kinds of things that are left out, one at a time."""


@dataclass(frozen=True, slots=True)
class Stress:
    """A claim looked at again with one thing at a time left out; what changes nothing is no check.

    `fields` tells how many fair fields the claim and its checks share; 0 where none were asked.
    """

    checks: tuple[Without, ...]
    fields: int = 0

    @property
    def stands(self) -> int:
        """In how many checks it stands."""
        return sum(check.stands for check in self.checks)

    @property
    def falls(self) -> tuple[Without, ...]:
        """The checks in which its pattern, or its strength, is gone."""
        return tuple(check for check in self.checks if not (check.stands or check.too_little))

    @property
    def untold(self) -> tuple[Without, ...]:
        """The checks that leave too little to say it, whatever that showed."""
        return tuple(check for check in self.checks if check.too_little)

    @property
    def telling(self) -> int:
        """How many checks can tell: all but the untold ones."""
        return len(self.checks) - len(self.untold)

    @property
    def worst(self) -> Without | None:
        """The check in which most fair fields were as strong as what is left; None where none were asked."""
        asked = [check for check in self.checks if check.as_strong is not None and not check.too_little]
        return max(asked, key=lambda check: check.as_strong or 0, default=None)

    @property
    def bears_out(self) -> bool:
        """Whether the claim is still there whatever one thing is left out; where none can tell it is not known."""
        telling = [check.stands for check in self.checks if check.leaves_out and not check.too_little]
        return bool(telling) and all(telling)


@dataclass(frozen=True, slots=True)
class Chance:
    """How an accusation compares with what chance makes of a fair field.

    Parameters
    ----------
    checks
        What it must pass.
    exact
        p-value of exchanging lots with the peers, before any correction.
    reach, fair
        The pooled model's posterior and the outcome of its fair-field check; None where they are not (yet) there.
    drawn
        The fair fields that it passed in; None where it did not, or not yet.
    """

    checks: tuple[Check, ...]
    exact: float
    reach: Reach | None = None
    fair: Fair | None = None
    drawn: FairFields | None = None


@dataclass(frozen=True, slots=True)
class FreeMaker:
    """A maker none of whose specimens shows what most other makers' do, with everything that was asked of it.

    Parameters
    ----------
    maker, maker_name
        Its id and name.
    extent, subject
        What is common to most makers: a pigment's Colour Index names, or a format.
    lots
        Its own lots of that.
    checks
        All checks, met or not.
    older
        How many of its specimens older notes tell of that are not counted, and how many of these showed it.
    group
        As of the claim.
    """

    maker: str
    maker_name: str
    extent: Extent
    subject: tuple[str, ...]
    lots: tuple[TestedLot, ...]
    checks: tuple[Check, ...]
    older: tuple[int, int] = (0, 0)
    group: PeerGroup = PIGMENTS

    @property
    def earned(self) -> bool:
        """Whether it may be said."""
        return all(check.met for check in self.checks)


@dataclass(frozen=True, slots=True)
class Claim:
    """One extent for one thing, with the checks it was put to and the lots it speaks of.

    Parameters
    ----------
    extent
        How far it reaches.
    subject
        What it is about, in words of the label: a pigment, a maker, a paint and its lot code, a sticker.
    lots
        The lots it speaks of.
    explained
        Specimens whose fault it explains.
    checks
        All checks, met or not.
    standing
        How firmly it may be said.
    chance
        What the pooled model, or an exact test, says of a maker or its format; None for narrower and wider extents.
    stress
        Whether it stands when one thing at a time is left out; None until that is worked out.
    free
        Makers none of whose specimens shows what is common to a pigment or a format, whether or not that may be said.
    group
        What the rubric takes to make peers, which the extent *pigment* stands for.
    """

    extent: Extent
    subject: tuple[str, ...]
    lots: tuple[TestedLot, ...]
    explained: frozenset[str]
    checks: tuple[Check, ...]
    standing: Standing
    chance: Chance | None = None
    stress: Stress | None = None
    free: tuple[FreeMaker, ...] = ()
    group: PeerGroup = PIGMENTS

    @property
    def critical(self) -> bool:
        """Whether it is said at once because it may concern health."""
        return any(check.name is CheckName.CRITICAL for check in self.checks)

    @property
    def unmet(self) -> tuple[Check, ...]:
        """The checks that are not met."""
        return tuple(check for check in self.checks if not check.met)


class FreeOf(NamedTuple):
    """What is common to most makers, and a maker that is free of it."""

    common: Claim
    maker: FreeMaker


@dataclass(frozen=True, slots=True)
class Peers:
    """Other makers' paints with the same pigments in the same format."""

    makers: int
    counts: Counts


@dataclass(frozen=True, slots=True)
class Apart:
    """What was set apart for one reason, and how many of it were at or past the fault line."""

    reason: SetAside
    number: int
    faulty: int


@dataclass(frozen=True, kw_only=True)
class Finding:
    """How far one fault reaches at one maker in one format, and everything that led to it.

    Parameters
    ----------
    maker, maker_name, format
        Whom it is about.
    field, rest
        Every lot on the criterion, of all makers; and those that neither a pigment nor a format explains.
    wilson, lot_aware, still_allowed
        95 % intervals of its rate; the highest rate its specimens still allow (one-sided 95 %, taken as independent).
    claim
        What leads: the claim that explains most of its faults or, while that is open, the likeliest that they
        point to; None for neither.
    exceptions
        Claims beside it: others that stand, wider or narrower, and others that the faults point to.
    standing, checks
        How firmly it is said, and the checks of the claim or of "none found".
    clears
        Whether its claim clears the maker: what nothing explains is no more than the other makers show.
    pooled
        What the pooled model says on the criterion; None where it was not asked, or has not answered yet.
    pending
        Whether its answer is awaited.
    missing, missing_because
        How many could not be tested, and the reasons given.
    apart, reader_notes, recurrence
        What was set apart, readers' notes, and earlier comparisons.
    stock
        What was bought, looked at or not; None where that is not known.
    left_apart
        What was graded on other paper than its comparison's.
    said
        What was asked, told and decided about it.
    free
        What is common to most makers and it is free of, as far as that may be said.
    """

    maker: str
    maker_name: str
    format: str
    field: CriterionField
    rest: CriterionField
    wilson: Interval
    lot_aware: Interval
    still_allowed: float
    claim: Claim | None
    exceptions: tuple[Claim, ...]
    standing: Standing
    checks: tuple[Check, ...]
    clears: bool = False
    pooled: Pooled | None = None
    pending: bool = False
    missing: int = 0
    missing_because: tuple[str, ...] = ()
    apart: tuple[Apart, ...] = ()
    reader_notes: int = 0
    recurrence: Recurrence | None = None
    stock: BoughtPieces | None = None
    left_apart: tuple[LeftApart, ...] = ()
    said: SaidBeside = NOTHING_SAID
    free: tuple[FreeOf, ...] = ()

    @cached_property
    def unseen(self) -> tuple[Piece, ...]:
        """The pieces of the maker's format that nobody has looked at on the criterion, as far as that is known."""
        return self.stock.unseen(self.criterion.key, self.maker, self.format) if self.stock else ()

    @property
    def criterion(self) -> Criterion:
        """What was judged."""
        return self.field.criterion

    @cached_property
    def lots(self) -> tuple[TestedLot, ...]:
        """Its own lots, in order of their first trial."""
        return self.field.of_cell(self.maker, self.format)

    @cached_property
    def lot_counts(self) -> tuple[tuple[int, int], ...]:
        """Faulty and tested specimens of each of its lots: all that many cells at once need, at little cost."""
        return self.field.lot_counts(self.maker, self.format)

    @cached_property
    def counts(self) -> Counts:
        """Specimens, lots and paints, and how many of each were faulty."""
        return tally(self.lots)

    @cached_property
    def bought(self) -> Mapping[WhyBought, BoughtCounts]:
        """Its specimens by why they were bought: as planned, to confirm, because of a reader's note."""
        return by_reason(self.lots)

    @cached_property
    def explains(self) -> tuple[int, int]:
        """How many of its faulty specimens the leading claim explains, and how many there are."""
        mine = faulty_specimens(self.lots)
        return len(self.claim.explained & mine) if self.claim else 0, len(mine)

    @property
    def reach(self) -> Reach | None:
        """The pooled model's posterior of this maker's format; None where there is none."""
        return self.pooled.reach((self.maker, str(self.format))) if self.pooled else None

    @cached_property
    def levels(self) -> tuple[Likeliest, ...]:
        """What the pooled model says of every extent, the widest first; empty while it has not answered."""
        if self.pooled is None:
            return ()
        known, reach = self.pooled, self.reach
        maker = known.makers.get((self.maker,))
        several = known.formats if len(known.formats) > 1 else {}  # one has no others to be above
        told = (
            *((Extent.PIGMENT, name, known.pigments.get((name,))) for lot in self.lots for name in lot.group),
            (Extent.FORMAT, str(self.format), several.get((str(self.format),))),
            (Extent.MAKER, self.maker_name, maker),
            (Extent.MAKER_FORMAT, f"{self.maker_name}, {self.format}", reach),
            *(
                (Extent.PAINT, lot.row.paint_name, known.paints.get((lot.row.paint, str(self.format))))
                for lot in self.lots
            ),
            *(
                (Extent.LOT, f"{lot.row.paint_name} {lot.row.lot_code}", known.lots.get(tuple(map(str, lot.key))))
                for lot in self.lots
                if lot.coded
            ),
        )
        found: dict[Extent, Likeliest] = {}
        for extent, name, level in told:
            if level is not None and (extent not in found or level.above > found[extent].chance):
                found[extent] = Likeliest(extent, name, level.above)
        return tuple(found.values())

    @property
    def awaited(self) -> bool:
        """Whether the pooled model, or the stress checks of a claim that stands, are still to be worked out."""
        firm = (claim for claim in (self.claim, *self.exceptions) if claim and claim.standing not in _OPEN)
        return self.pending or any(claim.stress is None and not claim.critical for claim in firm)

    @property
    def tells_of_a_fault(self) -> bool:
        """Whether a fault was seen, at the look that counts or, where it may concern health, at a later one."""
        return bool(self.counts.faulty) or self.standing is Standing.SETTLED

    @property
    def unconfirmed(self) -> bool:
        """Whether something of it is still to be confirmed, and so for the tester only."""
        every = (claim for claim in (self.claim, *self.exceptions) if claim)
        return any(claim.standing is Standing.TO_CONFIRM for claim in every)

    @property
    def all_makers(self) -> Counts:
        """The counts of all makers on the criterion."""
        return self.field.counts

    @property
    def usual_rate(self) -> float:
        """The other makers' rate apart from what belongs to a pigment or a format; 0 without other makers."""
        return self.rest.rate_without(self.maker) or 0.0

    @cached_property
    def peers(self) -> Peers:
        """Other makers' paints with the same pigments in the same format."""
        lots = self.field.peers(self.lots)
        return Peers(len({lot.row.maker for lot in lots}), tally(lots))

    @cached_property
    def trail(self) -> Trail:
        """Where its specimens came from, and how they were tested."""
        return trail_of(unit for lot in self.lots for unit in lot.units)

    @cached_property
    def grades(self) -> Grades | None:
        """The grades given."""
        return grades_of(unit.grade for lot in self.lots for unit in lot.units)

    @property
    def extent(self) -> Extent | None:
        """How far it reaches: what is said, or None while nothing is settled."""
        return self.claim.extent if self.claim and self.standing not in _OPEN else None

    @property
    def leaning(self) -> Extent | None:
        """What the faults point to without settling it."""
        return self.claim.extent if self.claim and self.standing in _OPEN else None


@dataclass(frozen=True, slots=True, kw_only=True)
class TraitSummary:
    """Grades or choices of a trait at one maker in one format: a position, not a merit."""

    criterion: Criterion
    maker: str
    maker_name: str
    format: str
    tested: int
    grades: Grades | None
    choices: Mapping[str, int]
    missing: int
