"""Paints seen before, found again by a few letters."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qcledger.records import LabelVersion, Maker, Paint, Parcel

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.queries_stock import Bought


@dataclass(frozen=True, slots=True)
class Known:
    """A paint that may be bought again, and its label's pigments."""

    bought: "Bought"
    pigments: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """Maker, name, number and format, as a tester would say it."""
        parts = (self.bought.maker, self.bought.name, self.bought.number, self.bought.format)
        return " ".join(str(part) for part in parts if part)

    @property
    def words(self) -> tuple[str, ...]:
        """The words it is found by, in the order they are likely typed in; other spellings come last."""
        return tuple(" ".join((self.title, *self.pigments, *self.bought.also)).casefold().split())


def known_paints(ledger: "Ledger") -> tuple[Known, ...]:
    """Return every paint once a format, the one bought last first; paints that count as one are one."""
    from qcledger.ledger.queries_stock import bought_before

    with ledger.reading() as connection:
        bought = bought_before(connection)
    labels = latest_labels(ledger)
    return tuple(Known(one, labels[one.paint].index_names if one.paint in labels else ()) for one in reversed(bought))


def latest_labels(ledger: "Ledger") -> dict[str, LabelVersion]:
    """Return each paint's latest label, by paint; paints that count as one have one."""
    from qcledger.ledger.identity import who_is_who

    known = who_is_who(ledger)
    every = standing_labels(ledger, ledger.rows(LabelVersion))
    return {paint: label for label in every for paint in known.members(Paint.TABLE, label.paint)}


def standing_labels(ledger: "Ledger", labels: Iterable[LabelVersion]) -> list[LabelVersion]:
    """Return those of some labels that were not taken back, the latest last."""
    gone = labels_back(ledger)
    return sorted((one for one in labels if one.id not in gone), key=lambda one: (one.seen_on, one.id))


def labels_back(ledger: "Ledger") -> frozenset[str]:
    """Return the ids of labels whose keeping was taken back: they are nobody's latest."""
    from qcledger.ledger.queries import void_rows

    with ledger.reading() as connection:
        return void_rows(connection, LabelVersion.TABLE)


def complete(typed: str, paints: Iterable[Known]) -> list[Known]:
    """Return the paints that a text may mean, the best first.

    Each word typed must begin a word of the paint, in any order; those found by their first words come first, then
    the one bought last.
    """
    wanted = typed.casefold().split()
    found = [(place, paint) for paint in paints if (place := _place(wanted, paint.words)) is not None]
    return [paint for _, paint in sorted(found, key=lambda pair: pair[0])]


def _place(wanted: Sequence[str], words: Sequence[str]) -> int | None:
    """Return how far into the words the last typed one is found, each word taken once; None when one is not."""
    left = list(enumerate(words))
    last = 0
    for start in wanted:
        hit = next((pair for pair in left if pair[1].startswith(start)), None)
        if hit is None:
            return None
        left.remove(hit)
        last = max(last, hit[0])
    return last


def of_paint(ledger: "Ledger", paint: str) -> tuple[Known, ...]:
    """Return a paint once a format, the one bought last first; any id that counts as one with it will do."""
    from qcledger.ledger.identity import who_is_who

    head = who_is_who(ledger).one(Paint.TABLE, paint)
    return tuple(one for one in known_paints(ledger) if one.bought.paint == head)


def as_one(ledger: "Ledger", paint: str, other: str) -> bool:
    """Say whether two paints count as one."""
    from qcledger.ledger.identity import who_is_who

    return other in who_is_who(ledger).members(Paint.TABLE, paint)


def sellers_names(ledger: "Ledger") -> list[str]:
    """Return what each seller is called now."""
    from qcledger.ledger.identity import who_is_who

    known = who_is_who(ledger)
    return sorted({known.seller(row.seller) for row in ledger.rows(Parcel)})


def makers_names(ledger: "Ledger") -> list[str]:
    """Return every spelling of every maker."""
    from qcledger.ledger.identity import who_is_who

    known = who_is_who(ledger)
    return sorted({name for one in ledger.rows(Maker) for name in known.names(Maker.TABLE, one.id, one.name)})


def split_maker(typed: str, makers: Iterable[str]) -> tuple[str, str]:
    """Return (maker, paint name) out of one typed text; the longest known maker it begins with, else none."""
    text = " ".join(typed.split())
    folded = text.casefold()
    names = [name for name in makers if f"{folded} ".startswith(f"{name} ".casefold())]
    best = max(names, key=len, default="")
    return best, text[len(best) :].strip()
