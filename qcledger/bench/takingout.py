"""What a tester means by taking something out: a text, the note of a result or a piece, a photo; said first."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from qcledger.bench import mending
from qcledger.bench.amending import REASONS, WHY_NOT
from qcledger.bench.runsheet import REGRADED
from qcledger.bench.unpacking import find_sticker
from qcledger.errors import bad
from qcledger.records import Observation, Photo, Specimen
from qcledger.text import one_line
from qcledger.vocab import TAKEN_BACK

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.clearing import HeldEntry, Meant

COPIES: Final = "Exports, backups, cards and pages that were printed, and other people's copies keep it."
"""What taking out does not reach, in one plain line."""
ONLY_IN_WHAT_STAYS: Final = ("text", "only in what stays", "something that can be taken out")
"""What is said where nothing of what was found can go."""
_NOTES: Final = frozenset({"note", "reason", "not_testable"})
_OURS: Final = frozenset({TAKEN_BACK, REGRADED, *REASONS.values(), *mending.REASONS.values(), *WHY_NOT.values()})
"""Words that the program gives, and reads again: they name nobody, and stay."""
_SHORTEST: Final = 3
"""Characters of a text that may be looked for everywhere; a shorter one stands in too much."""


@dataclass(frozen=True, slots=True)
class TakingOut:
    """What is to go.

    Parameters
    ----------
    going
        The entries that hold it and can go.
    staying
        The entries that hold it and stay, with the reason in each.
    text
        What goes from names and sentences; empty where whole notes go.
    pictures
        SHA-256 of photos that go.
    """

    going: tuple["HeldEntry", ...] = ()
    staying: tuple["HeldEntry", ...] = ()
    text: str = ""
    pictures: tuple[str, ...] = ()

    @property
    def has_entries(self) -> bool:
        """Whether anything is to go out of the ledger."""
        return bool(self.going or self.pictures)

    def texts(self) -> tuple[str, ...]:
        """Return what is to go in words: the text, or all that stands in the fields that go, too short ones aside."""
        said = [self.text] if self.text else [text for one in self.going for text in _texts_of(one)]
        return tuple(dict.fromkeys(text for text in said if len(one_line(text)) >= _SHORTEST and text not in _OURS))

    @property
    def rows(self) -> frozenset[str]:
        """The ids of the rows whose notes go as a whole; none where a text goes wherever it stands."""
        return frozenset() if self.text else frozenset(one.entry.subject for one in self.going)

    def lines(self) -> list[str]:
        """Return what goes and what stays, a line each, and what it does not reach."""
        said = [f"goes: {one.words}" for one in self.going]
        said += [f"goes: the bytes of photo {digest[:12]}" for digest in self.pictures]
        said += [f"stays: {one.words}; it {one.stays}" for one in self.staying]
        referring = sum({one.entry.subject: one.referring for one in self.going}.values())
        if self.going:
            rows = "1 row that refers" if referring == 1 else f"{referring} rows that refer"
            said.append(f"{rows} to what is changed will stay. Numbers and hashes stay, and the chain verifies.")
        return [*said, COPIES]


def of_text(ledger: "Ledger", text: str, *, elsewhere: bool = False) -> TakingOut:
    """Return everything of one's own that holds a text.

    Raises
    ------
    BadInput
        Where the text is too short to be looked for, or where no entry holds it and nothing `elsewhere` does either.
    """
    from qcledger.ledger.clearing import has_text

    wanted = one_line(text)
    if len(wanted) < _SHORTEST:
        raise bad("text", text, f"at least {_SHORTEST} characters, as a name has")
    found = _holding(ledger, has_text(wanted))
    if not found and not elsewhere:
        raise bad("text", wanted, "a text that stands in an entry of your own daybooks, or was typed and not saved")
    return replace(_parted(found), text=wanted)


def of_result(ledger: "Ledger", sticker: str, criterion: str) -> TakingOut:
    """Return the notes and reasons of a piece's results on a criterion, superseded ones too."""
    from qcledger.ledger.queries_stock import seen_on

    specimen = find_sticker(ledger, sticker)
    with ledger.reading() as connection:
        seen = [one for one in seen_on(connection, specimen) if not one.blind]
    of_it = [one.observation.id for one in seen if one.observation.criterion == criterion]
    if not of_it:
        names = sorted({one.observation.criterion for one in seen})
        raise bad("criterion", criterion, f"one of {', '.join(names)}" if names else "a specimen with results")
    return of_rows(ledger, Observation.TABLE, of_it)


