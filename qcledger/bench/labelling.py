"""From the transcription of a label to records: a maker, a paint, and what its label declares from a day on."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from qcledger.bench import typed
from qcledger.bench.known import latest_labels
from qcledger.records import LabelVersion, Maker, Paint, Record
from qcledger.settings import Settings

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

LISTS = ("index_names", "constitution_numbers", "chemical_names", "cas_numbers", "claims")
"""The fields of a label that hold several entries, parted by commas."""


@dataclass(frozen=True, slots=True)
class Transcribed:
    """A form that was read: the names on the label, and what it declares; ids of paint and label are not final."""

    maker: str
    name: str
    number: str | None
    label: LabelVersion


def read_label(values: Mapping[str, str], today: date, settings: Settings) -> Transcribed:
    """Return what a form transcribes.

    Parameters
    ----------
    values
        What was typed into ``maker``, ``name``, ``number``, each of `LISTS`, ``warnings``, ``printed``, ``seen_on``.
    today
        The day the label was seen, when none was typed; none typed may be later.
    settings
        Order of dates.

    Raises
    ------
    BadInput
        With a problem for each field that is wrong, the field's name as the place.
    """
    form = typed.Reader(values)
    read = Transcribed(
        maker=form.must("maker", typed.name, default=""),
        name=form.must("name", typed.name, default=""),
        number=form.read("number", typed.name, default=None),
        label=LabelVersion(
            id="-",
            paint="-",
            seen_on=form.read("seen_on", partial(typed.past_day, today=today, order=settings.dates), default=today),
            index_names=form.read("index_names", typed.names, default=()),
            constitution_numbers=form.read("constitution_numbers", typed.names, default=()),
            chemical_names=form.read("chemical_names", typed.names, default=()),
            cas_numbers=form.read("cas_numbers", typed.names, default=()),
            claims=form.read("claims", typed.names, default=()),
            warnings=form.text("warnings"),
            printed=form.text("printed"),
        ),
    )
    form.done()
    return read


def draft(values: Mapping[str, str], today: date) -> LabelVersion:
    """Return a label as far as it is typed, for checks; whatever cannot be read is left as it stands."""
    parts = {field: typed.parts(values.get(field, "")) for field in LISTS}
    return LabelVersion(
        id="-",
        paint="-",
        seen_on=today,
        index_names=parts["index_names"],
        constitution_numbers=parts["constitution_numbers"],
        chemical_names=parts["chemical_names"],
        cas_numbers=parts["cas_numbers"],
        claims=parts["claims"],
        warnings=values.get("warnings", ""),
    )


def save_label(
    ledger: "Ledger", read: Transcribed, new_id: Callable[[], str], paint: str | None = None
) -> tuple[Paint, LabelVersion]:
    """Write a transcribed label with its paint and maker, and return paint and label.

    A maker or paint known by these names, letter case aside, is not written twice; a label that declares what the
    latest one does is that one.

    Parameters
    ----------
    ledger
        Open for writing.
    read
        What was typed.
    new_id
        Makes ids.
    paint
        The id of the paint whose label it is; None finds it by its names.
    """
    maker = _maker(ledger, read, new_id)
    one = _paint(ledger, read, maker, new_id, paint)
    before = latest_labels(ledger).get(one.id)
    label = replace(read.label, id=new_id(), paint=one.id)
    if before is not None and _same(before, label):
        label = before
    records: list[Record] = [maker, one, label]
    ledger.append(records, reason="corrected with its label" if paint else "")
    return one, label


def _maker(ledger: "Ledger", read: Transcribed, new_id: Callable[[], str]) -> Maker:
    named = [one for one in ledger.rows(Maker) if one.name.casefold() == read.maker.casefold()]
    return named[0] if named else Maker(id=new_id(), name=read.maker)


def _paint(ledger: "Ledger", read: Transcribed, maker: Maker, new_id: Callable[[], str], paint: str | None) -> Paint:
    known = ledger.get(Paint, paint) if paint else None
    if known is not None:
        return Paint(id=known.id, maker=maker.id, name=read.name, number=read.number, note=known.note)
    for one in ledger.rows(Paint, maker=maker.id):
        if one.name.casefold() == read.name.casefold() and one.number == read.number:
            return one
    return Paint(id=new_id(), maker=maker.id, name=read.name, number=read.number)


def _same(one: LabelVersion, other: LabelVersion) -> bool:
    """Say whether two labels of a paint declare the same, whenever they were seen."""
    fields = (*LISTS, "warnings", "printed")
    return all(getattr(one, field) == getattr(other, field) for field in fields)
