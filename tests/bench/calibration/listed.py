"""Six rounds of buying what the list of what to buy names, in a fair field: who is accused at any look.

In each round the list plans a purse of six pieces, each at one price, and all of it is bought: from a seller not met
before, of another lot or of the lot it names; then the program looks at everything again. What is bought is written
down as the list says, planned or to confirm.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import count

import numpy as np

from qcledger.findings import gather
from qcledger.findings.shopping import Errand, LastPrice, PaintOf, plan
from qcledger.records import TestedRow
from qcledger.vocab import Extent, Standing, WhyBought
from tests.bench.calibration.after import _eta, _further
from tests.bench.calibration.program import FORMATS, rows_of, said_in
from tests.bench.calibration.scenarios import SMALL, Recipe, Truth, graded, looked_at, make
from tests.findings.made import FROTH, only, row

ROUNDS, PRICE, PIECES = 6, 500, 6
BEGAN = date(2026, 4, 1)
ACCUSES = (Extent.MAKER, Extent.MAKER_FORMAT)
NARROW = (Extent.PAINT, Extent.PARCEL, Extent.LOT)


def by_the_list(rho: float, seed: tuple[int, int], number: int) -> dict[str, object]:
    """Return who is accused, and against whom it holds, at each look, and what was settled of narrower things."""
    truth, rng = make(Recipe(SMALL, rho), seed), np.random.default_rng([*seed, 8])
    rows, codes = list(rows_of(truth)), count(1000)
    prices = _prices(rows)
    lots: dict[str, int] = {}
    accused, held, narrow, bought = [], [], [], []
    for turn in range(ROUNDS + 1):
        said = said_in(gather(rows, only(FROTH)))
        accused.append(said.accused)
        held.append(sorted(said.claims(*ACCUSES, standings=(Standing.SETTLED,))))
        narrow.append(len(said.claims(*NARROW, standings=(Standing.SETTLED,))))
        if turn < ROUNDS:
            taken = plan(said.findings, prices, PRICE * PIECES).taken
            new = [one for errand in taken for one in _bought(errand, truth, lots, codes, turn, rng)]
            bought.append([len(new), sum(one.why is WhyBought.TO_CONFIRM for one in new)])
            rows += new
    return {"accused": accused, "held": held, "narrow": narrow, "bought": bought}


def _prices(rows: list[TestedRow]) -> dict[PaintOf, list[LastPrice]]:
    price = LastPrice(PRICE, "seller of P0", BEGAN, "5.00 EUR")
    return {(one.paint, str(one.format)): [price] for one in rows}


def _bought(
    errand: Errand, truth: Truth, lots: dict[str, int], codes: "count[int]", turn: int, rng: np.random.Generator
) -> Iterator[TestedRow]:
    """Yield the specimens of a purchase; two of a lot where other lots are bought beside a bad one."""
    twice = any(line.pieces.lot for line in errand.lines) and len(errand.lines) > 1
    for line in errand.lines:
        maker, name = line.paint.split("/")
        format_ = [str(one) for one in FORMATS].index(line.pieces.format)
        own = [
            place
            for place, lot in enumerate(truth.lots)
            if (lot.maker, lot.paint[1], lot.format) == (int(maker), int(name[1:]), format_)
        ]
        grades: tuple[float, ...] = ()
        code = ""
        for _ in range(line.count):
            if line.pieces.lot is not None:
                code, grades = line.pieces.lot, (_of_lot(truth, line.pieces.lot, lots, rng),)
            elif not grades:
                code = f"L{next(codes)}"
                lots[code] = own[0]
                read = graded(_eta(truth, own[0]), 2 if twice else 1, truth.rho, rng)
                grades = looked_at(read, rng)
            grade, grades = grades[0], grades[1:]
            yield replace(
                row(
                    maker=maker, paint=name, pigments=truth.lots[own[0]].pigments, format=FORMATS[format_], lot=code,
                    grade=grade, session=f"S{int(rng.integers(4))}", parcel=f"N{turn}",
                    why=WhyBought.TO_CONFIRM if line.pieces.confirms else WhyBought.PLANNED,
                ),
                bought_on=BEGAN + timedelta(days=turn),
            )  # fmt: skip


def _of_lot(truth: Truth, code: str, lots: dict[str, int], rng: np.random.Generator) -> float:
    """Draw the grade of a further specimen of a lot; one that was bought later has the rate of its paint again."""
    if code not in lots:
        return _further(truth, int(code[1:]), rng)
    return looked_at(graded(_eta(truth, lots[code]), 1, truth.rho, rng), rng)[0]
