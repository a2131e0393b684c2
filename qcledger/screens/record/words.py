"""An observation in words: as a line of the list, and in full."""

from collections.abc import Sequence
from datetime import tzinfo
from typing import TYPE_CHECKING, Final

from qcledger.bench.filing import called
from qcledger.bench.result import result_of
from qcledger.clock import day_of
from qcledger.records import Observation
from qcledger.screens.shown import shown_date, shown_moment, shown_number, shown_reading, shown_result
from qcledger.screens.widgets.rows import Column, Row
from qcledger.settings import Settings
from qcledger.vocab import GRADE_NOTE, TAKEN_BACK, Occasion

if TYPE_CHECKING:
    from qcledger.bench.imported import Imported
    from qcledger.ledger.filed import Moved
    from qcledger.ledger.queries_record import RecordLine
    from qcledger.rubric import Criterion

COLUMNS: Final = (
    Column("date", 10, need=4),
    Column("specimen", 8, need=2),
    Column("paint", 14, grows=True, need=3),
    Column("criterion", 15, grows=True, need=1),
    Column("result", 7, need=0),
    Column("remarks", 12, grows=True, need=5),
)


def row(line: "RecordLine", criterion: "Criterion | None", settings: Settings) -> Row:
    """Return an observation as a row of the list; what does not stand is faint."""
    seen = line.observation
    cells = (
        shown_date(day_of(seen.at, line.zone), settings),
        line.sticker,
        "hidden while blind" if line.blind else (line.maker, f"{line.paint}, {line.format}"),
        criterion.title if criterion else seen.criterion,
        shown_result(result_of(seen), settings),
        ", ".join(remarks(line)),
    )
    return Row(seen.id, cells, faint=bool(line.superseded_by) or line.void or line.occasion is Occasion.OLDER_NOTES)


def remarks(line: "RecordLine") -> list[str]:
    """Return what sets an observation apart, in words."""
    seen = line.observation
    found = [
        ("superseded", line.superseded_by is not None),
        ("taken back", seen.not_testable == TAKEN_BACK),
        ("amendment", seen.supersedes is not None and seen.not_testable != TAKEN_BACK),
        ("void session", line.void),
        ("older notes", line.occasion is Occasion.OLDER_NOTES),
        ("unpacking", line.occasion is Occasion.UNPACKING),
        (f"{line.photos} photo" + ("s" if line.photos > 1 else ""), line.photos > 0),
        ("note", bool(seen.note)),
    ]
    return [word for word, holds in found if holds]


def made_on(line: "RecordLine", settings: Settings) -> str:
    """Return what an observation was made on, when and by whom."""
    seen = line.observation
    what = [line.sticker, "hidden while blind" if line.blind else f"{line.maker} {line.paint}, {line.format}"]
    what += [f"lot {line.lot}"] if line.lot else []
    what += [f"session {line.session}"] if line.session else [line.occasion]
    what += [seen.stage] if seen.stage else []
    what += [f"tester {seen.tester}", shown_moment(seen.at, settings, line.zone)]
    what += [f"came in with {line.came_with}"] if line.came_with else []
    return ", ".join(what)


def said(seen: Observation, criterion: "Criterion | None", settings: Settings) -> str:
    """Return a result with the sentence that fixes it, and its reading."""
    title = criterion.title if criterion else seen.criterion
    if seen.not_testable is not None:
        how = "taken back" if seen.not_testable == TAKEN_BACK else f"not testable: {seen.not_testable}"
        return f"{title}: {how}"
    parts = [f"{title} {shown_result(result_of(seen), settings)}"]
    if criterion is not None:
        anchor = criterion.choices.get(seen.choice or "") or criterion.anchors.get(seen.grade if seen.grade else 0.0)
        parts += [f": {anchor}"] if anchor and (seen.choice or seen.grade is not None) else []
        if seen.grade is not None and criterion.is_fault(seen.grade):
            parts.append(f" A fault, from {shown_number(criterion.fault_line or 0.0, settings)} on.")
    if seen.reading is not None:
        unit = criterion.reading.unit if criterion and criterion.reading else ""
        parts.append(f" Reading {shown_reading(result_of(seen), settings)} {unit}.")
    if seen.grade is not None:
        parts.append(f" ({GRADE_NOTE})")
    return "".join(parts)


def history(chain: Sequence[Observation], settings: Settings, zone: tzinfo | None = None) -> str:
    """Return the amendments of a place from the first to the last, by the clock of a zone; empty without any."""
    if len(chain) < 2:
        return ""
    steps = [
        f"{shown_result(result_of(seen), settings)} at {shown_moment(seen.at, settings, zone)}"
        + (f" ({seen.reason})" if seen.reason else "")
        for seen in chain
    ]
    return "Amended: " + ", then ".join(steps)


def moved_words(one: "Moved", now: str, settings: Settings, zone: tzinfo | None = None) -> str:
    """Return that a photo which was filed here was moved, to what it is filed with `now`, when and why."""
    because = f": {one.reason}" if one.reason else ""
    return f"Photo {called(one.was)} moved to {now} on {shown_date(day_of(one.at, zone), settings)}{because}"


def import_row(one: "Imported", settings: Settings, twice: bool) -> Row:
    """Return an import as a row of the list; one that was taken back is faint."""
    stands = f"taken back {shown_date(one.out.on, settings)}" if one.out else "came in twice" if twice else "yes"
    cells = (
        one.row.name,
        shown_moment(one.at, settings, one.zone),
        "" if one.row.rows is None else str(one.row.rows),
        one.book.signed,
        stands,
    )
    return Row(one.row.id, cells, faint=one.out is not None)


def import_words(one: "Imported", settings: Settings) -> str:
    """Return what an import is, when it came in and into whose daybook, and why it was taken back, if it was."""
    said = [one.row.name, f"brought in {shown_moment(one.at, settings, one.zone)}", one.counted]
    said += [f"daybook of {one.book.signed}"]
    out = f". Taken back {shown_date(one.out.on, settings)}: {one.out.reason}" if one.out else ""
    note = f". Note: {one.row.note}" if one.row.note else ""
    return ", ".join(part for part in said if part) + out + note
