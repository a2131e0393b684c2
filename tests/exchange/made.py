"""Ledgers, folders and pictures for the tests of what goes in and out."""

from pathlib import Path

from PIL import Image

from qcledger.ledger import Ledger
from qcledger.records import Decision, Maker, ReaderNote
from qcledger.vocab import DecisionKind, Format
from tests.hostile import HOSTILE
from tests.ledger.given import NOON, basics, graded, steady


def picture(path: Path, colour: str = "#1f6f5c") -> Path:
    """Draw a small picture."""
    Image.new("RGB", (40, 30), colour).save(path)
    return path


def full(place: Path, sources=None) -> Ledger:
    """Make a ledger that has amendments, a photo, a redacted entry, a redacted photo, and hostile texts in it."""
    ledger = Ledger.create(place, letters="OV", tester="Oda Vane", sources=sources or steady())
    ledger.append(basics())
    ledger.append([graded("first"), graded("doubted", grade=4.0, criterion="opacity")])
    ledger.append([graded("second", grade=2.5, supersedes="first", reason="read the wrong row")])
    ledger.append([Maker(id=f"h{n}", name=f"Maker {n}", note=text) for n, text in enumerate(HOSTILE)])
    ledger.append([Maker(id="maker", name="Quernlow", note="moved")], reason="new address")
    ledger.append(
        [
            Decision(
                id="void",
                kind=DecisionKind.VOID,
                subject_table="session",
                subject="session",
                by="Oda Vane",
                on=NOON.date(),
                reason="the lamp had drifted",
            ),
            ReaderNote(id="note", maker="maker", told_on=NOON.date(), fault="froths", format=Format.HALF_PAN),
        ]
    )
    ledger.add_photo(picture(place.with_name("kept.png")), specimen="specimen", caption="=front")
    gone = ledger.add_photo(picture(place.with_name("gone.png"), "#804020"), observation="second")
    ledger.redact(photo=gone.sha256, reason="a face in the picture")
    secret = next(entry for entry in ledger.entries() if entry.subject == "note")
    ledger.redact(entry=secret.hash, reason="named a person")
    return ledger


def files_of(folder: Path) -> dict[str, bytes]:
    """Return every file in a folder with its bytes."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
