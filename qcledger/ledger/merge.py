"""Taking in other daybooks as they are: verified, united by number and hash, refused whole when anything differs."""

import secrets
import shutil
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from sqlalchemy import Connection, Select, func, select

from qcledger.errors import BadInput, ChainBroken, Problem, Several, TwoStories, bad
from qcledger.ledger import photos
from qcledger.ledger.called import called
from qcledger.ledger.chain import broken_links
from qcledger.ledger.codec import decode, named, tidy
from qcledger.ledger.connect import Database
from qcledger.ledger.disk import sync_folder
from qcledger.ledger.firsts import homes, owners, refuse_other_homes, refuse_other_owners, refuse_second_firsts, two
from qcledger.ledger.known import KnownRows
from qcledger.ledger.plainly import PlainRows, plainly, row_plainly
from qcledger.ledger.readmodels import (
    IN_ORDER,
    dangling,
    decoded,
    entry_from,
    rebuild,
    rows_equal,
    testers,
    write_entries,
    written_of,
)
from qcledger.ledger.redact import (
    bodies_without_reason,
    emptied_here,
    empty_bodies,
    fill_bodies,
    redacted_photos,
    remove_photos,
)
from qcledger.ledger.rules import ONCE, check
from qcledger.ledger.standing import Testers
from qcledger.ledger.tables import ENTRY
from qcledger.ledger.told import told
from qcledger.ledger.whose import check_own_codes
from qcledger.records import Daybook, Entry, Photo, Record
from qcledger.text import clean, one_line, shorten

_DRAFT = ".merging."
"""What the folder is called, in the photo folder, that a merge writes photos to."""


_LONGEST = 40
"""Characters of a name in a line that holds several."""


def adopt(
    database: Database, entries: Iterable[Entry], pictures: Mapping[str, Path], begin: Callable[[Connection], object]
) -> int:
    """Take in whole daybooks; see `Ledger.adopt`. `begin` is called before the first entry is written, if any is."""
    books = _verified(entries)
    with database.reading() as connection:
        unknown = list(_unknown(connection, books))
        coming = [*unknown, *emptied_here(connection, books)]
        records = {entry.hash: _record(entry) for entry in coming if entry.body is not None}
        gone = redacted_photos(connection, [entry for entry in coming if entry.body is not None])
        again = _photos_of(connection, redacted_photos(connection) - gone)
    if not coming:
        return 0
    with _drafted(database, [*records.values(), *again], pictures, gone) as file, database.writing() as connection:
        new = list(_unknown(connection, books))  # once more: another terminal may have merged meanwhile
        if new:
            begin(connection)
        rows = PlainRows(connection, [entry for book in books.values() for entry in book])
        refuse_second_firsts(connection, new, books, rows)
        held, hung = owners(connection, new), homes(connection, new)
        write_entries(connection, new)
        fill_bodies(connection, emptied_here(connection, books))
        empty_bodies(connection)
        refuse_other_owners(connection, held, rows)
        refuse_other_homes(connection, hung, rows)
        rebuild(connection)
        _check(connection, [records[entry.hash] for entry in new if entry.hash in records])
        file()
        named = {
            row.sha256: row.kind
            for row in (*records.values(), *again)
            if isinstance(row, Photo) and row.sha256 not in gone
        }
        database.place.take_up(connection, named)
    remove_photos(database)
    return len(new)


def _verified(entries: Iterable[Entry]) -> dict[str, list[Entry]]:
    """Return the entries by daybook, in the order of their numbers; raises ChainBroken for a chain that breaks."""
    books: dict[str, list[Entry]] = defaultdict(list)
    for entry in sorted(entries, key=lambda entry: (entry.daybook, entry.seq)):
        books[entry.daybook].append(entry)
    for daybook, book in books.items():
        for problem in broken_links(book):
            raise ChainBroken(str(problem))
        for entry in book[1:]:
            if entry.kind == Daybook.TABLE:
                raise bad(
                    f"daybook {one_line(daybook)} entry {entry.seq}", "a daybook", "one daybook, in its first entry"
                )
        if (book[0].kind, book[0].subject) != (Daybook.TABLE, daybook):
            raise bad(f"daybook {one_line(daybook)} entry 1", book[0].kind, "the daybook itself")
    return books


def _record(entry: Entry) -> Record:
    """Return the record of a whole entry; raises BadInput for one this program would never have written."""
    where = place(entry)
    record, reason = decode(entry.kind, entry.body or "", where)
    if record.id != entry.subject:
        raise bad(where, entry.subject, f"the id in its body, {record.id}")
    if tidy(record) != record or clean(reason) != reason:
        raise bad(where, "a text that was not cleaned", "texts without characters that steer a terminal")
    return record


@contextmanager
def _named_plainly(row: Record, known: KnownRows) -> Iterator[None]:
    """Name a row that is refused as its tester knows it."""
    try:
        yield
    except BadInput as refused:
        names = (called(row, known.get), named(row))
        raise BadInput(_renamed(one, names, plainly(row, known.get)) for one in refused.problems) from refused


def _renamed(problem: Problem, names: Sequence[str], name: str) -> Problem:
    for old in names:
        if problem.where == old or problem.where.startswith(f"{old} "):
            return replace(problem, where=f"{name},{rest}" if (rest := problem.where[len(old) :]) else name)
    return problem


def _photos_of(connection: Connection, digests: Collection[str]) -> list[Photo]:
    """Return the rows of photos that were taken out here, and of which another daybook says that they are back."""
    return [row for digest in sorted(digests) for row in rows_equal(connection, Photo, {"sha256": digest})]


