"""The smallest pattern that can be said, worked out by the program: ``python -m tests.bench.calibration.smallest``.

Everything beside it is sound, so with any stray fault more is needed. A criterion more is the same ledger judged on
one criterion more with the same grades: each then takes its share of the level.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from qcledger.findings import gather
from qcledger.findings.finding import Claim
from qcledger.findings.model import answer, question
from qcledger.findings.overview import find
from qcledger.findings.pool import Pool
from qcledger.findings.stress import Worries
from qcledger.records import TestedRow
from qcledger.vocab import Extent, Standing
from tests.findings.made import SESSIONS, criterion, field, only, paints, row

CRITERIA = (1, 7, 12)
MOST = 40
"""Where so many would not do, none is named."""
PIGMENTS = tuple(f"PX{number}" for number in range(MOST))

Rows = Callable[[int], Sequence[TestedRow]]


def _lot(number: int) -> Sequence[TestedRow]:
    bad = [row(lot="L1", grade=5, session=SESSIONS[place % 3]) for place in range(number)]
    sound = [row(lot=lot, session=session, parcel=lot) for lot in ("L2", "L3") for session in SESSIONS]
    return [*bad, *sound]


def _paint(number: int) -> Sequence[TestedRow]:
    bad = [
        row(paint="Paint PR101", lot=f"L{place}", parcel=f"P{place}", grade=5, session=SESSIONS[place % 3])
        for place in range(number)
    ]
    return [*bad, *paints("A", pigments=("PY42", "PB29", "PG7")), *field()]


def _parcel(number: int) -> Sequence[TestedRow]:
    return [
        row(paint=f"Paint {place}", lot=parcel, parcel=parcel, grade=5 * (parcel == "hot"))
        for place in range(number)
        for parcel in ("hot", "P2", "P3")
    ]


def _maker_format(number: int) -> Sequence[TestedRow]:
    pigments = PIGMENTS[:number]
    return [*paints("A", bad=5, pigments=pigments), *field("BCDEF", pigments=pigments)]


PATTERNS: tuple[tuple[str, Extent, Standing, Rows], ...] = (
    ("to confirm: a lot, beside six sound ones of two lots; faulty specimens", Extent.LOT, Standing.TO_CONFIRM, _lot),
    ("settled: a lot without a further specimen; faulty specimens", Extent.LOT, Standing.SETTLED, _lot),
    (
        "to confirm: a paint, a specimen a lot, beside 16 sound lots; faulty lots",
        Extent.PAINT,
        Standing.TO_CONFIRM,
        _paint,
    ),
    ("settled: a parcel, beside two sound ones as large; faulty lots", Extent.PARCEL, Standing.SETTLED, _parcel),
    (
        "to confirm: a maker's format, two lots of each paint, all faulty, beside five sound makers; paints",
        Extent.MAKER_FORMAT,
        Standing.TO_CONFIRM,
        _maker_format,
    ),
)


def said(rows: Sequence[TestedRow], criteria: int) -> Iterator[Claim]:
    """Yield what is claimed on the first of so many criteria with the same grades."""
    keys = [f"c{place}" for place in range(criteria)]
    every = [replace(one, criterion=key, observation=f"{one.observation} {key}") for one in rows for key in keys]
    evidence = gather(every, only(*map(criterion, keys)))
    asking = Pool({}.get, _Plain())
    find(evidence, pool=asking, among=keys[:1])
    asked = asking.missing.get(keys[0])
    kept = {asked.key: answer(question(asked.field, asked.suspects, asked.line))} if asked and asked.suspects else {}
    for one in find(evidence, pool=Pool(kept.get, _Plain()), among=keys[:1]).findings:
        yield from (claim for claim in (one.claim, *one.exceptions) if claim and one.maker == "A")


class _Plain(Worries):
    """Leaves claims as they are: what is left out of such patterns takes nothing from them but their number."""

    def about(self, claim, case, line):
        """Return `claim`."""
        return claim


def smallest(extent: Extent, standing: Standing, rows: Rows, criteria: int, most: int = MOST) -> int | None:
    """Return the smallest number with which a pattern of this extent has this standing, or a firmer one."""
    firm = (Standing.TO_CONFIRM, Standing.SETTLED)
    enough = firm[firm.index(standing) :]
    for number in range(2, most + 1):
        if any(one.extent is extent and one.standing in enough for one in said(rows(number), criteria)):
            return number
    return None


def table(wanted: Sequence[Extent] = tuple(Extent)) -> Iterator[str]:
    """Yield the lines of the table in Markdown, of some extents."""
    yield f"| smallest that can be said, with so many criteria | {' | '.join(map(str, CRITERIA))} |"
    yield f"|---|{'---|' * len(CRITERIA)}"
    for name, extent, standing, rows in PATTERNS:
        if extent in wanted:
            found = [smallest(extent, standing, rows, criteria) for criteria in CRITERIA]
            yield f"| {name} | {' | '.join(str(one or f'over {MOST}') for one in found)} |"


if __name__ == "__main__":
    for line in table():
        print(line, flush=True)
