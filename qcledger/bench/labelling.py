"""From the transcription of a label to records: a maker, a paint, and what its label declares from a day on."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from qcledger import figures
from qcledger.bench import naming, typed
from qcledger.bench.known import labels_back, latest_labels
from qcledger.errors import bad
from qcledger.records import Decision, LabelVersion, Maker, Paint, Record, SameAs, Specimen
from qcledger.records.minted import minted
from qcledger.settings import Settings
from qcledger.text import one_line, same_name
from qcledger.thing import worded
from qcledger.vocab import TAKEN_BACK, DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.identity import Identity

RETYPED = "retyped on a label"
"""The reason of a new name that was typed into the form of a label."""

RETYPED_LABEL = "corrected with its label"
"""The reason of what is kept with the label of a paint that was known before."""

LISTS = ("index_names", "constitution_numbers", "chemical_names", "cas_numbers", "claims")
"""The fields of a label that hold several entries, parted by commas."""


FACT = "fact:"
"""What the field of a form is called by that takes a rubric's own part of a label, before the key of that part."""


@dataclass(frozen=True, slots=True)
class Transcribed:
    """A form that was read: the names on the label, what it declares, and the day it was typed on.

    The ids of paint and label are not final.
    """

    maker: str
    name: str
    number: str | None
    label: LabelVersion
    on: date


def read_label(values: Mapping[str, str], today: date, settings: Settings) -> Transcribed:
    """Return what a form transcribes.

    Parameters
    ----------
    values
        What was typed into ``maker``, ``name``, ``number``, each of `LISTS`, ``warnings``, ``printed``, ``seen_on``,
        and behind `FACT` into what a rubric asks a label for beside them.
    today
        The day the label was seen, when none was typed; none typed may be later.
    settings
        Order of dates.

    Raises
    ------
    BadInput
        With a problem for each field that is wrong, the field's name as the place.
    """
    form = typed.FormReader(values)
    read = Transcribed(
        maker=form.must("maker", typed.name, default=""),
        name=form.must("name", typed.name, default=""),
        number=form.read("number", typed.name, default=None),
        label=LabelVersion(
            id="-",
            paint="-",
            seen_on=form.read("seen_on", partial(figures.past_day, today=today, order=settings.dates), default=today),
            index_names=form.read("index_names", typed.names, default=()),
            constitution_numbers=form.read("constitution_numbers", typed.names, default=()),
            chemical_names=form.read("chemical_names", typed.names, default=()),
            cas_numbers=form.read("cas_numbers", typed.names, default=()),
            claims=form.read("claims", typed.names, default=()),
            warnings=form.text("warnings"),
            printed=form.text("printed"),
            facts=facts_typed(values),
        ),
        on=today,
    )
    form.done()
    return read


def facts_typed(values: Mapping[str, str]) -> tuple[str, ...]:
    """Return what was typed of a rubric's own parts of a label, each as ``what: as printed``."""
    own = ((name.removeprefix(FACT), one_line(text)) for name, text in values.items() if name.startswith(FACT))
    return tuple(f"{what}: {text}" for what, text in own if text)


def facts_of(label: LabelVersion) -> dict[str, str]:
    """Return what a label says of a rubric's own parts, by the field of a form."""
    return {f"{FACT}{what}": text for what, _, text in (fact.partition(": ") for fact in label.facts)}


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
    ledger: "Ledger",
    read: Transcribed,
    new_id: Callable[[], str],
    paint: str | None = None,
    *,
    renamed: bool = False,
) -> tuple[Paint, LabelVersion]:
    """Write a transcribed label with its paint and maker, and return paint and label.

    A maker or paint known by these names, in any spelling of theirs, is not written twice; a label that declares what
    the latest one does is that one.

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
    renamed
        Whether another maker's name says what this maker, with all its paints, is called from now on; else it makes
        the paint that maker's.
    """
    from qcledger.ledger.identity import who_is_who

    known = who_is_who(ledger)
    if paint is not None and renamed:
        maker, decided = _renamed(ledger, known, read, new_id, paint)
    else:
        maker, decided = _maker(ledger, known, read, new_id, paint), []
    one = _paint(ledger, known, read, maker, new_id, paint)
    before = latest_labels(ledger).get(one.id)
    label = replace(read.label, id=new_id(), paint=one.id)
    if before is not None and _same(before, label):
        label = before
    records: list[Record] = [maker, *decided, one, label]
    ledger.append(records, reason=RETYPED_LABEL if paint else "")
    return one, label


