"""A stock of two formats to plan sheets on: four makers, four paints each, a half pan and a tube of each."""

from datetime import date
from pathlib import Path

import pytest

from qcledger.bench import orders, planning
from qcledger.bench.wishes import Asking, ProposedSheet, propose
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Maker, Paint, Parcel, Record, Specimen
from qcledger.settings import Settings
from qcledger.vocab import Format
from tests.small import PAINTS, START, ticking

MAKERS = ("Corvannet", "Drumlaw", "Quernlow", "Vardelune")
PANS = "OV 0001, OV 0003, OV 0005, OV 0007, OV 0009, OV 0011, OV 0013, OV 0015, OV 0017, OV 0019, OV 0021"
ASKED = {
    "comparison": "four paints",
    "rubric": "watercolour",
    "specimens": PANS,
    "paper": "cotton 300 g",
    "blinding": "shuffled by myself",
}


def shelf() -> list[Record]:
    """Return the stock: OV 0001 is a half pan, OV 0002 the tube of the same paint, and so on to OV 0032."""
    rows: list[Record] = [Parcel(id="pc", bought_on=date(2026, 1, 2), seller="Corner shop", currency="EUR")]
    for m, maker in enumerate(MAKERS):
        rows.append(Maker(id=f"mk{m}", name=maker))
        for p, (paint, pigment) in enumerate(PAINTS):
            own = f"{m}{p}"
            rows.append(Paint(id=f"pt{own}", maker=f"mk{m}", name=paint))
            rows.append(
                LabelVersion(id=f"lb{own}", paint=f"pt{own}", seen_on=date(2026, 1, 2), index_names=(pigment,))
            )
            for f, format_ in enumerate((Format.HALF_PAN, Format.TUBE)):
                number = 8 * m + 2 * p + f + 1
                rows.append(
                    Specimen(
                        id=f"sp{number:02}", sticker=f"OV {number:04}", paint=f"pt{own}", format=format_, parcel="pc"
                    )
                )
    return rows


def search_shortly(patch: pytest.MonkeyPatch) -> None:
    """Let orders be found by a short search: what a sheet holds does not depend on how even it is."""
    patch.setattr(planning, "arrange", lambda asked, chance, turns: orders.arrange(asked, chance, turns=5))


def new_ledger(folder: Path) -> Ledger:
    """Return a ledger with the stock, open for writing."""
    place = folder / "planned.sqlite"
    ledger = Ledger.create(place, letters="OV", tester="Oda Vane", sources=ticking(), zone="Etc/UTC")
    ledger.append(shelf())
    return ledger


def proposed(ledger: Ledger, seed: int = 7, **values: str) -> ProposedSheet:
    """Return the sheet that `ASKED` and these values make."""
    asking = Asking(Settings(), START, f"new-{seed}", seed)
    return propose({**ASKED, **values}, ledger, asking)
