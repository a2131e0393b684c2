"""A label that stands and is put right: a correction for all or some of the pieces that carry it, or a new print."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from qcledger.bench.known import latest_labels
from qcledger.errors import bad
from qcledger.records import LabelVersion, Parcel, Record, Specimen
from qcledger.text import one_line
from qcledger.vocab import TAKEN_BACK

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class Corrected:
    """A label put right: the label before and after, and the pieces that carry the new words, as before and after."""

    before: LabelVersion
    after: LabelVersion
    pieces: tuple[tuple[Specimen, Specimen], ...]

    @property
    def words(self) -> str:
        """How many pieces count under which pigments now, and their stickers."""
        count, stickers = len(self.pieces), ", ".join(sorted(old.sticker for old, _ in self.pieces))
        counts = "1 piece counts" if count == 1 else f"{count} pieces count"
        now, then = _pigments(self.after), _pigments(self.before)
        under = f"under {now} now, not {then}" if now != then else f"under {now} as before"
        return f"{counts} {under}" + (f": {stickers}" if stickers else "")


def label_of(ledger: "Ledger", specimen: str) -> LabelVersion:
    """Return the label a piece carries, or its paint's latest; raises BadInput where none is one's own."""
    one = ledger.get(Specimen, specimen)
    found = ledger.get(LabelVersion, one.label_version) if one and one.label_version else None
    found = found or (latest_labels(ledger).get(one.paint) if one else None)
    if found is None:
        raise bad("label", "none yet", "a paint whose label was transcribed; l in Stock does that")
    if made_by := ledger.made_by(LabelVersion, found.id):
        raise bad("label", f"a label of {made_by}", "one of your own; who transcribed it alone changes it")
    return found


def carrying(ledger: "Ledger", label: LabelVersion) -> list[Specimen]:
    """Return one's own pieces that carry a label, by sticker."""
    own = ledger.own(Specimen)
    found = ledger.rows(Specimen, label_version=label.id)
    return sorted((one for one in found if one.id in own), key=lambda one: one.sticker)


def weigh(
    ledger: "Ledger",
    label: LabelVersion,
    said: Mapping[str, Any],
    new_id: Callable[[], str],
    *,
    only: Collection[str] | None = None,
    since: date | None = None,
) -> Corrected:
    """Return what putting a label right would write; nothing is written.

    Parameters
    ----------
    ledger
        Where pieces are looked up.
    label
        The label that stands.
    said
        What it declares, by the fields of a label version.
    new_id
        Makes ids.
    only
        Ids of the pieces the correction is for; None: all that carry it.
    since
        The day from which a new print is bought or received; None: it is a correction.

    Raises
    ------
    BadInput
        When nothing is said that the label does not declare, or it is for no piece that carries it.
    """
    after = replace(label, **said)
    if after == label:
        raise bad("label", _pigments(label), "something other than the label declares already")
    pieces = carrying(ledger, label)
    if since is not None:
        chosen = [one for one in pieces if _came(ledger, one) >= since]
    elif only is not None:
        chosen = [one for one in pieces if one.id in only]
    else:
        return Corrected(label, after, tuple((one, one) for one in pieces))
    if only is not None and len(chosen) != len(only):
        raise bad("pieces", f"{len(only)}", f"some of {', '.join(one.sticker for one in pieces) or 'none'}")
    after = replace(after, id=new_id(), seen_on=since or label.seen_on)
    return Corrected(label, after, tuple((one, replace(one, label_version=after.id)) for one in chosen))


def _came(ledger: "Ledger", one: Specimen) -> date:
    parcel = ledger.get(Parcel, one.parcel)
    return (parcel.received_on or parcel.bought_on) if parcel else date.min


def keep(ledger: "Ledger", wanted: Corrected, reason: str) -> None:
    """Write a label put right, as one act; raises BadInput where no reason is given."""
    if not one_line(reason):
        raise bad("reason", reason, "why the label is put right")
    ledger.append([wanted.after, *(new for _, new in wanted.pieces)], reason=reason)


def take_back(ledger: "Ledger", done: Corrected) -> bool:
    """Undo it, and return whether all still stood as it was written; else nothing is changed.

    A new label version cannot be deleted: it declares again what the one before it does, and no piece carries it.
    """
    rows: list[Record] = [done.after, *(new for _, new in done.pieces)]
    if any(ledger.get(type(row), row.id) != row for row in rows):
        return False
    back = replace(done.before, id=done.after.id, seen_on=done.after.seen_on)
    ledger.append([back, *(old for old, _ in done.pieces)], reason=TAKEN_BACK)
    return True


def _pigments(label: LabelVersion) -> str:
    return ", ".join(label.index_names) or "no pigments"
