"""A small invented ledger for tests, and what tests do to ledgers."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from qcledger import rubric
from qcledger.ledger import Ledger, Sources
from qcledger.records import (
    TABLES,
    Card,
    Comparison,
    Condition,
    Decision,
    ExchangeRate,
    Import,
    LabelVersion,
    Lot,
    Maker,
    MakerAnswer,
    Observation,
    Paint,
    Parcel,
    Preparation,
    Publication,
    Question,
    Range,
    ReaderNote,
    Record,
    RubricText,
    RunRow,
    SameAs,
    Seller,
    Session,
    Sheet,
    Specimen,
    Stage,
    Statement,
    Trial,
    Zone,
)
from qcledger.settings import shipped
from qcledger.vocab import Blinding, DecisionKind, Format, Occasion, PreparationKind, Sameness, StageName
from tests.copies import copied
from tests.ledger.schemas import Schemas

NOON = datetime(2026, 3, 9, 12, tzinfo=UTC)
RUBRIC = rubric.load(shipped("rubrics") / "watercolour.yaml")
KEPT = RubricText(id=RUBRIC.hash, key=RUBRIC.key, text=RUBRIC.text)
PACKING = rubric.load(shipped("rubrics") / "packaging.yaml")
PACKED = RubricText(id=PACKING.hash, key=PACKING.key, text=PACKING.text)


def basics() -> list[Record]:
    """Return the rows an observation of ``trial`` needs, each after those it names."""
    return [
        KEPT,
        Maker(id="maker", name="Quernlow"),
        Paint(id="paint", maker="maker", name="Viridian", number="231"),
        LabelVersion(id="label", paint="paint", seen_on=date(2026, 1, 5), index_names=("PG18",)),
        Lot(id="lot", paint="paint", format=Format.HALF_PAN, code="Q4471"),
        Parcel(id="parcel", bought_on=date(2026, 2, 1), seller="Seller one", currency="EUR", tax_included=True),
        Specimen(
            id="specimen",
            sticker="OV 0001",
            paint="paint",
            format=Format.HALF_PAN,
            parcel="parcel",
            lot="lot",
            label_version="label",
            nominal_ml=Decimal("1.50"),
            price_minor=395,
        ),
        Comparison(
            id="comparison",
            title="Viridian, all makers",
            question="Which viridian rewets?",
            started_on=date(2026, 3, 1),
            rubrics=(RUBRIC.hash,),
            paints=("paint",),
            reference_paper="cold pressed, 300 g",
        ),
        Session(
            id="session",
            code="4",
            comparison="comparison",
            tester="Oda Vane",
            blinding=Blinding.SHUFFLED,
            started_at=NOON,
            closed_at=NOON,
        ),
        Sheet(id="sheet", session="session", number=1, paper="cold pressed, 300 g"),
        RunRow(id="run_row", session="session", sheet="sheet", position=1, specimen="specimen", code="471"),
        Trial(
            id="trial", specimen="specimen", occasion=Occasion.BENCH, at=NOON, session="session", run_row="run_row"
        ),
    ]


def others() -> list[Record]:
    """Return a row of each table that `basics` has none of and that is not written by the ledger itself."""
    return [
        Zone(id="zone", name="Europe/Berlin"),
        Import(id="import", name="stock 2026", sha256="0" * 64, rows=12),
        Range(id="range", maker="maker", name="artists'"),
        Seller(id="seller", name="Seller one", country="DE"),
        SameAs(
            id="same",
            kind=Sameness.CALLED,
            subject_table="maker",
            subject="maker",
            name="Quernlow",
            by="Oda Vane",
            on=date(2026, 3, 9),
            reason="as on the label",
        ),
        Question(id="question", maker="maker", asked_on=date(2026, 3, 9), by="Oda Vane", sentences=("Is it known?",)),
        Publication(id="edition", number=1, title="Viridians", on=date(2026, 3, 9), by="Oda Vane"),
        Statement(
            id="statement",
            publication="edition",
            finding="rewetting quernlow",
            standing="settled",
            extent="maker",
            sentence="3 of 3.",
        ),
        Card(id="card", code="K 1", planned_on=date(2026, 3, 9), specimens=("specimen",)),
        Preparation(id="preparation", specimen="specimen", kind=PreparationKind.FRESH, on=date(2026, 3, 9)),
        Stage(id="stage", session="session", name=StageName.WET, started_at=NOON, lux=900.0, humidity_pct=45.5),
        Condition(id="condition", stage="stage", name="water", value="rain", at=NOON, by="Oda Vane"),
        Decision(
            id="decision",
            kind=DecisionKind.HOLD_BACK,
            subject_table="comparison",
            subject="comparison",
            by="Oda Vane",
            on=date(2026, 3, 9),
            reason="one lot only",
        ),
        ReaderNote(id="note", maker="maker", told_on=date(2026, 3, 9), fault="cracked", format=Format.HALF_PAN),
        MakerAnswer(id="answer", maker="maker", asked_on=date(2026, 3, 9), asked="Is lot Q4471 known to you?"),
        ExchangeRate(
            id="rate", on=date(2026, 3, 9), base="GBP", quote="EUR", rate=Decimal("1.15"), source="a central bank"
        ),
    ]


def graded(id: str, grade: float = 1.0, **fields: object) -> Observation:  # noqa: A002
    """Return an observation of ``trial``."""
    values: dict[str, object] = {
        "id": id,
        "trial": "trial",
        "criterion": "evenness",
        "rubric": RUBRIC.hash,
        "tester": "Oda Vane",
        "at": NOON,
        "grade": grade,
    }
    return Observation(**(values | fields))  # type: ignore[arg-type]


def unpacked(id: str, grade: float = 1.0, **fields: object) -> Observation:  # noqa: A002
    """Return an observation of what is judged at unpacking; its rubric is `PACKED`."""
    return graded(id, grade, **({"trial": "unpacked", "criterion": "cracked", "rubric": PACKING.hash} | fields))


def tried(id: str, grade: float = 1.0, **fields: object) -> list[Record]:  # noqa: A002
    """Return a trial of its own and its observation: a trial holds one result of each criterion."""
    trial = Trial(id=f"trial-{id}"[:64], specimen="specimen", occasion=Occasion.BENCH, at=NOON, session="session")
    return [trial, graded(id, grade, trial=trial.id, **fields)]


def steady(begin: datetime = NOON, prefix: str = "id", asked: tuple[int, int, int] = (0, 0, 0)) -> Sources:
    """Return sources that count instead of asking the clock and the system's random numbers.

    `asked` says how many times, ids and salts were given already.
    """
    seconds, ids, salts = itertools.count(asked[0]), itertools.count(asked[1] + 1), itertools.count(asked[2] + 1)
    return Sources(
        now=lambda: begin + timedelta(seconds=next(seconds)),
        new_id=lambda: f"{prefix}-{next(ids):06d}",
        salt=lambda: f"{next(salts):032x}",
    )


def everything(ledger: Ledger) -> dict[str, list[Record]]:
    """Return all rows of all tables."""
    return {name: ledger.rows(record) for name, record in TABLES.items()}


def numbers(ledger: Ledger) -> Iterator[tuple[str, int]]:
    """Yield daybook and number of each entry."""
    return ((entry.daybook, entry.seq) for entry in ledger.entries())


@dataclass(frozen=True)
class Places:
    """Gives places for new ledgers: the one kind of database a test runs on now."""

    folder: Path
    schemas: Schemas | None

    @property
    def url(self) -> str | None:
        """The URL of the database on a server; None for files."""
        return self.schemas and self.schemas.url

    def new(self, name: str) -> str | Path:
        """Return a place where no ledger is yet."""
        if self.schemas is not None:
            return self.schemas.new(self.schema(name))
        (self.folder / name).mkdir()
        return self.folder / name / "ledger.sqlite"

    def basics(self, name: str) -> str | Path:
        """Return the place of a ledger that holds `basics`, written by this machine as `write_basics` does."""
        if self.schemas is not None:
            return self.schemas.copied(self.schema(name), write_basics)
        return copied(Path(self.new(name)), write_basics, write_basics)

    def schema(self, name: str) -> str:
        """Return a schema's name that no other test has, in small letters: a search path knows no others."""
        return f"t_{abs(hash(self.folder)):x}_{name}".lower()

    def drop(self) -> None:
        """Take the schemas away again."""
        if self.schemas is not None:
            for name in self.schemas.named(self.schema("")):
                self.schemas.give_back(name)


WRITTEN = (2, 1, 13)
"""How often `write_basics` asks its sources for the time, for an id and for a salt."""


def write_basics(place: str | Path) -> None:
    """Make a ledger with one trial that waits for its observations."""
    with Ledger.create(place, letters="OV", tester="Oda Vane", sources=steady()) as made:
        made.append(basics())