@dataclass(frozen=True, slots=True)
class KeptLabel:
    """A label that was kept from its form, and what stood before.

    Parameters
    ----------
    paint, label
        The rows as they were kept.
    paint_before, label_before
        The paint's row and its latest label as they stood before; None where there was none.
    decided
        What was decided of its maker's name with it.
    """

    paint: Paint
    label: LabelVersion
    paint_before: Paint | None
    label_before: LabelVersion | None
    decided: tuple[SameAs, ...]


def keep_label(
    ledger: "Ledger",
    read: Transcribed,
    new_id: Callable[[], str],
    paint: str | None = None,
    *,
    renamed: bool = False,
) -> KeptLabel:
    """Write a transcribed label as `save_label` does, and return it with what stood before."""
    paints, labels = {one.id: one for one in ledger.rows(Paint)}, latest_labels(ledger)
    decided = {one.id for one in ledger.rows(SameAs)}
    one, label = save_label(ledger, read, new_id, paint, renamed=renamed)
    new = tuple(row for row in ledger.rows(SameAs) if row.id not in decided)
    return KeptLabel(one, label, paints.get(one.id), labels.get(one.id), new)


def take_back(ledger: "Ledger", kept: KeptLabel, new_id: Callable[[], str]) -> str:
    """Let what stood before a label was kept stand again, and return what to say.

    A label version cannot be deleted: a new one declares what the one before did, and is nobody's latest label any
    more. A new paint stays.
    """
    name = kept.paint.name
    if kept.paint_before is None:
        return f"{name} {worded('is a new paint')} and stays: l changes its label, c and t what it is called"
    if kept.label == kept.label_before and kept.paint == kept.paint_before and not kept.decided:
        return f"nothing was changed on the label of {name}"
    changed = any(ledger.get(type(row), row.id) != row for row in (kept.paint, kept.label))
    if changed or kept.label.id in labels_back(ledger):
        return f"the label of {name} was changed since, and stays as it is"
    bare = LabelVersion(id=kept.label.id, paint=kept.label.paint, seen_on=kept.label.seen_on)
    stood = kept.label_before or bare
    label = kept.label if kept.label == stood else replace(stood, id=bare.id, paint=bare.paint, seen_on=bare.seen_on)
    is_new = kept.label_before is None or kept.label.id != kept.label_before.id
    gone = passed_over(ledger, label, kept.label_before) if is_new else []
    ledger.append([kept.paint_before, label, *gone], reason=TAKEN_BACK)
    for decision in kept.decided:
        naming.Naming(ledger, ledger.day(), new_id).take_back(decision)
    return f"taken back: the label of {kept.paint_before.name} says what it said before"


def passed_over(ledger: "Ledger", label: LabelVersion, before: LabelVersion | None) -> list[Record]:
    """Return what lets a label be nobody's latest any more, and one's own pieces that name it under the one before.

    A piece of another row of the paint than that of `before` names no label, and has the latest that stands.
    """
    void = Decision(
        id=minted(Decision.TABLE, DecisionKind.VOID, label.id),
        kind=DecisionKind.VOID,
        subject_table=LabelVersion.TABLE,
        subject=label.id,
        by=ledger.daybook.tester,
        on=ledger.day(),
        reason=TAKEN_BACK,
    )
    own = ledger.own(Specimen)
    named = (one for one in ledger.rows(Specimen, label_version=label.id) if one.id in own)
    fits = before.id if before is not None else None
    moved = (
        replace(one, label_version=fits if before is not None and before.paint == one.paint else None)
        for one in named
    )
    return [void, *moved]


