"""What the form of a label would make if it were kept now: said before it is, and once it is."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qcledger.bench import correcting, typed
from qcledger.bench.known import latest_labels
from qcledger.bench.labelling import LISTS, KeptLabel
from qcledger.records import LabelVersion, Maker, Paint
from qcledger.text import clean, one_line, same_name
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class LabelBefore:
    """What stands of a paint, and of every other, before its label is kept.

    Parameters
    ----------
    is_known
        Whether the paint of the form is one that stands.
    label
        Its latest label; None without any.
    followers, carriers
        How many of one's own pieces name no label and go by the latest, and how many name it.
    makers
        Every name of a maker, as `same_name` has it.
    paints
        Every name of a paint, with each name of its maker.
    """

    is_known: bool
    label: LabelVersion | None
    followers: int
    carriers: int
    makers: frozenset[str]
    paints: frozenset[tuple[str, str]]


def stands(ledger: "Ledger", paint: str | None) -> LabelBefore:
    """Return what stands, for the form of a paint's label by its id, or of a new paint's."""
    from qcledger.ledger.identity import who_is_who

    known = who_is_who(ledger)
    makers = {row.id: known.names(Maker.TABLE, row.id, row.name) for row in ledger.rows(Maker)}
    paints = {
        (same_name(maker), same_name(name))
        for row in ledger.rows(Paint)
        for maker in makers.get(row.maker, ())
        for name in known.names(Paint.TABLE, row.id, row.name)
    }
    label = latest_labels(ledger).get(paint) if paint else None
    carrying = correcting.carrying(ledger, label) if label is not None else []
    return LabelBefore(
        is_known=paint is not None and ledger.get(Paint, paint) is not None,
        label=label,
        followers=sum(one.label_version is None for one in carrying),
        carriers=sum(one.label_version is not None for one in carrying),
        makers=frozenset(same_name(name) for names in makers.values() for name in names),
        paints=frozenset(paints),
    )


def words(stands: LabelBefore, values: Mapping[str, str], first: Mapping[str, str], today: str) -> str:
    """Return what keeping the form would make; empty where its names are still missing.

    Parameters
    ----------
    stands
        What stands.
    values, first
        What is typed, by field, and what stood there before anything was.
    today
        The day it would have been seen, where none is typed.
    """
    maker, name = one_line(values["maker"]), one_line(values["name"])
    if not maker or not name:
        return ""
    if not stands.is_known:
        return _of_new(stands, maker, name)
    renamed = any(values[field] != first.get(field, "") for field in ("maker", "name", "number"))
    same = stands.label is not None and _same(stands.label, values)
    if same:
        return (
            worded("F3 changes what the paint is called; its label stays.")
            if renamed
            else "F3 changes nothing: kept so."
        )
    called = worded(" and changes what the paint is called") if renamed else ""
    seen = one_line(values["seen_on"]) or today
    if stands.label is None:
        return f"F3 keeps its first label, seen {seen}{called}."
    followed = ", ".join(_pieces(stands)) or "no specimen goes by it yet"
    return f"F3 makes another label, seen {seen}{called}; {followed}. F4: the one kept was mistyped."


def _of_new(stands: LabelBefore, maker: str, name: str) -> str:
    if (same_name(maker), same_name(name)) in stands.paints:
        return f"{maker} {name} is known; F3 keeps this as its label."
    also = "" if same_name(maker) in stands.makers else f", and the maker {maker}"
    return f"F3 makes {worded('the paint')} {name} with this label{also}."


def _pieces(stands: LabelBefore) -> Iterator[str]:
    if count := stands.followers:
        yield "1 specimen goes by it" if count == 1 else f"{count} specimens go by it"
    if count := stands.carriers:
        yield "1 specimen keeps the one before" if count == 1 else f"{count} specimens keep the one before"


def _same(label: LabelVersion, values: Mapping[str, str]) -> bool:
    lists = all(typed.parts(values[field]) == getattr(label, field) for field in LISTS)
    return lists and all(clean(values[field]) == getattr(label, field) for field in ("warnings", "printed"))


def made(kept: KeptLabel) -> str:
    """Return what was made of a form that was kept."""
    name = kept.paint.name
    if kept.paint_before is None:
        return f"{name} {worded('is a new paint')}, kept with its label"
    if kept.label_before is not None and kept.label.id == kept.label_before.id:
        changed = kept.paint != kept.paint_before or kept.decided
        return f"{name} is kept; z takes it back" if changed else f"nothing was changed on the label of {name}"
    which = "another label" if kept.label_before is not None else "its first label"
    return f"{name}: {which} is kept; z takes it back"
