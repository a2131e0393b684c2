"""What is to confirm, what is then bought to confirm it as the rules ask, and what is settled after that.

For a maker or its format: two lots of two specimens each, of two of its paints but the worst, from a new seller. For
a lot: one further specimen. For a paint: a new lot of two from a new seller. Once; who buys again looks again.
"""

from collections.abc import Iterator
from itertools import count

import numpy as np

from qcledger.findings import Claim, gather
from qcledger.findings.finding import CheckName
from qcledger.findings.spread import worst_paints
from qcledger.records import TestedRow
from qcledger.vocab import Extent, Standing, WhyBought
from tests.bench.calibration.judge import lots_named, mean_effect, none_found
from tests.bench.calibration.program import REACHED, Said, claimed, rows_of, said_in
from tests.bench.calibration.scenarios import BAD_PAINT, Recipe, Truth, graded, looked_at, make
from tests.findings.made import FROTH, only, row

ACCUSES = (Extent.MAKER, Extent.MAKER_FORMAT)
SETTLED = (Standing.SETTLED,)


def after(recipe: Recipe, seed: tuple[int, int], number: int) -> dict[str, object]:
    """Return what is said of one ledger before, and after, what the rules ask for was bought to confirm."""
    truth = make(recipe, seed)
    rows = list(rows_of(truth))
    first = said_in(gather(rows, only(FROTH)), strict=False)
    bought = list(bought_to_confirm(first, recipe, truth, np.random.default_rng([*seed, 6])))
    second = said_in(gather([*rows, *bought], only(FROTH)), strict=False) if bought else first
    accused = second.claims(*ACCUSES).values()
    named, settled = first.accused, [claimed(claim) for claim in accused if claim.standing in SETTLED]
    return {
        "guilty": truth.guilty,
        "also": truth.also,
        "to_confirm": named,
        "confirmed": [claimed(claim) for claim in accused if _bears_out(claim)],
        "settled": settled,
        "innocent": any(mean_effect(truth, name) <= 0 for name in named),
        "innocent_settled": any(mean_effect(truth, name) <= 0 for name in settled),
        "lot": lots_named(first),
        "lot_settled": _lots(second),
        "paint": sorted(_paints(first, REACHED)),
        "paint_settled": sorted(_paints(second, SETTLED)),
        "pigment": [subject[0] for subject in first.claims(Extent.PIGMENT, standings=SETTLED)],
        "none_found": none_found(first),
    }


def _bears_out(claim: Claim) -> bool:
    """Say whether everything but the leaving out is met: what stood without that rule."""
    return all(check.met for check in claim.checks if check.name is not CheckName.LEFT_OUT)


def _lots(said: Said) -> list[int]:
    claims = said.claims(Extent.LOT, standings=SETTLED).values()
    return [int(str(claim.lots[0].row.lot_code)[1:]) for claim in claims]


def _paints(said: Said, standings: tuple[Standing, ...]) -> set[tuple[int, int]]:
    firsts = [claim.lots[0].row for claim in said.claims(Extent.PAINT, standings=standings).values()]
    return {(int(one.maker), int(one.paint_name[1:])) for one in firsts}


def bought_to_confirm(said: Said, recipe: Recipe, truth: Truth, rng: np.random.Generator) -> Iterator[TestedRow]:
    """Yield the specimens bought to confirm whatever is to be confirmed."""
    codes = count(1000)
    for claim in said.claims(*ACCUSES, Extent.LOT, Extent.PAINT).values():
        if claim.standing is not Standing.TO_CONFIRM:
            continue
        if claim.extent is Extent.LOT:
            place = int(str(claim.lots[0].row.lot_code)[1:])
            yield _piece(claim.lots[0].row, f"L{place}", _further(truth, place, rng))
            continue
        worst = worst_paints(claim.lots) if claim.extent in ACCUSES else ()
        own = {lot.row.paint: int(str(lot.row.lot_code)[1:]) for lot in claim.lots if lot.row.paint not in worst}
        for paint in rng.permutation(sorted(own))[: 2 if claim.extent in ACCUSES else 1].tolist():
            code = f"L{next(codes)}"
            for grade in _new(recipe, truth, own[paint], rng):
                yield _piece(next(lot.row for lot in claim.lots if lot.row.paint == paint), code, grade)


def _piece(like: TestedRow, code: str, grade: float) -> TestedRow:
    """Return one specimen of the paint of `like`, of a lot, from a seller not met before."""
    return row(
        maker=like.maker,
        paint=like.paint_name,
        pigments=like.pigments,
        format=like.format,
        lot=code,
        grade=grade,
        session=like.session,
        parcel="P99",
        why=WhyBought.TO_CONFIRM,
    )


def _further(truth: Truth, place: int, rng: np.random.Generator) -> float:
    """Draw the grade of a further specimen of a lot: all of a planted bad lot are faulty, else its rate is drawn."""
    if ("lot", place, -1) in (truth.guilty, truth.also):
        return 5.0
    lot, rate = truth.lots[place], 1 / (1 + np.exp(-_eta(truth, place)))
    strength = (1 - truth.rho) / truth.rho
    own = rng.beta(rate * strength + lot.faulty, (1 - rate) * strength + lot.tested - lot.faulty)
    return looked_at(graded(float(np.log(own / (1 - own))), 1, 1e-6, rng), rng)[0]


def _new(recipe: Recipe, truth: Truth, place: int, rng: np.random.Generator) -> tuple[float, ...]:
    """Draw the grades of a new lot of two of the paint that a lot is of."""
    if recipe.planted == BAD_PAINT and truth.guilty == ("paint", *truth.lots[place].paint):
        return 5.0, 5.0
    return looked_at(graded(_eta(truth, place), 2, truth.rho, rng), rng)


def _eta(truth: Truth, place: int) -> float:
    lot = truth.lots[place]
    return float(truth.eta[place] + truth.paint[place] + truth.effects[lot.maker, lot.format])
