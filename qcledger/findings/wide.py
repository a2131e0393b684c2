"""What holds across makers: a pigment that is like that, a format that is like that. It accuses nobody."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from qcledger.findings import checks
from qcledger.findings.checks import at_least, percent, within
from qcledger.findings.field import Field, Sums, grouped
from qcledger.findings.finding import Check, Claim, Need, What
from qcledger.findings.lots import Lot, faulty_specimens
from qcledger.findings.strength import exchange_p
from qcledger.stats.multiple import holm
from qcledger.vocab import Extent


@dataclass(frozen=True, slots=True)
class _Reading:
    """How a kind of group is read: its extent, what must be equal to compare fairly, and the makers it takes."""

    extent: Extent
    beside: Callable[[Lot], Hashable]
    showing: Callable[[int], int]


_PIGMENT = _Reading(
    Extent.PIGMENT,
    lambda lot: (lot.row.maker, lot.row.format),
    lambda makers: next(n for n in range(makers + 1) if n >= checks.NEARLY_ALL * makers),
)
_FORMAT = _Reading(
    Extent.FORMAT,
    lambda lot: (lot.row.maker, lot.pigments),
    lambda makers: next(n for n in range(makers + 1) if n > checks.MOST * makers),
)


def pigments(field: Field) -> tuple[Claim, ...]:
    """Return what is laid to a pigment: nearly all makers show it with that pigment, and with others they do not."""
    return _claims(_PIGMENT, field, grouped((lot for lot in field.lots if lot.pigments), lambda lot: lot.pigments))


def formats(field: Field) -> tuple[Claim, ...]:
    """Return what is laid to a format: most makers show it in that format, and in their others they do not."""
    return _claims(_FORMAT, field, grouped(field.lots, _format))


def _format(lot: Lot) -> tuple[str, ...]:
    return (str(lot.row.format),)


def _claims(reading: _Reading, field: Field, groups: Mapping[tuple[str, ...], Sequence[Lot]]) -> tuple[Claim, ...]:
    """Return a claim for each group whose pattern is there."""
    totals = _by_maker(field.lots)
    likely = {}
    for subject, inside in groups.items():
        pattern = _pattern(reading, _by_maker(inside), totals)
        if all(check.met for check in pattern):
            likely[subject] = (inside, pattern, exchange_p(inside, _others(field, inside), reading.beside))
    corrected = holm([p for *_, p in likely.values()]).tolist()
    return tuple(
        _claim(reading.extent, subject, inside, (*pattern, within(What.BEYOND_CHANCE, p)))
        for (subject, (inside, pattern, _)), p in zip(likely.items(), corrected, strict=True)
    )


def _claim(extent: Extent, subject: tuple[str, ...], inside: Sequence[Lot], asked: tuple[Check, ...]) -> Claim:
    makers = len({lot.row.maker for lot in inside})
    found = (*asked, at_least(What.MAKERS, makers, checks.MIN_FIELD_MAKERS))
    standing = checks.standing_of(found)
    assert standing is not None  # every check of the pattern is met
    return Claim(extent, subject, tuple(inside), faulty_specimens(inside), found, standing)


def _by_maker(lots: Iterable[Lot]) -> Mapping[str, Sums]:
    found: dict[str, Sums] = defaultdict(lambda: (0, 0))
    for lot in lots:
        faulty, tested = found[lot.row.maker]
        found[lot.row.maker] = (faulty + lot.faulty, tested + lot.tested)
    return found


def _others(field: Field, inside: Sequence[Lot]) -> list[Lot]:
    """Return the other lots of the makers that have some inside."""
    makers, keys = {lot.row.maker for lot in inside}, {lot.key for lot in inside}
    return [lot for lot in field.lots if lot.row.maker in makers and lot.key not in keys]


def _pattern(reading: _Reading, inside: Mapping[str, Sums], totals: Mapping[str, Sums]) -> tuple[Check, Check]:
    """Return whether enough makers show it inside, and whether the same makers' other specimens are free of it."""
    outside = {
        maker: (totals[maker][0] - faulty, totals[maker][1] - tested) for maker, (faulty, tested) in inside.items()
    }
    rate, rest = _rate(inside), _rate(outside)
    far = rest is not None and (rate or 0.0) - rest > checks.DELTA and _showing(outside) <= checks.MOST * len(outside)
    found = "nothing beside it" if rest is None else f"{percent(rate or 0.0)} beside {percent(rest)}"
    needed = max(2, reading.showing(len(inside)))
    return (
        at_least(What.MAKERS_SHOWING, _showing(inside), needed, Need.PATTERN),
        Check(What.CONTRAST, far, found, f"more than {percent(checks.DELTA)} above the rest", Need.PATTERN),
    )


def _rate(makers: Mapping[str, Sums]) -> float | None:
    faulty, tested = (sum(both) for both in zip(*makers.values(), strict=True))
    return faulty / tested if tested else None


def _showing(makers: Mapping[str, Sums]) -> int:
    """Return how many makers show it in half of their specimens or more."""
    return sum(tested > 0 and faulty >= checks.MOST * tested for faulty, tested in makers.values())
