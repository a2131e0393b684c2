"""A label that stands and is put right: a correction for all or some of the pieces that carry it, or a new print."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from qcledger.bench import typed
from qcledger.bench.known import labels_back, standing_labels
from qcledger.bench.labelling import LISTS, passed_over
from qcledger.errors import bad
from qcledger.records import LabelVersion, Paint, Parcel, Record, Specimen
from qcledger.text import clean, one_line
from qcledger.thing import worded
from qcledger.vocab import TAKEN_BACK

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

WORDS: Final[Mapping[str, str]] = {
    "index_names": "index names",
    "constitution_numbers": "numbers",
    "chemical_names": "chemistry",
    "cas_numbers": "CAS",
    "claims": "claims",
    "warnings": "warnings",
    "printed": "also printed",
    "facts": "other facts",
    "source": "read on",
    "format": "format",
}
"""Every field of a label version that can be put right, and what it is called."""
REASONS: Final[Mapping[str, str]] = {
    "m": "mistyped",
    "f": "typed into the wrong field",
    "p": "taken from another paint",
    "l": "looked again at the label",
    "n": "a new print",
}
"""Why a label is put right, by the key that says so."""


@dataclass(frozen=True, slots=True)
class Corrected:
    """A label put right.

    Parameters
    ----------
    before, after
        The label before and after.
    pieces
        The pieces that carry the new words, each before and after.
    others
        The pieces that named no label and keep the one before, each before and after.
    copies
        Label versions of rows of the paint that count as one with the label's own.
    """

    before: LabelVersion
    after: LabelVersion
    pieces: tuple[tuple[Specimen, Specimen], ...]
    others: tuple[tuple[Specimen, Specimen], ...] = ()
    copies: tuple[LabelVersion, ...] = ()

    @property
    def records(self) -> list[Record]:
        """What is to be written, each after what it names."""
        return [self.after, *self.copies, *(new for _, new in (*self.pieces, *self.others))]

    @property
    def turned(self) -> "Corrected":
        """The same the other way round, as taking it back makes it."""
        return Corrected(self.after, self.before, tuple((new, old) for old, new in self.pieces))

    @property
    def stickers(self) -> str:
        """The pieces that carry the new words, by sticker."""
        return ", ".join(sorted(old.sticker for old, _ in self.pieces))

    @property
    def words(self) -> str:
        """How many pieces count under which pigments now, and their stickers."""
        return self.counts + (f": {self.stickers}" if self.pieces else "")

    @property
    def counts(self) -> str:
        """How many pieces count under which pigments now."""
        count = len(self.pieces)
        counts = "1 specimen counts" if count == 1 else f"{count} specimens count"
        now, then = _pigments(self.after), _pigments(self.before)
        return f"{counts} " + (f"under {now} now, not {then}" if now != then else f"under {now} as before")

    @property
    def changes(self) -> list[str]:
        """Each field that says something else, then and now."""
        return [
            f"{word}: then {text_of(self.before, name) or 'nothing'}, now {text_of(self.after, name) or 'nothing'}"
            for name, word in WORDS.items()
            if getattr(self.before, name) != getattr(self.after, name)
        ]


# What stands


def label_of(ledger: "Ledger", specimen: str) -> LabelVersion:
    """Return the label a piece carries, or its paint's latest; raises BadInput where none is one's own."""
    one = ledger.get(Specimen, specimen)
    if one is not None and one.label_version is not None:
        return standing(ledger, one.label_version)
    return label_of_paint(ledger, one.paint if one else "")


def standing(ledger: "Ledger", id: str) -> LabelVersion:  # noqa: A002 - the field's own name
    """Return a label by its id; raises BadInput where it is not one's own."""
    if made_by := ledger.made_by(LabelVersion, id):
        raise bad("label", f"a label of {made_by}", "one of your own; who transcribed it alone changes it")
    if (found := ledger.get(LabelVersion, id)) is None:
        raise bad("label", id, "a label of this ledger")
    return found


