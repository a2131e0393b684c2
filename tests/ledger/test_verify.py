"""Verify: everything that is not as it was written is noticed."""

import random
import sqlite3
from contextlib import suppress

import pytest

from qcledger.errors import LedgerUnavailable, QcledgerError
from qcledger.ledger import Ledger
from qcledger.ledger.packed import pack
from qcledger.ledger.tables import DAYBOOK
from qcledger.records import TABLES, Photo, columns
from tests.ledger.given import everything, graded, others
from tests.ledger.test_photos import picture

OTHER = {"TEXT": "changed", "INTEGER": 7, "REAL": 4.5}
IN_BYTES = {"prev", "salt", "body", "body_hash", "hash"}


def edit(path, statement, *values):
    """Change a ledger file past the program, as any SQLite shell can, its checks switched off."""
    with sqlite3.connect(path) as raw:
        raw.execute("PRAGMA ignore_check_constraints = ON")
        raw.execute(statement, values)
    raw.close()


def found(path, against=None):
    """Return what verify finds in a ledger file."""
    with Ledger.open(path) as ledger:
        return ledger.verify(against=against)


def test_a_sound_ledger_has_no_problems(ledger):
    """An untouched ledger verifies, on both databases."""
    ledger.append([graded("a")])
    assert ledger.verify() == []
    assert ledger.verify(against=ledger.closing_hashes()) == []


