"""The ledger: the one way to read and write everything a tester has recorded."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, tzinfo
from pathlib import Path
from typing import Any, Self, TypeVar, cast

from sqlalchemy import Connection, Engine, select

from qcledger.clock import day_of
from qcledger.errors import Problem, bad
from qcledger.ledger import backups, clearing, daybooks, imports, merge, photos, redact, standing, tested, zones
from qcledger.ledger.backup import backup
from qcledger.ledger.codec import all_tidy, tidy
from qcledger.ledger.connect import Database, Home, build, home
from qcledger.ledger.disputes import Dispute, DisputeSide, answers, disputes
from qcledger.ledger.doubtful import doubts
from qcledger.ledger.known import KnownRows
from qcledger.ledger.migrate import upgrade
from qcledger.ledger.pieces import bought_pieces
from qcledger.ledger.progress import Progress, untold
from qcledger.ledger.readmodels import (
    IN_ORDER,
    about,
    decoded,
    entry_from,
    in_parts,
    lookup,
    rebuild,
    rows_equal,
    testers,
)
from qcledger.ledger.rubrics import parsed
from qcledger.ledger.rules import check_own
from qcledger.ledger.sharing import share_photos, take_up_of
from qcledger.ledger.sources import REAL, Sources
from qcledger.ledger.still import Still, still
from qcledger.ledger.tables import ENTRY
from qcledger.ledger.told import told
from qcledger.ledger.verify import problems
from qcledger.ledger.writing import Weighed, append, check, closing, fit, settle
from qcledger.records import Daybook, Entry, Photo, Piece, Record, Redaction, RubricText, TestedRows, Zone
from qcledger.rubric import Rubric
from qcledger.text import clean

R = TypeVar("R", bound=Record)


class Ledger:
    """An open ledger; a context manager. Made by `create` and `open`, never directly.

    Every method runs one short transaction. Errors are `errors.QcledgerError`: one line, nothing stored half.
    """

    def __init__(self, place: Home, *, write: bool, sources: Sources) -> None:
        self._place = place
        self._sources = sources
        self._database = Database(place, write=write)
        self._own = daybooks.Own(self._database, daybooks.Begin(None, None, sources))
        self._tested = tested.Reader(self.reading, self._place.name)

    @classmethod
    def create(
        cls,
        where: str | Path,
        *,
        letters: str,
        tester: str,
        sources: Sources = REAL,
        daybook: str | None = None,
        zone: str | None = None,
    ) -> "Ledger":
        """Make a new ledger with one daybook and open it for writing.

        Parameters
        ----------
        where
            A file that does not exist in a folder that does, or the URL of a PostgreSQL database without a ledger.
        letters, tester
            The daybook's tester: 1 to 4 letters for stickers, and a name.
        sources
            Where times, ids and salts come from.
        daybook
            The daybook's id; a new one if None.
        zone
            The IANA name of the time zone the tester works in, as `clock.machine_zone` tells it; None records none.

        Raises
        ------
        BadInput
            When there is no such time zone.
        LedgerUnavailable
            When the place is taken or cannot be written.
        """
        book = tidy(Daybook(id=daybook or sources.new_id(), letters=letters, tester=tester))
        begun = daybooks.with_zone(book, zone, sources)
        place = home(where)

        with ExitStack() as remembering:

            def fill(engine: Engine) -> None:
                with engine.begin() as connection:
                    build(place, connection)
                    append(KnownRows(connection, book.id), book.id, begun, "", sources)
                    remembering.enter_context(daybooks.beginning(place.key, book.id))

            place.make(fill)
        return cls.open(where, write=True, sources=sources)

    @classmethod
    def open(
        cls,
        where: str | Path,
        *,
        write: bool = False,
        begin: bool = True,
        letters: str | None = None,
        tester: str | None = None,
        zone: str | None = None,
        sources: Sources = REAL,
    ) -> "Ledger":
        """Open a ledger that exists.

        Opened for writing, this machine's daybook is continued. When it has none here, or the ledger is a copy or was
        restored from a backup, a new one begins, with `letters` and `tester`, if None those of whoever wrote most,
        and in the time zone `zone`, an IANA name, if that is given. It begins at once, or, unless `begin`, together
        with the first entries that are written. On a server one joins first, see `joining.join`: none
        begins there without letters and tester.

        Raises
        ------
        LedgerUnavailable
            When there is no ledger, it is not one of ours or a newer one, or it cannot be opened.
        """
        place = home(where)
        upgrade(place)
        ledger = cls(place, write=write, sources=sources)
        ledger._own = daybooks.Own(ledger._database, daybooks.Begin(letters, tester, sources, zone))
        try:
            with ledger.reading() as connection:
                place.check_tables(connection)
                found = not write or ledger._own.find(connection)
            if begin and not found:
                with ledger._beginning():
                    pass
            share_photos(ledger._database, write=write and (begin or found))
        except BaseException:
            ledger._database.close()
            raise
        return ledger

    def enter(self, *, although: bool = False) -> bool:
        """Begin this tester's daybook in a ledger others write in, see `joining.join`; says whether he has one."""
        with self._database.writing() as connection:
            is_same = self._own.join(connection, although=although)[1]
        share_photos(self._database, write=True)
        return is_same

    def check_joined(self) -> None:
        """Refuse, before any work is done for it, to write in a ledger on a server that was not joined."""
        with self.reading() as connection:
            self._own.refuse_unjoined(connection)

    def close(self) -> None:
        """Close the ledger."""
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    # Where and who

    @property
    def where(self) -> str:
        """The ledger's file, or its URL without a password."""
        return self._place.key

    @property
    def photos(self) -> Path:
        """The folder the photos are filed in; it may not exist yet."""
        return self._place.photos

    @property
    def daybook(self) -> Daybook:
        """The daybook that is written to; one that has not begun stands in the ledger with its first entry."""
        with self.reading() as connection:
            return self._own.book(connection)

    def own(self, kind: type[Record]) -> frozenset[str]:
        """Return the ids of the rows of a table that are this tester's, whichever daybook of his wrote them."""
        with self.reading() as connection:
            return imports.own(connection, kind.TABLE, self._own.book(connection))

    def made_by(self, kind: type[Record], id: str) -> str:  # noqa: A002 - the field's own name
        """Return letters and name of the other tester a row belongs to, as in ``TL, Tilo``; empty for one's own."""
        with self.reading() as connection:
            return imports.made_by(connection, kind.TABLE, clean(id), self._own.book(connection))

    def new_id(self) -> str:
        """Return an id that no row has."""
        return self._sources.new_id()

    # When and where

    @property
    def zones(self) -> Sequence[zones.ZoneFrom]:
        """The time zones of the daybook that is, or would be, written to, in their order."""
        with self.reading() as connection:
            return self._own.zones(connection)

    @property
    def zone(self) -> tzinfo | None:
        """The time zone this tester works in; None if none was recorded, and this machine's has to do."""
        with self.reading() as connection:
            return self._own.zone(connection)

    @property
    def every_zone(self) -> frozenset[tzinfo]:
        """The time zones that anything in this ledger was written in, also those that were corrected since."""
        with self.reading() as connection:
            return zones.ever(connection)

    def day(self, at: datetime | None = None) -> date:
        """Return the day of an instant, or of now, as this tester writes it."""
        return day_of(at or self._sources.now(), self.zone)

    def day_of(self, row: Record, at: datetime) -> date:
        """Return the day of an instant that a row tells, as the daybook lived it that the row belongs to."""
        with self.reading() as connection:
            return zones.day_of_row(connection, row, at)

    def set_zone(self, name: str, *, reason: str = "", corrects: bool = False) -> None:
        """Record the time zone this tester works in from now on; the first holds for all before it, too.

        With `corrects` the last one recorded was wrong, and this one holds in its place.

        Raises
        ------
        BadInput
            When there is no such time zone.
        """
        _, held = self.daybook, self.zones
        if not held or held[-1].row.name != name:
            id_ = held[-1].row.id if held and corrects else self._sources.new_id()
            self._append([tidy(Zone(id=id_, name=name))], reason)

    # Reading

    def reading(self) -> AbstractContextManager[Connection]:
        """Give a connection for the ledger's own queries; it cannot write, and it is kept for moments only."""
        return self._database.reading()

    def get(self, kind: type[R], id: str) -> R | None:  # noqa: A002 - the field's own name
        """Return the row with this id, or None."""
        wanted = clean(id)
        return self.by_id(kind, [wanted]).get(wanted)

    def by_id(self, kind: type[R], ids: Collection[str]) -> dict[str, R]:
        """Return the rows that have one of the ids, by id."""
        with self.reading() as connection:
            return cast(dict[str, R], lookup(connection, kind.TABLE, ids))

    def rows(self, kind: type[R], **equal: Any) -> list[R]:
        """Return the rows whose fields equal those given (None: empty), in the order of their ids."""
        wanted = {name: clean(value) if type(value) is str else value for name, value in equal.items()}
        with self.reading() as connection:
            return rows_equal(connection, kind, wanted)

    def history(self, table: str, id: str) -> list[Entry]:  # noqa: A002 - as above
        """Return the entries that wrote a row, oldest first."""
        of_row = select(ENTRY).where(ENTRY.c.kind == clean(table), ENTRY.c.subject == clean(id)).order_by(*IN_ORDER)
        with self.reading() as connection:
            return [entry_from(row) for row in connection.execute(of_row).mappings()]

    def tested_rows(
        self, comparison: str | None = None, *, blind: bool = False, criterion: str | None = None
    ) -> TestedRows:
        """Return each current observation with its circumstances; see `tested.Reader`."""
        return self._tested.read(tested.Filter(comparison, blind, criterion))

    def pieces(self) -> list[Piece]:
        """Return what was bought and not taken out again, gifts aside, by sticker."""
        with self.reading() as connection:
            return bought_pieces(connection)

    def doubts(self) -> list[str]:
        """Return in lines what stands and does not count, stickers on two pieces, disputes and clocks ahead."""
        return doubts(self.reading, self.tested_rows(), self._sources.now())

    def entries(self, daybook: str | None = None) -> Iterator[Entry]:
        """Yield entries in the order of (time, daybook, number), of one daybook or all; no read is held open."""
        return in_parts(self.reading, daybook if daybook is None else clean(daybook))

    def closing_hashes(self) -> dict[str, tuple[int, str]]:
        """Return the number and hash of each daybook's last entry, by daybook."""
        with self.reading() as connection:
            return closing(connection)

    def still(self, folder: Path) -> AbstractContextManager[Still]:
        """Give the ledger as it stands now, for work that takes its time; a copy may lie in `folder` until then."""
        return still(self._database, folder)

    # Rubrics

    def rubric(self, hash: str) -> Rubric:  # noqa: A002 - as above
        """Return the kept rubric with this hash; raises BadInput when none is kept."""
        if (kept := self.get(RubricText, hash)) is None:
            raise bad("rubric", hash, "the hash of a rubric kept in this ledger")
        return parsed(kept)

    def keep_rubric(self, rubric: Rubric) -> RubricText:
        """Return the record that keeps a rubric; appending it again changes nothing."""
        return RubricText(id=rubric.hash, key=rubric.key, text=rubric.text)

    # Writing

    def fit(self, records: Iterable[Record], *, progress: Progress = untold) -> Weighed:
        """Return records tidied, and each of them that `append` would refuse, and why; nothing is written.

        A record whose reason lies in another one of them is not returned for that. Where nothing is refused and no
        record stands yet, they are `FitRows`, which `check` and `append` take without checking them again.
        """
        tidied, now = all_tidy(records), self._sources.now().astimezone(UTC)
        with self.reading() as connection:
            return fit(self._own.known(connection), tidied, now, progress)

    def check(self, records: Sequence[Record], **how: Any) -> None:
        """Refuse what `append` would refuse of these records, with the same words; nothing is written."""
        tidied, now = all_tidy(records), self._sources.now().astimezone(UTC)
        with self.reading() as connection:
            check(self._own.known(connection), self._own.book(connection), tidied, now, **how)

    def append(
        self,
        records: Sequence[Record],
        *,
        reason: str = "",
        fit: Sequence[Record] = (),
        numbered: Collection[str] = (),
        proposing: bool = False,
        planned_after: Collection[str] | None = None,
        progress: Progress = untold,
    ) -> tuple[Entry, ...]:
        """Write records to this machine's daybook, all or nothing, and return the new entries.

        Texts are cleaned and everything is checked first. A record whose id stands already amends that row, with its
        old entry kept; one that stands exactly so is passed over, so that an unconfirmed save may be repeated.

        Parameters
        ----------
        records
            Each after those it names.
        reason
            Why, kept in each entry.
        fit
            More records, after those, that `fit` returned: where the ledger still ends as it did then, they are not
            checked again.
        numbered
            Ids of new specimens whose stickers the program chose, not the tester: should another specimen have got
            the sticker meanwhile, such a one gets the next that is free.
        proposing
            Whether a row of another tester may be written again: that is a proposal, and stands once its owner takes
            it over.
        planned_after
            Of an import the ids of this tester's imports that its rows were compared with: should another have come
            in meanwhile, nothing is stored, because rows may stand by now under other ids.
        progress
            Told what is at work; stopped there, as by a key, nothing is stored.

        Raises
        ------
        BadInput
            What was found, where, and what is allowed.
        NotConfirmed
            When the disk reported an error; the same call may be repeated.
        """
        for record in (*records, *fit):
            check_own(record)
        how = {"fit": all_tidy(fit), "numbered": numbered, "proposing": proposing, "progress": progress}
        return self._append(all_tidy(progress("Reading entries", records)), reason, planned_after, **how)

    def _append(
        self, records: Sequence[Record], reason: str, planned_after: Collection[str] | None = None, **how: Any
    ) -> tuple[Entry, ...]:
        with self._beginning() as (connection, daybook):
            known = KnownRows(connection, daybook)
            if planned_after is not None:
                book = cast(Daybook, known.get(Daybook.TABLE, daybook))
                imports.refuse_others(connection, records, book, planned_after)
            take_up_of(connection, self._place, daybook, (*records, *how.get("fit", ())))
            return append(known, daybook, records, clean(reason), self._sources, **how)

    @contextmanager
    def _beginning(self) -> Iterator[tuple[Connection, str]]:
        """Give a connection for writing, and the daybook to write to; one begins with it where there is none."""
        with self._database.writing() as connection:
            yield connection, self._own.within(connection)

    def add_photo(
        self, source: Path, *, specimen: str | None = None, observation: str | None = None, caption: str = ""
    ) -> Photo:
        """File a picture and append its record; a tester files the same picture of the same thing once.

        Raises
        ------
        BadInput
            When the file is no picture that may be filed, or one that this tester took out.
        """
        picture = photos.read_picture(source, self.zone)
        photo = tidy(photos.record(picture, self._sources.new_id(), source.name))
        photo = tidy(replace(photo, specimen=specimen, observation=observation, caption=caption))
        if (row := redact.filed_same(self.reading, self.daybook, photo)) is not None:
            return row
        with told(self._place.name):
            photos.file_picture(picture, self.photos)
        self._append([photo], "")
        return photo

    def photo_path(self, photo: Photo, *, checked: bool = False) -> Path:
        """Return where the bytes of a photo are on this machine; no file is there once they were redacted.

        From a server they are fetched when they are looked for the first time; with `checked` also when those here
        are not as they were filed.
        """
        return self._place.photo(photos.photo_name(photo.sha256, photo.kind), checked=checked)

    def photo_sizes(self, photos: Iterable[Photo]) -> frozenset[int]:
        """Return the sizes in bytes of the pictures of photos, without fetching any."""
        with self.reading() as connection:
            return frozenset(self._place.photo_sizes(connection, {photo.sha256: photo.kind for photo in photos}))

    # Several daybooks

    def disputes(self, *, mine: bool = False) -> list[Dispute]:
        """Return each row of which two daybooks say different things, with all sides; `mine`: this tester's alone."""
        with self.reading() as connection:
            found = disputes(connection)
            whose = testers(connection) if mine and found else None
        return [one for one in found if whose is None or whose.same(one.made_by, self.daybook.id)]

    def sides(self, table: str, id: str) -> list[standing.Side]:  # noqa: A002 - the field's own name
        """Return for each field of a shared row in which testers differ what each says; the first one's stands."""
        with self.reading() as connection:
            return standing.sides(about(connection, clean(table), clean(id)), testers(connection), decoded)

    def settle(self, dispute: Dispute, side: DisputeSide, *, on: date) -> tuple[Entry, ...]:
        """Let one side of a dispute stand, and answer the others; only the row's own tester may.

        Parameters
        ----------
        dispute, side
            What `disputes` returned, and one of its sides.
        on
            The tester's day.
        """
        words = "as it stands" if side is dispute.sides[0] else f"taken over from {side.tester}"
        with self._beginning() as (connection, daybook):
            known = KnownRows(connection, daybook)
            if side.entry and side.record is not None:
                hashes = tuple(sorted(one.entry for one in dispute.sides))
                return settle(known, daybook, side.record, hashes, words, self._sources)
            by = next(book.tester for book in testers(connection).books.values() if book.id == daybook)
            rows = answers(dispute, side, by=by, on=on, new_id=self._sources.new_id)
            return append(known, daybook, rows, words, self._sources)

    def adopt(self, entries: Iterable[Entry], pictures: Mapping[str, Path]) -> int:
        """Take in other daybooks' entries as they are, all or nothing, and return how many were new.

        Parameters
        ----------
        entries
            Whole daybooks, each from its first entry on; what is here already is passed over.
        pictures
            Where the bytes of the photos they speak of are, by SHA-256.

        Raises
        ------
        ChainBroken
            When a chain or photo does not verify, or a daybook tells another story than the one here.
        BadInput
            When an entry does not fit the rows that stand.
        """
        # The daybook begins before others' entries come, so that it has this tester's letters and not theirs.
        return merge.adopt(self._database, entries, pictures, self._own.within)

    def redact(self, *, reason: str, entry: str | None = None, photo: str | None = None) -> Redaction:
        """Take out the body of an entry, or the bytes of a photo, and say why; the chain still verifies.

        Parameters
        ----------
        reason
            Why, kept for good.
        entry
            The hash of an entry whose row was written again later, or is named by no other row.
        photo
            The SHA-256 of a photo. One of the two is given.

        Raises
        ------
        BadInput
            When it is not here, or other rows still need it.
        """
        if (entry is None) == (photo is None):
            raise bad("redaction", f"entry {entry}, photo {photo}", "either an entry or a photo")
        wanted = tidy(Redaction(id=self._sources.new_id(), reason=reason, entry=entry, photo=photo))
        with self._beginning() as (connection, daybook):
            done = redact.standing(connection, entry=entry, photo=photo)
            if done is None:
                redact.take_out(KnownRows(connection, daybook), daybook, wanted, self._sources)
        redact.remove_photos(self._database)
        return done or wanted

    def clear(self, going: Sequence[clearing.HeldEntry], **how: Any) -> None:
        """Write rows again without a text, and take out the entries that hold it and pictures, all or nothing.

        Parameters
        ----------
        going
            What `clearing.held` returned.
        how
            `reason`, `text` and `pictures`, as `clearing.clear` takes them.

        Raises
        ------
        BadInput
            When something cannot be taken out.
        """
        with self._beginning() as (connection, daybook):
            clearing.clear(KnownRows(connection, daybook), daybook, going, self._sources, **how)
        redact.remove_photos(self._database)

    def verify(self, against: Mapping[str, tuple[int, str]] | None = None) -> list[Problem]:
        """Return everything that is not as it was written: entries, rows, photos; empty when all is sound.

        Parameters
        ----------
        against
            Closing hashes printed elsewhere, as `closing_hashes` returns them, that must still be in the chains.
        """
        return problems(self._database, against or {})

    def backup(self, to: Path) -> Path:
        """Copy the ledger and its photos into a new folder, whoever is writing meanwhile; returns the copied file.

        Raises
        ------
        LedgerUnavailable
            When something is there already, or it cannot be written.
        ChainBroken
            When the copy does not verify; then there is none.
        """
        copied = backup(self._database, to)
        backups.remember(self.where, self._sources.now())
        return copied

    @property
    def backed_up_at(self) -> datetime | None:
        """When this machine last made a backup of this ledger; None when that is not known."""
        return backups.last(self.where)

    def rebuild(self) -> None:
        """Write every table anew from the entries."""
        with self._database.writing() as connection:
            rebuild(connection)
        self._tested.forget()