def other_maker(ledger: "Ledger", typed_name: str, paint: str) -> tuple[str, int] | None:
    """Return what a paint's maker is called and how many paints it has, where a typed name is not its own."""
    from qcledger.ledger.identity import who_is_who

    known, one = who_is_who(ledger), ledger.get(Paint, paint)
    maker = ledger.get(Maker, one.maker) if one else None
    if maker is None or same_name(typed_name) in map(same_name, known.names(Maker.TABLE, maker.id, maker.name)):
        return None
    of_it = (row for each in known.members(Maker.TABLE, maker.id) for row in ledger.rows(Paint, maker=each))
    paints = {known.one(Paint.TABLE, row.id) for row in of_it}
    return known.name(Maker.TABLE, maker.id, maker.name), len(paints)


def _renamed(
    ledger: "Ledger", known: "Identity", read: Transcribed, new_id: Callable[[], str], paint: str
) -> tuple[Maker, list[Record]]:
    """Return a paint's maker, and the decision that it is called as typed, or is the same as one called so."""
    standing = ledger.get(Paint, paint)
    maker = ledger.get(Maker, standing.maker) if standing else None
    if maker is None:
        raise bad("paint", paint, worded("a paint of this ledger"))
    head = known.one(Maker.TABLE, maker.id)
    others = [one for one in ledger.rows(Maker) if _is_called(known, one, read.maker)]
    said = naming.NamingSaid(by=ledger.daybook.tester, on=read.on, reason=RETYPED)
    if others:
        other = known.one(Maker.TABLE, others[0].id)
        return maker, [naming.same(Maker.TABLE, head, other, said, new_id())]
    return maker, [naming.called(Maker.TABLE, head, read.maker, said, new_id())]


def _is_called(known: "Identity", one: Maker | Paint, name: str) -> bool:
    """Say whether a name is one of a row's spellings."""
    return same_name(name) in map(same_name, known.names(one.TABLE, one.id, one.name))


def _maker(
    ledger: "Ledger", known: "Identity", read: Transcribed, new_id: Callable[[], str], paint: str | None
) -> Maker:
    """Return the maker with the name read: the paint's own where that is called so, else the one it counts as."""
    standing = ledger.get(Paint, paint) if paint else None
    named = [one for one in ledger.rows(Maker) if _is_called(known, one, read.maker)]
    own = [one for one in named if standing is not None and one.id == standing.maker]
    heads = [one for one in named if known.one(Maker.TABLE, one.id) == one.id]
    found = [*own, *heads, *named]
    return found[0] if found else Maker(id=new_id(), name=read.maker)


def _paint(
    ledger: "Ledger",
    known: "Identity",
    read: Transcribed,
    maker: Maker,
    new_id: Callable[[], str],
    paint: str | None,
) -> Paint:
    standing = ledger.get(Paint, paint) if paint else None
    if standing is not None:
        now = known.name(Paint.TABLE, standing.id, standing.name)
        name = standing.name if read.name == now else read.name  # what it is called now is shown, and was left so
        return replace(standing, maker=maker.id, name=name, number=read.number)
    makers = known.members(Maker.TABLE, maker.id)
    named = [one for each in makers for one in ledger.rows(Paint, maker=each) if _is_called(known, one, read.name)]
    numbers: dict[str, set[str | None]] = {}
    for one in named:
        numbers.setdefault(known.one(Paint.TABLE, one.id), set()).add(one.number)
    for head, said in numbers.items():
        if read.number in said or (read.number is None and len(numbers) == 1):
            return next(one for one in named if one.id == head)
    return Paint(id=new_id(), maker=maker.id, name=read.name, number=read.number)


def _same(one: LabelVersion, other: LabelVersion) -> bool:
    """Say whether two labels of a paint declare the same, whenever they were seen."""
    fields = (*LISTS, "warnings", "printed", "facts")
    return all(getattr(one, field) == getattr(other, field) for field in fields)
