"""Which earlier imports a sheet is one with: those of its name, and what version 0.1.0 brought in from it."""

from collections.abc import Collection, Mapping, Sequence

from qcledger.errors import bad
from qcledger.exchange.brought import NAMELESS, SHEET_OF, Brought, Name, same_sheet
from qcledger.exchange.draft import Draft
from qcledger.exchange.rowreader import Filled
from qcledger.records import Maker, Paint, Parcel, Record, Specimen, Trial
from qcledger.text import same_code, same_name


def piece_name(row: Filled) -> Name:
    """Return what the id of a row's specimen is made from."""
    sticker = row.fields.get("sticker")
    return ("specimen", same_name(sticker)) if sticker else ("specimen of a row", *(row.piece or row.key))


def trial_name(row: Filled) -> Name:
    """Return what the id of a row's trial is made from."""
    return ("trial", *row.key)


class WrittenStickers:
    """The stickers of a sheet, as its rows write them; several rows of one are several tests of one piece."""

    def __init__(self) -> None:
        self._first: dict[str, Filled] = {}

    def check(self, row: Filled) -> None:
        """Refuse a sticker that an earlier row writes otherwise: they may be one piece or two."""
        if "sticker" not in row.fields:
            return
        sticker = row.fields["sticker"]
        first = self._first.setdefault(same_code(sticker), row)
        before = first.fields["sticker"]
        if same_name(before) != same_name(sticker):
            allowed = f"'{before}', as {first.where} has it, if it is that specimen; two specimens have two stickers"
            raise bad(row.at("sticker"), sticker, allowed)


def look_back(draft: Draft, brought: Brought, rows: Sequence[Filled], *, file: str, is_named: bool) -> list[str]:
    """Note in `brought` which earlier imports may have brought in these rows, and return what was taken for granted.

    Parameters
    ----------
    draft
        Where rows are looked up.
    brought
        The import at hand.
    rows
        What the rows of the sheet say.
    file
        The sheet's file, for messages.
    is_named
        Whether the tester said what the sheet is called; else its file's name is only a guess at it.

    Raises
    ------
    BadInput
        When the sheet bears a new name that the tester did not give, and most of its rows came in under another.
    """
    record, said = brought.record, []
    same = [one for one in draft.imports if same_sheet(one.name) == same_sheet(record.name)]
    if not same and not is_named:
        same = [one for one in draft.imports if one.sha256 == record.sha256 and _may_be_one(one.name, record.name)]
        said += [f"{file} holds what came in as {same[-1].name}, byte for byte"] if same else []
    brought.before = [(one.id,) for one in same]
    looking = _Looking(draft, brought, rows)
    found, alike = looking.count([NAMELESS])
    if 2 * alike > found:
        brought.before.append(NAMELESS)
    elif found:
        said.append(f"{file} is a new sheet, though {found} of its rows are numbered as rows that came in before")
    elif not same and not is_named:
        _refuse_renamed(draft, looking, len(rows), file)
    return said


def _may_be_one(name: str, other: str) -> bool:
    """Say whether two names of one file may be one sheet's: not where each names another sheet of it."""
    sheets = [one.rpartition(SHEET_OF)[2] for one in (name, other) if SHEET_OF in one]
    return len(set(sheets)) < 2 or len(sheets) < 2


def _refuse_renamed(draft: Draft, looking: "_Looking", rows: int, file: str) -> None:
    by_name: dict[str, list[Name]] = {}
    names: dict[str, str] = {}
    for one in draft.imports:
        by_name.setdefault(same_sheet(one.name), []).append((one.id,))
        names[same_sheet(one.name)] = one.name
    for form, imports in by_name.items():
        found, alike = looking.count(imports)
        if 2 * alike > found:
            allowed = f"--called '{names[form]}' if it is that sheet, or --called with another name if it is not"
            raise bad(file, f"{alike} of {rows} rows that came in as {names[form]}", allowed)


class _Looking:
    """Counts the rows of a sheet that earlier imports brought in."""

    def __init__(self, draft: Draft, brought: Brought, rows: Sequence[Filled]) -> None:
        self._draft = draft
        self._brought = brought
        self._rows = rows

    def count(self, imports: Sequence[Name]) -> tuple[int, int]:
        """Return how many rows are numbered as rows of these imports are, and how many are the same pieces."""
        self._brought.fetch(Trial, [trial_name(row) for row in self._rows if "sticker" in row.fields], imports)
        found = alike = 0
        for row in self._rows:
            pieces = [piece for one in imports if (piece := self._piece(row, one)) is not None]
            found += bool(pieces)
            alike += any(self._is(row, piece) for piece in pieces)
        return found, alike

    def _piece(self, row: Filled, one: Name) -> Specimen | None:
        """Return the specimen that an import made of a row, or tested by it where the row names it by its sticker."""
        if "sticker" not in row.fields:
            return self._brought.find(Specimen, piece_name(row), one)
        trial = self._brought.find(Trial, trial_name(row), one)
        return self._draft.get(Specimen, trial.specimen) if trial else None

    def _is(self, row: Filled, piece: Specimen) -> bool:
        """Say whether a row is about this piece: its sticker, or its paint, format and the day it was bought."""
        if "sticker" in row.fields:
            return same_code(row.fields["sticker"]) == same_code(piece.sticker)
        paint, parcel = self._draft.get(Paint, piece.paint), self._draft.get(Parcel, piece.parcel)
        maker = self._draft.get(Maker, paint.maker) if paint else None
        if paint is None or parcel is None or maker is None:
            return False
        there: Mapping[str, Collection[object]] = {
            "maker": self._spellings(maker),
            "paint": self._spellings(paint),
            "format": (same_name(piece.format),),
            "bought_on": (parcel.bought_on,),
        }
        said = {name: same_name(value) if isinstance(value, str) else value for name, value in row.fields.items()}
        return all(said.get(name) in values for name, values in there.items())

    def _spellings(self, row: Record) -> set[str]:
        return set(map(same_name, self._draft.spellings(row)))
