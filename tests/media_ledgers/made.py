"""What the small ledgers hold: three makers each, a fault of one of them, and words that none of theirs says."""

import csv
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from qcledger.ledger import Ledger
from qcledger.records import Comparison, RunRow, Session, Specimen
from qcledger.settings import default_ledger, settings_file
from qcledger.vocab import Occasion

MAKERS = ("Trellmere", "Quernlow", "Hobbin Vale")
"""The first of them is the faulty one."""
TIME = "%Y-%m-%dT%H:%M:%SZ"
BEGUN = datetime(2026, 3, 9, 9, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Medium:
    """One medium: its rubric, the word for one of its things, what they come in, and the facts of a label."""

    rubric: str
    one: str
    format: str
    names: tuple[str, ...]
    label: Mapping[str, str]
    condition: str
    fault: str
    unpacked: str
    foreign: tuple[str, ...]


COMMON = ("watercolou?rs?", "half pans?", "full pans?", "pans?", "rewet(?:s|ted|ting)?", "ribbon", "squeeze")
"""Words of watercolour that none of the others has; as patterns."""
NO_PAINT = ("paints?", "painted", "brush(?:es)?", "tubes?", "wet tray", "poured", "pour")
PIGMENTS = ("pigments?", "Colour Index")
"""Words of labels that name pigments."""
PENCIL = Medium(
    rubric="pencil",
    one="pencil",
    format="pencil",
    names=("Fir", "Madder", "Dusk"),
    label={"facts": "hardness: soft"},
    condition="sharpener: hand, new blade",
    fault="core_grit",
    unpacked="warped",
    foreign=(*COMMON, *NO_PAINT, *PIGMENTS, "water", "index names?", "bottles?", "nibs?", "inks?"),
)
INK = Medium(
    rubric="ink",
    one="ink",
    format="bottle",
    names=("Fir", "Madder", "Dusk"),
    label={"facts": "colourant: dye", "claims": "waterproof"},
    condition="nib: steel, no. 3",
    fault="feathering",
    unpacked="sediment",
    foreign=(*COMMON, *NO_PAINT, "sharpeners?", "pencils?"),
)
GOUACHE = Medium(
    rubric="gouache",
    one="paint",
    format="jar",
    names=("Fir", "Madder", "Dusk"),
    label={"index_names": "PG7"},
    condition="brush: flat, 20 mm",
    fault="coat_streaks",
    unpacked="settled_jar",
    foreign=("watercolou?rs?", "tubes? poured", "ribbon", "squeeze", "nibs?", "sharpeners?", "inks?"),
)
MEDIA = (PENCIL, INK, GOUACHE)


def foreign_in(text: str, medium: Medium) -> list[str]:
    """Return each foreign word in a text with what stands round it."""
    pattern = re.compile(rf"(?<![\w-])(?:{'|'.join(medium.foreign)})(?![\w])", re.IGNORECASE)
    return [text[max(found.start() - 40, 0) : found.end() + 30] for found in pattern.finditer(text)]


def set_to(medium: Medium) -> None:
    """Set the rubric of a ledger that has no comparison yet."""
    settings_file().parent.mkdir(parents=True, exist_ok=True)
    settings_file().write_text(f'rubric = "{medium.rubric}"\n', encoding="utf-8")


def folder(place: Path, tables: Mapping[str, Iterable[Mapping[str, object]]]) -> Path:
    """Write tables as a folder to import."""
    place.mkdir(parents=True)
    for name, rows in tables.items():
        every = list(rows)
        with (place / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(every[0]))
            writer.writeheader()
            writer.writerows(every)
    return place


def stock(medium: Medium, place: Path) -> Path:
    """Write what was bought: of each maker each name in two lots from two sellers."""
    things = [(maker, name) for maker in MAKERS for name in medium.names]
    lots = [(maker, name, lot) for maker, name in things for lot in "AB"]
    return folder(
        place,
        {
            "maker": [{"id": maker, "name": maker} for maker in MAKERS],
            "paint": [{"id": f"{maker} {name}", "maker": maker, "name": name} for maker, name in things],
            "label_version": [
                {"id": f"label {maker} {name}", "paint": f"{maker} {name}", "seen_on": "2026-02-01", **medium.label}
                for maker, name in things
            ],
            "lot": [
                {"id": f"{maker} {name} {lot}", "paint": f"{maker} {name}", "format": medium.format, "code": lot}
                for maker, name, lot in lots
            ],
            "parcel": [
                {"id": f"parcel {lot}", "bought_on": "2026-02-01", "seller": f"Shop {lot}", "currency": "EUR"}
                for lot in "AB"
            ],
            "specimen": [
                {
                    "id": f"piece {maker} {name} {lot}",
                    "sticker": f"OV {n:04}",
                    "paint": f"{maker} {name}",
                    "format": medium.format,
                    "parcel": f"parcel {lot}",
                    "lot": f"{maker} {name} {lot}",
                    "price_minor": 250,
                }
                for n, (maker, name, lot) in enumerate(lots, 1)
            ],
        },
    )


def results(medium: Medium, ledger: Ledger, place: Path) -> Path:
    """Write what was seen on every place of the one sheet: the first maker's are faulty in one criterion."""
    (session,) = ledger.rows(Session)
    (comparison,) = ledger.rows(Comparison)
    (rubric,) = map(ledger.rubric, comparison.rubrics)
    asked = {key: one for key, one in rubric.criteria.items() if one.seen_at is Occasion.BENCH}
    faulty = {f"OV {n:04}" for n in range(1, len(medium.names) * 2 + 1)}
    trials, seen = [], []
    for row in ledger.rows(RunRow):
        one = ledger.get(Specimen, row.specimen)
        trial = f"trial {row.id}"
        at = BEGUN + timedelta(minutes=row.position)
        trials.append(
            {"id": trial, "specimen": one.id, "occasion": "bench", "at": at.strftime(TIME), "session": session.id,
             "run_row": row.id}
        )  # fmt: skip
        for key, criterion in asked.items():
            if one.format not in criterion.formats:
                continue
            bad = key == medium.fault and one.sticker in faulty
            grade = "" if criterion.choices else 4 if bad else 0
            seen.append(
                {"id": f"{trial} {key}", "trial": trial, "criterion": key, "rubric": rubric.hash,
                 "tester": "Oda Vane", "at": at.strftime(TIME), "grade": grade,
                 "choice": next(iter(criterion.choices), ""), "stage": criterion.stage}
            )  # fmt: skip
    return folder(place, {"trial": trials, "observation": seen})


def planned(medium: Medium) -> tuple[str, ...]:
    """Return the command that lays out the one sheet."""
    return (
        *("sheet", "S01", "--plan", "--comparison", "greens", "--rubric", medium.rubric, "--specimens", "OV 1-18"),
        *("--blinding", "open", "--repeats", "0", "--on-paper", "smooth 200 g", "--condition", medium.condition),
        *("--start", "2026-03-09 09:00"),
    )


def to_a_graded_sheet(medium: Medium, place: Path) -> Iterator[tuple[object, ...]]:
    """Yield the commands from nothing to a sheet with a result on every place, each to be run before the next."""
    set_to(medium)
    yield "start", "--letters", "OV", "--tester", "Oda Vane", "--zone", "Etc/UTC"
    yield "import", stock(medium, place / "stock")
    yield planned(medium)
    with Ledger.open(default_ledger()) as ledger:
        seen = results(medium, ledger, place / "seen")
    yield "import", seen
