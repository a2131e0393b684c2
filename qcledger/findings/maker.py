"""Accusing a maker, or a maker's format: a pattern over its paints and lots, against its peers, confirmed anew."""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from qcledger.findings import checks
from qcledger.findings.checks import at_least, percent
from qcledger.findings.field import Field, grouped, sums
from qcledger.findings.finding import Check, Claim, Need, What
from qcledger.findings.lots import Lot, faulty_parcels, faulty_specimens, rate_of
from qcledger.findings.strength import Strength, Suspect, tail_p
from qcledger.vocab import Extent, Nature, Why


@dataclass(frozen=True, slots=True)
class Accusation:
    """A suspect and the field it is held against: the lots that no pigment and no format explains."""

    field: Field
    suspect: Suspect

    def excess(self, lots: Sequence[Lot]) -> Check:
        """Return whether `lots` are worse than their peers, or than the other makers where there are no peers."""
        faulty, tested = self.field.peer_sums(self.suspect.maker, {lot.kind for lot in lots})
        other = faulty / tested if tested else self.field.rate_without(self.suspect.maker)
        needed = f"more than {percent(checks.DELTA)} above the other makers"
        if other is None:
            return Check(What.EXCESS, False, "no other maker tested", needed)
        rate = rate_of(lots) or 0.0
        found = f"{percent(rate)} beside {percent(other)}"
        return Check(What.EXCESS, rate - other > checks.DELTA, found, needed, Need.PATTERN)


def claims(field: Field, strength: Strength) -> tuple[Claim, ...]:
    """Return what is held against makers and their formats, the wider first, where the pattern is there.

    Whoever has paints and lots enough to be accused is in the family that `strength` corrects over, faulty or not.
    """
    everyone = _suspects(field)
    cases = (Accusation(field, suspect) for suspect in everyone)
    accused = [(case, pattern) for case in cases if (pattern := checks.if_pattern(_pattern(case)))]
    if not accused:
        return ()
    family = sum(_is_large_enough(suspect) for suspect in everyone)
    ready = [case.suspect for case, _ in accused if _is_large_enough(case.suspect)]
    answers = iter(strength(field, ready, family))
    untold = Check(What.BEYOND_CHANCE, False, "too few paints or lots to compare", "enough of both")
    return tuple(
        _claim(case, pattern, next(answers) if _is_large_enough(case.suspect) else untold)
        for case, pattern in accused
    )


def _suspects(field: Field) -> tuple[Suspect, ...]:
    """Return every maker, and then every maker's format."""
    whole = (Suspect(maker, None, tuple(lots)) for maker, lots in field.by_maker.items())
    parts = (Suspect(maker, format_, tuple(lots)) for (maker, format_), lots in field.by_cell.items())
    return (*whole, *parts)


def _is_large_enough(suspect: Suspect) -> bool:
    """Return whether it has paints and lots enough to be accused, whatever their faults."""
    coded = sum(lot.row.lot is not None for lot in suspect.lots)
    return coded >= checks.MIN_LOTS and _different(suspect.lots, "paint") >= checks.MIN_PAINTS


def _claim(case: Accusation, pattern: tuple[Check, ...], chance: Check) -> Claim:
    suspect, lots = case.suspect, case.suspect.lots
    peers = case.field.peers(lots)
    enough = (*_size(suspect), _peers(case), _sessions(lots, peers), _parcels(suspect))
    asked = (*pattern, *enough, chance, _confirmed(lots, peers))
    standing = checks.standing_of(asked)
    assert standing is not None  # every check of the pattern is met
    name = lots[0].row.maker_name
    if suspect.format is None:
        return Claim(Extent.MAKER, (name,), lots, faulty_specimens(lots), asked, standing)
    return Claim(Extent.MAKER_FORMAT, (name, str(suspect.format)), lots, faulty_specimens(lots), asked, standing)


def _pattern(case: Accusation) -> Iterator[Check]:
    """Yield what makes it this maker's: faults over its lots, paints and purchases, more than at the others."""
    faulty = [lot for lot in case.suspect.lots if lot.faulty]
    yield at_least(What.FAULTY_LOTS, sum(lot.coded for lot in faulty), checks.MIN_FAULTY, Need.PATTERN)
    yield case.excess(case.suspect.lots)
    yield at_least(What.FAULTY_PAINTS, _different(faulty, "paint"), checks.MIN_FAULTY, Need.PATTERN)
    yield at_least(What.FAULTY_PARCELS, len(faulty_parcels(faulty)), checks.MIN_FAULTY, Need.PATTERN)
    if case.suspect.format is None:
        pigments = len({lot.pigments for lot in faulty})
        yield at_least(What.FAULTY_PIGMENTS, pigments, checks.MIN_FAULTY, Need.PATTERN)
        yield at_least(What.FAULTY_FORMATS, _different(faulty, "format"), checks.MIN_FAULTY, Need.PATTERN)
        yield _no_format_is_free(case)


