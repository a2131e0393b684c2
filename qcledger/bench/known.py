"""Paints seen before, found again by a few letters."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qcledger.records import LabelVersion, Maker

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
        """The words it is found by, in the order they are likely typed in."""
        return tuple(" ".join((self.title, *self.pigments)).casefold().split())


def known_paints(ledger: "Ledger") -> tuple[Known, ...]:
    """Return every paint once a format, the one bought last first."""
    from qcledger.ledger.queries_stock import bought_before

    with ledger.reading() as connection:
        bought = bought_before(connection)
    labels = latest_labels(ledger)
    return tuple(Known(one, labels[one.paint].index_names if one.paint in labels else ()) for one in reversed(bought))


def latest_labels(ledger: "Ledger") -> dict[str, LabelVersion]:
    """Return each paint's latest label, by paint."""
    in_time = sorted(ledger.rows(LabelVersion), key=lambda label: (label.seen_on, label.id))
    return {label.paint: label for label in in_time}


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


def split_maker(typed: str, makers: Iterable[Maker]) -> tuple[str, str]:
    """Return (maker, paint name) out of one typed text; the longest known maker it begins with, else none."""
    text = " ".join(typed.split())
    folded = text.casefold()
    names = [one.name for one in makers if f"{folded} ".startswith(f"{one.name} ".casefold())]
    best = max(names, key=len, default="")
    return best, text[len(best) :].strip()