def label_of_paint(ledger: "Ledger", paint: str) -> LabelVersion:
    """Return the latest label of a paint that is one's own; raises BadInput where there is none."""
    rows = [row for each in _members(ledger, paint) for row in ledger.rows(LabelVersion, paint=each)]
    if latest := _latest(ledger, rows):
        return latest
    if others := [row for row in rows if row.id not in ledger.own(LabelVersion)]:
        return standing(ledger, others[-1].id)  # another tester's, which is refused
    raise bad("label", "none yet", worded("a paint whose label was transcribed; l in Stock does that"))


def carrying(ledger: "Ledger", label: LabelVersion) -> list[Specimen]:
    """Return one's own pieces under a label, by sticker: those that name it, or none where it is latest."""
    from qcledger.ledger.queries import void_rows

    with ledger.reading() as connection:
        out = void_rows(connection, Specimen.TABLE)
    members = _members(ledger, label.paint)
    found = ledger.rows(Specimen, label_version=label.id)
    if _latest(ledger, (row for each in members for row in ledger.rows(LabelVersion, paint=each))) == label:
        found += [one for each in members for one in ledger.rows(Specimen, paint=each, label_version=None)]
    own = ledger.own(Specimen) - out
    return sorted((one for one in found if one.id in own), key=lambda one: one.sticker)


def _members(ledger: "Ledger", paint: str) -> list[str]:
    from qcledger.ledger.identity import who_is_who

    return sorted(who_is_who(ledger).members(Paint.TABLE, paint))


def _latest(ledger: "Ledger", rows: Iterable[LabelVersion]) -> LabelVersion | None:
    own = ledger.own(LabelVersion)
    mine = standing_labels(ledger, (row for row in rows if row.id in own))
    return mine[-1] if mine else None


# What is typed


def text_of(label: LabelVersion, name: str) -> str:
    """Return a field of a label as it would be typed."""
    value = getattr(label, name)
    if isinstance(value, tuple):
        return ("; " if name == "facts" else ", ").join(value)
    return str(value or "")


def read(label: LabelVersion, values: Mapping[str, str], formats: Iterable[str]) -> dict[str, Any]:
    """Return the fields that a form says other than a label does; what was left as it stood is none of them.

    Parameters
    ----------
    label
        The label that stands.
    values
        What was typed, by the names of `WORDS`; a name that is not there is left as it stands.
    formats
        Which formats there are.

    Raises
    ------
    BadInput
        With each field that cannot be read.
    """
    form, said = typed.FormReader(values), dict[str, Any]()
    readers: Mapping[str, Callable[[str, str], Any]] = {
        "source": typed.name,
        "format": lambda text, where: typed.word(text, where, formats),
        "facts": lambda text, _: tuple(part for part in map(one_line, text.split(";")) if part),
        "warnings": lambda text, _: clean(text),
        "printed": lambda text, _: clean(text),
    }
    for name in WORDS:
        if name in values and one_line(values[name]) != one_line(text_of(label, name)):
            empty: Any = () if name in (*LISTS, "facts") else None if name in ("source", "format") else ""
            said[name] = form.read(name, readers.get(name, typed.names), default=empty)
    form.done()
    return said


def reason_of(text: str) -> str:
    """Return a reason: the one whose key was typed alone, else the words; raises BadInput for none."""
    if not one_line(text):
        raise bad("reason", text, "why the label is put right")
    return REASONS.get(one_line(text).casefold(), one_line(text))


# What it would write, and writing it


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
    if only is not None and len(chosen) != len(set(only)):
        raise bad("pieces", f"{len(set(only))}", f"some of {', '.join(one.sticker for one in pieces) or 'none'}")
    new, old = _Prints(replace(after, id=new_id(), seen_on=since or label.seen_on), new_id), _Prints(label, new_id)
    # A piece that names no label has the latest: it is told its own before another one becomes that.
    rest = [one for one in pieces if one not in chosen and one.label_version is None]
    carried = tuple((one, replace(one, label_version=new.of(one.paint))) for one in chosen)
    kept = tuple((one, replace(one, label_version=old.of(one.paint))) for one in rest)
    return Corrected(label, new.first, carried, kept, (*new.copies, *old.copies))