def place(entry: Entry) -> str:
    """Return the name of an entry for messages."""
    return f"daybook {entry.daybook} entry {entry.seq}"


def _unknown(connection: Connection, books: Mapping[str, Sequence[Entry]]) -> Iterator[Entry]:
    """Yield the entries that are not here yet; raises ChainBroken where a daybook tells two stories."""
    for daybook, book in books.items():
        here = {row.seq: row.hash for row in connection.execute(_numbers(daybook))}
        for entry in book:
            if entry.seq not in here:
                yield entry
            elif here[entry.seq] != entry.hash:
                way_out = "Nothing was merged; qcledger import FOLDER brings its rows in as yours."
                raise TwoStories(f"{_two_stories(connection, entry, books)}. {way_out}")


def _two_stories(connection: Connection, there: Entry, books: Mapping[str, Sequence[Entry]]) -> str:
    """Return in words that a daybook tells two stories: its number and tester, and what stands there in either."""
    same = (ENTRY.c.daybook == there.daybook, ENTRY.c.seq == there.seq)
    here = entry_from(connection.execute(select(ENTRY).where(*same)).mappings().one())
    rows = PlainRows(connection, [entry for book in books.values() for entry in book])
    told = (f"{_told(entry, rows)} {where}" for entry, where in ((here, "here"), (there, "there")))
    whose = shorten(testers(connection).name(there.daybook), _LONGEST)
    return f"Entry {there.seq} of {whose}: the two ledgers disagree ({', '.join(told)})"


def _told(entry: Entry, rows: PlainRows) -> str:
    """Return what an entry tells of, with its hash, which tells two of one row apart."""
    name = plainly(decoded(written_of(entry)), rows.get) if entry.body is not None else f"a {entry.kind} taken out"
    return f"{shorten(name, _LONGEST)} {entry.hash[:12]}"


def _numbers(daybook: str) -> Select[int, str]:
    return select(ENTRY.c.seq, ENTRY.c.hash).where(ENTRY.c.daybook == daybook)


def _check(connection: Connection, new: Sequence[Record]) -> None:
    """Refuse entries whose rows, as they now stand, are not such as this ledger would have taken."""
    known = KnownRows(connection)
    for problem in dangling(connection):
        table, _, rest = problem.where.partition(" ")
        id_, _, field = rest.rpartition(" ")
        raise BadInput(replace(problem, where=f"{row_plainly(table, id_, known.get)}, {field}"))
    for entry in bodies_without_reason(connection):
        raise ChainBroken(f"{place(entry)}: its body was taken out, and no redaction says why; nothing was merged.")
    known.fetch(new)
    whose = testers(connection)
    for kind, subject in dict.fromkeys((row.TABLE, row.id) for row in new):
        row, made_by = known.get(kind, subject), known.made_by(kind, subject)
        if row is not None and made_by is not None:
            with _named_plainly(row, known):
                check(row, known)
                check_own_codes(row, known, made_by, whose)
    for kind in ONCE:
        _check_once(connection, kind, known, whose)


def _check_once(connection: Connection, kind: str, known: KnownRows, whose: Testers) -> None:
    """Refuse two different rows under one id in a table whose rows are never changed."""
    bodies = select(*ENTRY.c["subject", "body", "daybook"]).where(ENTRY.c.kind == kind, ENTRY.c.body.is_not(None))
    twice = bodies.with_only_columns(ENTRY.c.subject).group_by(ENTRY.c.subject).having(func.count() > 1)
    first: dict[str, tuple[Record, str]] = {}
    for subject, body, daybook in connection.execute(bodies.where(ENTRY.c.subject.in_(twice)).order_by(*IN_ORDER)):
        row, _ = decode(kind, body, f"{kind} {subject}")
        mine, book = first.setdefault(subject, (row, daybook))
        if mine != row:
            raise Several(two(mine, whose.name(book), row, whose.name(daybook), known.get))


@contextmanager
def _drafted(
    database: Database, records: Iterable[Record], pictures: Mapping[str, Path], gone: Collection[str]
) -> Iterator[Callable[[], None]]:
    """Write the photos that are not here yet to a folder beside the others, and give what moves them among those.

    That is the last act before the entries are committed: a merge that is cut short leaves one folder, which the next
    merge takes away, and no photo that no row speaks of. Should the merge fail, they are taken out again.
    """
    records, folder = list(records), database.place.photos
    draft, filed = folder / f"{_DRAFT}{secrets.token_hex(4)}", list[Path]()

    def file() -> None:
        for path in sorted(draft.glob("*")):
            filed.append(folder / path.name)
            path.replace(filed[-1])
        if filed:
            sync_folder(folder)

    try:
        with told(database.place.name):
            for left in folder.glob(f"{_DRAFT}*"):
                shutil.rmtree(left)
            for photo in {row.sha256: row for row in records if isinstance(row, Photo)}.values():
                name = photos.photo_name(photo.sha256, photo.kind)
                if photo.sha256 not in gone and not (folder / name).exists():
                    _file(photo, draft / name, pictures)
        yield file
    except BaseException:
        for path in filed:
            path.unlink(missing_ok=True)
        raise
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _file(photo: Photo, path: Path, pictures: Mapping[str, Path]) -> None:
    if photo.sha256 not in pictures:
        raise bad(f"photo {photo.sha256[:12]}", "", "its picture, or a redaction that says why there is none")
    picture = photos.read_picture(pictures[photo.sha256])
    if (picture.sha256, picture.kind) != (photo.sha256, photo.kind):
        raise ChainBroken(f"Photo {photo.sha256[:12]}: the picture is not the one filed under this hash.")
    photos.file_picture(picture, path.parent)