def _size(suspect: Suspect) -> tuple[Check, Check]:
    return (
        at_least(What.PAINTS, _different(suspect.lots, "paint"), checks.MIN_PAINTS),
        at_least(What.LOTS, sum(lot.coded for lot in suspect.lots), checks.MIN_LOTS),
    )


def _no_format_is_free(case: Accusation) -> Check:
    """Return whether each format tested often enough to tell shows the excess; one that is free of it narrows it."""
    free = []
    for format_, lots in grouped(case.suspect.lots, lambda lot: lot.row.format).items():
        if sum(lot.tested for lot in lots) < checks.MIN_TO_CLEAR:
            continue
        if not case.excess(lots).met:
            free.append(str(format_))
    return Check(What.OTHER_FORMATS, not free, ", ".join(free) or "none free of it", "none free of it", Need.PATTERN)


def _peers(case: Accusation) -> Check:
    """Return whether enough of the suspect's pigments were tested at enough other makers in the same format."""
    trait = case.field.criterion.nature is not Nature.FAULT
    least = checks.MIN_FIELD_MAKERS if trait else checks.MIN_PEER_MAKERS
    kinds = {lot.kind for lot in case.suspect.lots if lot.pigments}
    with_peers = len({kind[0] for kind in kinds if case.field.makers_of_kind(kind) - 1 >= least})
    lacking = max(checks.MIN_PEER_PIGMENTS - with_peers, 0)
    needed = f"{checks.MIN_PEER_PIGMENTS} or more, each at {least} other makers in the same format"
    return Check(What.PEERS, not lacking, str(with_peers), needed, missing=lacking)


def _sessions(lots: Sequence[Lot], peers: Sequence[Lot]) -> Check:
    """Return whether the suspect was tested beside its peers more than once; at unpacking, on more than one day."""
    ours = {unit.row.session for lot in lots for unit in lot.units}
    theirs = {unit.row.session for lot in peers for unit in lot.units}
    shared = len((ours & theirs) - {None})
    if ours == {None}:
        days = {unit.row.trial_at.date() for lot in lots for unit in lot.units}
        return _times(len(days), "unpacked on {} day", "different days of unpacking")
    return _times(shared, "{} session", "valid sessions that hold its peers too")


def _times(found: int, told: str, needed: str) -> Check:
    text = told.format(found) + ("" if found == 1 else "s")
    lacking = max(checks.MIN_SESSIONS - found, 0)
    return Check(What.SESSIONS, not lacking, text, f"{checks.MIN_SESSIONS} or more {needed}", missing=lacking)


def _parcels(suspect: Suspect) -> Check:
    parcels = {unit.row.parcel for lot in suspect.lots for unit in lot.units}
    return at_least(What.PARCELS, len(parcels), checks.MIN_PARCELS)


def _confirmed(lots: Sequence[Lot], peers: Sequence[Lot]) -> Check:
    """Return whether specimens bought to confirm, of other lots from other sellers, bear it out on their own."""
    units = [unit for lot in lots for unit in lot.units]
    first = [unit.row for unit in units if unit.row.why is not Why.TO_CONFIRM]
    known: set[Hashable] = {row.lot for row in first}
    sellers = {unit.row.seller for unit in units if unit.faulty and unit.row.why is not Why.TO_CONFIRM}
    fresh = [
        unit
        for unit in units
        if unit.row.why is Why.TO_CONFIRM
        and unit.row.lot is not None
        and unit.row.lot not in known
        and unit.row.seller not in sellers
    ]
    faulty = sum(bool(unit.faulty) for unit in fresh)
    peer_faulty, peer_tested = sums(peers)
    usual = (peer_faulty + 1) / (peer_tested + 2)  # never 0: Laplace's rule of succession
    met = faulty >= checks.MIN_TO_CONFIRM and tail_p(faulty, len(fresh), usual) <= checks.EXACT_LEVEL
    needed = f"{checks.MIN_TO_CONFIRM} or more faulty, of another lot from another seller, beyond the peers' rate"
    lacking = max(checks.MIN_TO_CONFIRM - len(fresh), 0)
    found = f"{faulty} of {len(fresh)}" if fresh else "none"
    return Check(What.CONFIRMED, met, found, needed, Need.CONFIRMATION, lacking)


def _different(lots: Iterable[Lot], field: str) -> int:
    return len({getattr(lot.row, field) for lot in lots})