@dataclass(slots=True)
class _Prints:
    """One label for every row of its paint, because a piece names a label of the row it names."""

    first: LabelVersion
    new_id: Callable[[], str]
    copies: list[LabelVersion] = field(default_factory=list)

    def of(self, paint: str) -> str:
        known = next((one.id for one in (self.first, *self.copies) if one.paint == paint), None)
        if known is None:
            self.copies.append(replace(self.first, id=self.new_id(), paint=paint))
        return known or self.copies[-1].id


def _came(ledger: "Ledger", one: Specimen) -> date:
    parcel = ledger.get(Parcel, one.parcel)
    return (parcel.received_on or parcel.bought_on) if parcel else date.min


def keep(ledger: "Ledger", wanted: Corrected, reason: str) -> None:
    """Write a label put right, as one act; raises BadInput where no reason is given."""
    ledger.append(wanted.records, reason=reason_of(reason))


# Taking it back


def take_back(ledger: "Ledger", done: Corrected) -> bool:
    """Undo it, and return whether all still stood as it was written; else nothing is changed.

    A new label version cannot be deleted: it declares again what the one before it does, no piece carries it, and it
    is nobody's latest label.
    """
    if any(ledger.get(type(row), row.id) != row for row in done.records):
        return False
    labels = [
        replace(done.before, id=one.id, paint=one.paint, seen_on=one.seen_on) for one in (done.after, *done.copies)
    ]
    pieces = {old.id: old for old, _ in (*done.pieces, *done.others)}
    gone = [row for one in labels if one.id != done.before.id for row in passed_over(ledger, one, done.before)]
    ledger.append([*labels, *pieces.values(), *(row for row in gone if row.id not in pieces)], reason=TAKEN_BACK)
    return True


def last(ledger: "Ledger", label: LabelVersion) -> Corrected:
    """Return what put a label right last, as its entries and those of the pieces that carry it tell.

    Raises
    ------
    BadInput
        When nothing was put right, or it was taken back already.
    """
    written = _written(ledger, label)
    if written and written[-1][1] == TAKEN_BACK:
        raise bad("--undo", "a label that was taken back already", "a label that was put right and stands so")
    pieces = carrying(ledger, label)
    if len(written) > 1:
        before = written[-2][0]
        assert isinstance(before, LabelVersion)
        return Corrected(before, label, tuple((one, one) for one in pieces))
    moved = tuple((old, one) for one in pieces if (old := _before(ledger, one)) is not None)
    named = next((old.label_version for old, _ in moved if old.label_version), None)
    stood = ledger.get(LabelVersion, named) if named else _earlier(ledger, label) if moved else None
    if stood is not None and stood.id in labels_back(ledger):
        raise bad("--undo", "a label that was taken back already", "a label that was put right and stands so")
    if stood is None:
        raise bad("--undo", "a label as it was first typed", "a label that was put right and stands so")
    return Corrected(stood, label, moved)


def _written(ledger: "Ledger", row: Record) -> list[tuple[Record, str]]:
    """Return how this tester wrote a row, the oldest first, each with its reason; what says the same is once."""
    from qcledger.ledger.codec import decode
    from qcledger.ledger.readmodels import testers
    from qcledger.ledger.standing import whose

    entries, mine = ledger.history(row.TABLE, row.id), whose(ledger.daybook)
    with ledger.reading() as connection:
        known = testers(connection)
    found: list[tuple[Record, str]] = []
    for entry in entries:
        if entry.body is not None and known.of_daybook(entry.daybook) == mine:
            record, reason = decode(entry.kind, entry.body, f"{entry.kind} {entry.subject}")
            if not found or found[-1][0] != record:
                found.append((record, reason))
    return found


def _before(ledger: "Ledger", one: Specimen) -> Specimen | None:
    """Return a piece with the label it carried before it was given another one of its paint; None for the first."""
    for record, _ in reversed(_written(ledger, one)):
        if isinstance(record, Specimen) and record.label_version != one.label_version:
            return replace(one, label_version=record.label_version) if record.paint == one.paint else None
    return None


def _earlier(ledger: "Ledger", label: LabelVersion) -> LabelVersion | None:
    rows = (row for each in _members(ledger, label.paint) for row in ledger.rows(LabelVersion, paint=each))
    return _latest(ledger, (row for row in rows if row.id != label.id))


def _pigments(label: LabelVersion) -> str:
    return ", ".join(label.index_names) or "no pigments"
