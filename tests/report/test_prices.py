"""Prices of a ledger: what was weighed, and what the guide says of it."""

import re
from datetime import date
from decimal import Decimal

from qcledger.ledger import Ledger
from qcledger.records import Observation, Trial
from qcledger.report.prices import dry_weights, prices_of
from qcledger.rubric import parse
from qcledger.settings import shipped
from qcledger.vocab import Censored, Occasion
from tests.small import START, stock, ticking


def weighing():
    """Return the scale file that the guide shows."""
    text = (shipped("guide") / "price.md").read_text(encoding="utf-8")
    return parse(re.search(r"```yaml\n(.*?)```", text, re.DOTALL)[1], "the guide")


def test_dry_paint_counts_where_it_was_weighed(home, tmp_path):
    """The last exact reading of a piece; one beyond a limit, one in another unit and other pieces say nothing."""
    rubric = weighing()
    with Ledger.create(tmp_path / "l.sqlite", letters="OV", tester="OV", sources=ticking(), zone="Etc/UTC") as ledger:
        ledger.append([ledger.keep_rubric(rubric), *stock(3)])
        for n, (reading, censored) in enumerate([(1.18, Censored.EXACT), (20.0, Censored.ABOVE)]):
            ledger.append([
                Trial(id=f"t{n}", specimen=f"sp{n:02}", occasion=Occasion.UNPACKING, at=START),
                Observation(id=f"o{n}", trial=f"t{n}", criterion="dry_paint", rubric=rubric.hash, tester="OV",
                            at=START, reading=reading, censored=censored, grade=3.0),
            ])  # fmt: skip
        assert dry_weights(ledger) == {"sp00": Decimal("1.18")}
        found = {one.piece.specimen: one.piece.dry_g for one in prices_of(ledger).pieces}
        assert found == {"sp00": Decimal("1.18"), "sp01": None, "sp02": None}
        assert ledger.day(START) == date(2026, 3, 9)