def of_piece(ledger: "Ledger", sticker: str) -> TakingOut:
    """Return the notes of a piece and of its parcel."""
    one = ledger.get(Specimen, find_sticker(ledger, sticker))
    return of_rows(ledger, Specimen.TABLE, [one.id], more=[("parcel", one.parcel)]) if one else TakingOut()


def of_observation(ledger: "Ledger", observation: str) -> TakingOut:
    """Return the notes and reasons of an observation and of all that it amends or that amend it."""
    from qcledger.ledger.queries_record import chain

    with ledger.reading() as connection:
        found = [one.id for one in chain(connection, observation)]
    return of_rows(ledger, Observation.TABLE, found)


def of_rows(ledger: "Ledger", table: str, ids: Sequence[str], *, more: Sequence[tuple[str, str]] = ()) -> TakingOut:
    """Return the notes of some rows of a table; raises BadInput where they hold none of one's own."""
    rows = [*((table, id_) for id_ in ids), *more]
    found = _holding(ledger, lambda kind, field, said: field in _NOTES and said not in _OURS, rows)
    if not found:
        raise bad(table, "no note of your own", "one with a note, a reason or words why it was not testable")
    return _parted(found)


def of_photo(ledger: "Ledger", named: str) -> TakingOut:
    """Return a photo with its caption and file name, found by the beginning of its SHA-256."""
    wanted = one_line(named).casefold()
    photos = [one for one in ledger.rows(Photo) if len(wanted) >= 8 and one.sha256.startswith(wanted)]
    digests = sorted({one.sha256 for one in photos})
    if len(digests) != 1:
        raise bad("photo", named, "the first 8 or more digits of the SHA-256 of one photo")
    rows = [(Photo.TABLE, one.id) for one in photos]
    found = _holding(ledger, lambda kind, field, said: field in ("caption", "file_name"), rows)
    return replace(_parted(found), pictures=tuple(digests))


def take_out(ledger: "Ledger", wanted: TakingOut, reason: str) -> None:
    """Do it, all or nothing; raises BadInput where no reason is given or nothing can go."""
    if not one_line(reason):
        raise bad("reason", reason, "why it is taken out; kept for good")
    if not wanted.has_entries:
        raise bad(*ONLY_IN_WHAT_STAYS)
    ledger.clear(wanted.going, reason=reason, text=wanted.text, pictures=wanted.pictures)


def _texts_of(one: "HeldEntry") -> Iterator[str]:
    """Yield what stands in the fields of an entry that hold what is meant."""
    from qcledger.ledger.clearing import REASON
    from qcledger.ledger.codec import decode

    record, reason = decode(one.entry.kind, one.entry.body or "", one.name)
    for name in one.fields:
        value = reason if name == REASON else getattr(record, name)
        yield from (value if isinstance(value, tuple) else (str(value),))


def _parted(found: Sequence["HeldEntry"]) -> TakingOut:
    return TakingOut(tuple(one for one in found if not one.stays), tuple(one for one in found if one.stays))


def _holding(ledger: "Ledger", meant: "Meant", rows: Sequence[tuple[str, str]] | None = None) -> list["HeldEntry"]:
    from qcledger.ledger.clearing import held

    book = ledger.daybook
    with ledger.reading() as connection:
        return held(connection, book, meant, rows)
