"""A small ledger with one sheet at work, for tests of the bench and the pages."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

from qcledger.bench import sheets
from qcledger.bench.record import WrittenGrade, write, write_back
from qcledger.bench.result import Pencil, Result
from qcledger.bench.runsheet import RunSheet, SheetSquare
from qcledger.ledger import Ledger, Sources
from qcledger.records import (
    Comparison,
    LabelVersion,
    Lot,
    Maker,
    Paint,
    Parcel,
    Record,
    RunRow,
    Session,
    Sheet,
    Specimen,
    Stage,
)
from qcledger.rubric import Rubric, load, parse
from qcledger.vocab import Blinding, Format, StageName
from tests.copies import copied

TEN = Path(__file__).with_name("ten.yaml")
START = datetime(2026, 3, 9, 9, 0, tzinfo=UTC)
PAINTS = (("Viridian", "PG18"), ("Kiln Red", "PR101"), ("Fjell", "PB36"), ("Ochre", "PY42"))


def ticking(start: datetime = START) -> Sources:
    """Return sources whose time goes on by a second a look, with ids and salts that count."""
    moments = (start + timedelta(seconds=n) for n in count())
    ids, salts = count(1), count(1)
    return Sources(lambda: next(moments), lambda: f"id-{next(ids):06}", lambda: f"{next(salts):032x}")


@cache
def ten() -> Rubric:
    """Return the rubric with one criterion of each kind."""
    return load(TEN)


@dataclass(frozen=True)
class Small:
    """Where the small ledger is, and its rubric."""

    place: Path
    rubric: Rubric

    def open(self, **kwargs: Any) -> Ledger:
        """Open the ledger."""
        return Ledger.open(self.place, **kwargs)


def stock(lines: int) -> list[Record]:
    """Return one maker's four paints and as many specimens as asked for, from one parcel."""
    rows: list[Record] = [Maker(id="mk", name="Trellmere"), _parcel()]
    for n, (name, pigment) in enumerate(PAINTS):
        rows.append(Paint(id=f"pt{n}", maker="mk", name=name))
        rows.append(LabelVersion(id=f"lb{n}", paint=f"pt{n}", seen_on=date(2026, 1, 2), index_names=(pigment,)))
        rows.append(Lot(id=f"lt{n}", paint=f"pt{n}", format=Format.HALF_PAN, code=f"T{n}"))
    for n in range(lines):
        paint = n % len(PAINTS)
        rows.append(
            Specimen(
                id=f"sp{n:02}",
                sticker=f"OV {n + 1:04}",
                paint=f"pt{paint}",
                format=Format.HALF_PAN,
                parcel="pc",
                lot=f"lt{paint}",
            )
        )
    return rows


def _parcel() -> Parcel:
    return Parcel(id="pc", bought_on=date(2026, 1, 2), seller="Corner shop", currency="EUR")


def sheet(rubric: Rubric, lines: int, *, blind: bool = False) -> list[Record]:
    """Return a comparison with one session, its wet and dry stages, one sheet, and a run row a specimen."""
    rows: list[Record] = [
        Comparison(
            id="cp", title="viridian, all makers", question="?", started_on=START.date(), rubrics=(rubric.hash,)
        ),
        Session(
            id="se",
            code="S04",
            comparison="cp",
            tester="OV",
            blinding=Blinding.SHUFFLED if blind else Blinding.OPEN,
            started_at=START,
        ),
        Stage(id="wet", session="se", name=StageName.WET),
        Stage(id="dry", session="se", name=StageName.DRY),
        Sheet(id="sh", session="se", number=1, paper="cotton 300 g, cold pressed"),
    ]
    for n in range(lines):
        code = f"{471 + n}" if blind else None
        rows.append(RunRow(id=f"rr{n:02}", session="se", sheet="sh", position=n + 1, specimen=f"sp{n:02}", code=code))
    return rows


def small_ledger(folder: Path, *, lines: int = 3, blind: bool = False, text: str | None = None) -> Small:
    """Make a ledger with `lines` specimens on one open sheet, judged by the rubric of ten or by `text`."""
    rubric = parse(text, "test rubric") if text else ten()

    def make(place: Path) -> None:
        with Ledger.create(place, letters="OV", tester="OV", sources=ticking(), zone="Etc/UTC") as ledger:
            ledger.append([ledger.keep_rubric(rubric), *stock(lines), *sheet(rubric, lines, blind=blind)])

    place = copied(folder / "small.sqlite", ("small", lines, blind, rubric.hash), make)
    return Small(place, rubric)


def graded(small: Small, *, lines: int = 3) -> Small:
    """Grade two criteria of each specimen, regrade the first and take the second back."""
    sources = ticking(START + timedelta(days=1))
    with small.open(write=True, sources=sources) as ledger:
        sheet = sheets.load(ledger, "se")

        def keep(written: WrittenGrade) -> RunSheet:
            ledger.append(written.records)
            return written.on(sheet)

        def pencil() -> Pencil:
            return Pencil(id=f"ob-{sources.new_id()}", tester="OV", at=sources.now())

        for line in range(lines):
            for key in ("edge", "tint"):
                place = SheetSquare(line, key)
                sheet = keep(
                    write(sheet, place, Result(grade=3.0), pencil=pencil(), new_id=lambda: f"n-{sources.new_id()}")
                )
        place = SheetSquare(0, "edge")
        sheet = keep(write(sheet, place, Result(grade=4.0), pencil=pencil(), new_id=sources.new_id))
        sheet = keep(write_back(sheet, SheetSquare(0, "tint"), None, pencil=pencil()))
    return small