@pytest.mark.parametrize(
    "field", ["daybook", "seq", "prev", "kind", "subject", "at", "salt", "body", "body_hash", "hash", "replaces"]
)
def test_every_field_of_an_entry_is_covered(file, field):
    """Changing any field of any entry is noticed."""
    other = {"seq": 99, "at": "2026-03-09T12:00:00.500000Z", "replaces": '["changed"]'}.get(field, "changed")
    other = b"changed" if field in IN_BYTES else other
    with sqlite3.connect(file) as raw:
        last = raw.execute("SELECT max(seq) FROM entry").fetchone()[0]
    raw.close()
    for seq in (1, last // 2, last):
        content = file.read_bytes()
        edit(file, f"UPDATE entry SET {field} = ? WHERE seq = ?", other, seq)
        assert found(file), (field, seq)
        file.write_bytes(content)


@pytest.fixture
def full(file, tmp_path):
    """Return the path of a ledger with a row in every table."""
    path = tmp_path / "p.jpg"
    path.write_bytes(picture())
    with Ledger.open(file, write=True) as ledger:
        ledger.append(
            [*others(), graded("second", supersedes="first", reason="slip"), graded("third", criterion="opacity")]
        )
        ledger.add_photo(path, specimen="specimen")
        ledger.redact(entry=ledger.history("observation", "third")[0].hash, reason="x")
    return file


@pytest.mark.parametrize("table", TABLES)
def test_every_cell_of_every_table_is_covered(full, table):
    """Changing any field of a row of any table is noticed, by its entries."""
    with sqlite3.connect(full) as raw:
        kinds = {row[1]: row[2] for row in raw.execute(f'PRAGMA table_info("{table}")')}
        (row,) = raw.execute(f'SELECT id FROM "{table}" LIMIT 1').fetchone()
    raw.close()
    content = full.read_bytes()
    assert found(full) == []
    for column in (*(column.name for column in columns(TABLES[table])), DAYBOOK):
        edit(full, f'UPDATE "{table}" SET "{column}" = ? WHERE id = ?', OTHER[kinds[column]], row)
        assert found(full), column
        full.write_bytes(content)


def test_rows_put_in_or_taken_out_are_seen(file):
    """A row no entry tells of, and a row that is missing, are named."""
    edit(file, "INSERT INTO maker (id, name, note, daybook) VALUES ('extra', 'x', '', 'x')")
    assert [(problem.where, problem.found) for problem in found(file)] == [("maker extra", "a row without entries")]
    edit(file, "DELETE FROM maker WHERE id = 'extra'")
    edit(file, "DELETE FROM observation")
    assert ("observation first", "no such row") in [(problem.where, problem.found) for problem in found(file)]


def test_cutting_entries_out_is_seen(file):
    """A middle entry cut out is seen in the chain, the last one only against a closing hash kept elsewhere."""
    with Ledger.open(file) as ledger:
        printed, book = ledger.closing_hashes(), next(iter(ledger.closing_hashes()))
    content = file.read_bytes()
    edit(file, "DELETE FROM entry WHERE seq = 5")
    assert "entry 6 after entry 4" in [problem.found for problem in found(file)]
    file.write_bytes(content)
    edit(file, "DELETE FROM entry WHERE subject = 'first'")
    edit(file, "DELETE FROM observation")
    (own,) = found(file)
    assert own.allowed.startswith("the last entry this machine saw")
    assert any(problem.allowed.startswith("a report's closing hash") for problem in found(file, printed))
    assert any(problem.where == f"daybook {book} entry {printed[book][0]}" for problem in found(file, printed))


def test_a_rewritten_chain_is_seen_against_a_closing_hash(file):
    """An owner can rewrite everything, but not what a report printed: the closing hash is another one."""
    from qcledger.ledger.chain import seal

    with Ledger.open(file) as ledger:
        printed = ledger.closing_hashes()
        (first, *_, last) = list(ledger.entries())
    forged = seal(
        daybook=last.daybook,
        seq=last.seq,
        prev=last.prev,
        kind=last.kind,
        subject=last.subject,
        at=last.at,
        salt=last.salt,
        body=last.body.replace('"grade":1.0', '"grade":5.0'),
    )
    edit(
        file,
        "UPDATE entry SET body = ?, body_hash = ?, hash = ? WHERE seq = ?",
        pack(forged.body),
        bytes.fromhex(forged.body_hash),
        bytes.fromhex(forged.hash),
        forged.seq,
    )
    edit(file, "UPDATE observation SET grade = 5.0")
    edit(file, "UPDATE entry SET salt = ? WHERE seq = 1", bytes.fromhex(first.salt))
    (home_knows,) = found(file)
    assert "this machine saw" in home_knows.allowed
    assert len(found(file, printed)) == 2


def test_a_body_without_a_redaction_is_seen(file):
    """Taking a body out without saying why is noticed."""
    edit(file, "UPDATE entry SET body = NULL, salt = NULL WHERE subject = 'maker'")
    assert "a body, or a redaction that says why" in [problem.allowed for problem in found(file)]


def test_a_redacted_body_put_back_is_seen(file):
    """A body that was redacted and is there again is noticed."""
    with Ledger.open(file, write=True) as ledger:
        entry = ledger.history("observation", "first")[0]
        ledger.redact(entry=entry.hash, reason="x")
    put_back = (pack(entry.body), bytes.fromhex(entry.salt), bytes.fromhex(entry.hash))
    edit(file, "UPDATE entry SET body = ?, salt = ? WHERE hash = ?", *put_back)
    assert "no body, because it was redacted" in [problem.allowed for problem in found(file)]


@pytest.mark.parametrize("places", ["sqlite"], indirect=True)  # on a server what counts is the table
def test_photos_changed_or_gone_are_seen(ledger, tmp_path):
    """Every byte of a photo is covered, and a photo that is gone is named."""
    path = tmp_path / "p.jpg"
    path.write_bytes(picture())
    filed = ledger.photo_path(ledger.add_photo(path))
    content = filed.read_bytes()
    for place in range(0, len(content), 97):
        filed.write_bytes(content[:place] + bytes([content[place] ^ 1]) + content[place + 1 :])
        assert [problem.found for problem in ledger.verify()] == ["other bytes than were filed"]
    filed.unlink()
    assert [problem.found for problem in ledger.verify()] == ["no file"]
    assert len(ledger.rows(Photo)) == 1


def test_flipped_bits_are_seen_wherever_they_change_what_is_shown(file):
    """Of 100 single bits flipped in the file, none changes what is shown and stays unnoticed (seed 20261125)."""
    content = file.read_bytes()
    with Ledger.open(file) as ledger:
        shown = everything(ledger), ledger.tested_rows(), list(ledger.entries())
    chance = random.Random(20261125)
    noticed = 0
    for _ in range(100):
        place = chance.randrange(len(content) * 8)
        spoilt = bytearray(content)
        spoilt[place // 8] ^= 1 << place % 8
        file.write_bytes(spoilt)
        with suppress(LedgerUnavailable), Ledger.open(file) as ledger:
            if ledger.verify() == []:
                assert (everything(ledger), ledger.tested_rows(), list(ledger.entries())) == shown, place
                continue
        noticed += 1
    assert 10 < noticed < 100  # most of a small file is room left in its pages


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("ALTER TABLE maker ADD COLUMN stars TEXT", "table maker other than"),
        ("CREATE INDEX ix_mine ON maker (name)", None),
        ("ANALYZE", "table sqlite_stat1, which this program does not make"),
        ("UPDATE sqlite_schema SET sql = replace(sql, 'seq >= 1', 'seq >= 0') WHERE name = 'entry'", "table entry"),
        ("UPDATE sqlite_schema SET sql = replace(sql, 'kind, subject', 'subject, kind')", "index ix_entry_row"),
        ("UPDATE sqlite_schema SET sql = replace(sql, ' NOT NULL', '') WHERE name = 'lot'", "table lot other than"),
        ("UPDATE sqlite_schema SET sql = replace(sql, 'DEFERRED', 'DEFERRED ') WHERE name = 'lot'", ""),
    ],
)
def test_other_tables_than_this_program_makes_are_seen(file, statement, told):
    """A column more, a constraint less, an index over other columns: verify names it; blanks alone say nothing."""
    with sqlite3.connect(file) as raw:
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute(statement)
    raw.close()
    if told is None:
        with pytest.raises(LedgerUnavailable, match="holds tables this program did not make"):
            found(file)
        return
    lines = [str(problem) for problem in found(file)]
    assert any(told in line for line in lines) if told else lines == []


def test_single_bits_of_the_tables_text_are_seen(file):
    """Of 80 single bits flipped in the text of tables and indexes each is noticed, at opening or by verify."""
    content = file.read_bytes()
    with sqlite3.connect(file) as raw:
        texts = [sql.encode() for (sql,) in raw.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL")]
    raw.close()
    chance = random.Random(20261130)
    unseen = []
    for sql in chance.choices(texts, [len(sql) for sql in texts], k=80):
        at, bit = chance.randrange(len(sql)), chance.randrange(8)
        spoilt = bytearray(content)
        spoilt[content.index(sql) + at] ^= 1 << bit
        file.write_bytes(spoilt)
        with suppress(LedgerUnavailable):
            if found(file) == []:
                unseen.append((sql[: at + 1][-30:], bit))
    assert unseen == []


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE meta SET value = '1'",
        "UPDATE meta SET value = 'abc'",
        "DELETE FROM meta",
        "INSERT INTO meta VALUES ('stars', '5')",
        "UPDATE meta SET key = 'versio'",
    ],
)
def test_other_rows_of_meta_are_seen(file, statement):
    """What the database says about itself is the version of its tables, in one row."""
    edit(file, statement)
    assert [problem.where.split()[0] for problem in found(file)][:1] == ["meta"]


@pytest.mark.parametrize(
    "spelled", ["2026-03-09T12:00:00Z", "2026-03-09 12:00:00.000000+00:00", "20260309T120000.000000Z"]
)
def test_a_time_in_another_spelling_is_seen(file, spelled):
    """The hash covers the moment; that the text is another one than was written is said all the same."""
    with sqlite3.connect(file) as raw:
        (at,) = raw.execute("SELECT at FROM entry WHERE seq = 1").fetchone()
    raw.close()
    assert at.startswith("2026-03-09T12:00:00")
    edit(file, "UPDATE entry SET at = ? WHERE seq = 1", spelled.replace("00.000000", at[17:26]))
    moved = [problem for problem in found(file) if problem.found.startswith("time ")]
    assert [(problem.found, problem.allowed) for problem in moved] == [
        (f"time {spelled.replace('00.000000', at[17:26])}", at)
    ]


def test_a_server_table_that_grew_is_seen(server):
    """On a server a column more, an index or a constraint less, and a foreign row of `meta` are named."""
    import psycopg

    with Ledger.create(server, letters="OV", tester="Oda Vane") as ledger:
        assert ledger.verify() == []
        schema = server.rsplit("%3D", 1)[1]
        with psycopg.connect(server) as raw:
            raw.execute("ALTER TABLE maker ADD COLUMN stars text")
            raw.execute("DROP INDEX ix_entry_row")
            raw.execute("ALTER TABLE entry DROP CONSTRAINT entry_seq_check")
            raw.execute("INSERT INTO meta VALUES ('stars', '5')")
        assert [problem.found.split(",")[0] for problem in ledger.verify()] == [
            "column maker.stars",
            "no constraints c of entry",
            "no index ix_entry_row",
            "5",
        ], schema


@pytest.mark.parametrize("places", ["sqlite"], indirect=True)  # on a server what counts is the table
def test_a_photo_that_is_a_link_is_seen(ledger, tmp_path):
    """A link in place of a photo is no filed photo, whatever it leads to."""
    path = tmp_path / "p.jpg"
    path.write_bytes(picture())
    filed = ledger.photo_path(ledger.add_photo(path))
    filed.unlink()
    filed.symlink_to(path)
    assert [problem.found for problem in ledger.verify()] == ["a link"]


def test_every_problem_is_one_line(file):
    """A thoroughly spoilt ledger is still told line by line."""
    edit(file, "UPDATE entry SET body = x'7b', daybook = char(27) || '[2J' WHERE seq > 3")
    problems = found(file)
    assert problems
    for problem in problems:
        assert "\n" not in QcledgerError(str(problem)).line()
