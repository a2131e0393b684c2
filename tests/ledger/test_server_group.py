"""Several testers on one server: who joins as whom, what a role may do, and whose photos everybody sees."""

import os
import re
import subprocess
import sys

import psycopg
import pytest
from sqlalchemy.engine import make_url

from qcledger.errors import BadInput, LedgerUnavailable, NotConfirmed
from qcledger.exchange import merge_folder, to_folder
from qcledger.ledger import Ledger, join, photos, restore
from qcledger.ledger.chain import sha256
from qcledger.records import Daybook, Maker, Observation, Photo, Trial
from qcledger.settings import HOME_VARIABLE, data_folder
from tests.ledger.conftest import _server
from tests.ledger.given import basics, graded, steady, tried
from tests.ledger.group import blocks, group
from tests.ledger.test_photos import picture


@pytest.fixture
def studio():
    """Give a group's database as the guide sets it up."""
    with group(_server()) as made:
        yield made


@pytest.fixture
def at(monkeypatch, tmp_path):
    """Return a function that goes to a tester's machine: his own settings and data from then on."""

    def go(who):
        folder = tmp_path / f"home of {who}"
        folder.mkdir(exist_ok=True)
        monkeypatch.setenv(HOME_VARIABLE, str(folder))

    return go


@pytest.fixture
def begun(studio, at):
    """Give the group's database with Oda Vane's ledger in it, which holds one trial; one is at her machine."""
    at("oda")
    with Ledger.create(studio.oda, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append(basics())
    return studio


def shot(folder, size=(40, 30)):
    """Return the path of a picture."""
    path = folder / f"{size[0]}.jpg"
    path.write_bytes(picture(size))
    return path


def cached():
    """Return the names of the photos on this machine."""
    return sorted(path.name for path in (data_folder() / "photos").glob("*/*"))


def role(url):
    """Return the role a URL names."""
    return make_url(url).username


def joined(url, letters="TL", tester="Tilo Lund"):
    """Join a ledger and return it."""
    return join(url, letters=letters, tester=tester)[0]


# Joining


def test_the_second_tester_joins(begun, at, cli):
    """`start` at a ledger that is there begins a daybook of one's own in it, and a second `start` says who one is."""
    at("tilo")
    told = cli("start", "--ledger", begun.tilo, "--letters", "tl", "--tester", "Tilo Lund")
    assert (told.code, told.err) == (0, "")
    assert re.match(r"You joined the ledger postgresql://tilo_\w+@.* as TL, Tilo Lund\n", told.out)
    assert "choose-one" not in told.out
    with Ledger.open(begun.tilo, write=True) as ledger:
        assert (ledger.daybook.letters, ledger.daybook.tester) == ("TL", "Tilo Lund")
        ledger.append([graded("tilo's")])
        assert {book.tester for book in ledger.rows(Daybook)} == {"Oda Vane", "Tilo Lund"}
        assert ledger.made_by(Observation, "tilo's") == ""
        assert ledger.made_by(Trial, "trial") == "OV, Oda Vane"
        assert ledger.verify() == []
    again = cli("start", "--ledger", begun.tilo, "--letters", "TL", "--tester", "Tilo Lund")
    assert (again.code, len(again.error_lines)) == (2, 1)
    assert "This machine writes in that ledger already, as TL, Tilo Lund." in again.err


def test_letters_another_tester_has_are_refused(begun, at, cli):
    """Who has them is said, and nothing is stored."""
    at("tilo")
    told = cli("start", "--ledger", begun.tilo, "--letters", "OV", "--tester", "Tilo Lund")
    assert told.code == 2
    assert told.error_lines == [
        "letters: found 'OV, which Oda Vane has'; allowed: letters nobody else in this ledger has, "
        "or both letters and name of yours"
    ]
    with Ledger.open(begun.tilo) as ledger:
        assert [book.tester for book in ledger.rows(Daybook)] == ["Oda Vane"]


def test_the_same_tester_goes_on_on_another_machine(begun, at, cli):
    """Letters and name of a tester who is there, in any case: a new daybook of his, and that is said."""
    at("oda's other machine")
    told = cli("start", "--ledger", begun.oda, "--letters", "ov", "--tester", "oda vane")
    assert (told.code, told.out.partition(" in the ledger")[0]) == (0, "You go on as OV, oda vane")
    assert "with a new daybook for this machine" in told.out
    with Ledger.open(begun.oda, write=True) as ledger:
        assert len(ledger.rows(Daybook)) == 2
        assert ledger.own(Maker) == {"maker"}
        ledger.append([graded("first")])
        ledger.append([graded("second", grade=2.0, supersedes="first", reason="slip")])
        assert ledger.disputes() == []


def test_a_name_that_is_there_under_other_letters_is_asked_back(begun, at, cli):
    """One person under two letters would count as two testers; --although says that it is somebody else."""
    at("oda's other machine")
    asked = ("start", "--ledger", begun.oda, "--letters", "OD", "--tester", "oda  vane")
    told = cli(*asked)
    assert told.code == 2
    assert told.error_lines == [
        "tester: found 'oda vane, who writes here as OV'; allowed: letters OV, if that is you; "
        "--although, if you are somebody else"
    ]
    with Ledger.open(begun.oda) as ledger:
        assert len(ledger.rows(Daybook)) == 1
    done = cli(*asked, "--although")
    assert (done.code, done.out.partition(" in the ledger")[0].startswith("You joined")) == (0, True)
    with Ledger.open(begun.oda) as ledger:
        assert {book.letters for book in ledger.rows(Daybook)} == {"OV", "OD"}


def test_two_who_join_at_once_have_different_letters(begun, at):
    """Of two testers who take the same letters one is refused: the second looks when the first is done."""
    at("tilo")
    joined(begun.tilo).close()
    at("rhea")
    with pytest.raises(BadInput, match="TL, which Tilo Lund has"):
        joined(begun.tilo, tester="Rhea Sand")


def test_who_has_not_joined_looks_and_writes_nothing(begun, at, cli, tmp_path):
    """Neither as whoever wrote most nor as anybody else; commands and saves say how to join, and looking works."""
    at("tilo")
    line = "You have not joined the ledger on 127.0.0.1; nothing was saved. "
    line += "qcledger start --ledger URL --letters AB --tester NAME joins it."
    with pytest.raises(LedgerUnavailable, match="not joined"):
        Ledger.open(begun.tilo, write=True)
    with Ledger.open(begun.tilo, write=True, begin=False) as ledger:
        assert ledger.own(Maker) == frozenset()
        assert ledger.made_by(Trial, "trial") == "OV, Oda Vane"
        assert ledger.disputes(mine=True) == []
        with pytest.raises(LedgerUnavailable) as refused:
            ledger.append([graded("a")])
        assert refused.value.line() == line
        with pytest.raises(LedgerUnavailable, match="not joined"):
            ledger.add_photo(shot(tmp_path), specimen="specimen")
        assert len(ledger.rows(Daybook)) == 1
        assert ledger.rows(Observation) == []
    told = cli("rename", "maker", "Quernlow", "Quernlow Colours", "--ledger", begun.tilo)
    assert (told.code, told.err) == (2, line + "\n")
    assert cli("findings", "--ledger", begun.tilo).code == 0
    with Ledger.open(begun.oda) as ledger:
        assert begun.sql("SELECT count(*) FROM photo_bytes") == [(0,)]


def test_a_ledger_put_back_from_an_older_copy_goes_on_as_before(begun, at):
    """The machine knows whose daybook it wrote there: a new one begins in that tester's name, as in a file."""
    begun.sql("DELETE FROM entry WHERE seq > 1")
    with Ledger.open(begun.oda, write=True) as ledger:
        assert ledger.daybook.tester == "Oda Vane"
        assert len(ledger.rows(Daybook)) == 2


# Roles


def test_the_guides_rights_suffice(begun, at, tmp_path):
    """Start, join, grade, amend, photo, merge, redact and rebuild work with the rights that the guide gives."""
    folder = tmp_path / "from elsewhere"
    at("guest")
    with Ledger.create(tmp_path / "guest.sqlite", letters="GU", tester="Guest") as guest:
        guest.append([Maker(id="theirs", name="Corvannet")])
        to_folder(guest, folder)
    at("tilo")
    with joined(begun.tilo) as ledger:
        ledger.append([graded("first")])
        ledger.append([graded("second", grade=3.0, supersedes="first", reason="slip")])
        photo = ledger.add_photo(shot(tmp_path), specimen="specimen")
        assert merge_folder(ledger, folder) == 2
        ledger.rebuild()
        assert ledger.redact(photo=photo.sha256, reason="a face in it").photo == photo.sha256
        assert ledger.verify() == []
        with pytest.raises(psycopg.errors.InsufficientPrivilege), psycopg.connect(begun.tilo) as raw:
            raw.execute("CREATE TABLE other (x int)")
    assert len(blocks()) == 2


def test_a_reader_looks(begun, at, cli, tmp_path):
    """Findings, verify, export and backup work with SELECT alone; a save and a join are refused in one line."""
    with Ledger.open(begun.oda, write=True) as ledger:
        ledger.add_photo(shot(tmp_path), specimen="specimen")
        ledger.append([graded("first")])
    at("rhea")
    for command in (("findings",), ("verify",), ("export", tmp_path / "out"), ("backup", tmp_path / "kept")):
        told = cli(*command, "--ledger", begun.rhea)
        assert (told.code, told.err) == (0, ""), command
    assert len(list((tmp_path / "kept" / "photos").iterdir())) == 1
    line = "Your role on the server 127.0.0.1 may only look; nothing was saved; "
    line += "whoever keeps the ledger can let it write."
    with Ledger.open(begun.rhea, write=True, begin=False) as ledger:
        assert len(ledger.rows(Observation)) == 1
        with pytest.raises(LedgerUnavailable) as refused:
            ledger.append([graded("a")])
        assert refused.value.line() == line
    for command in (("start", "--letters", "RS", "--tester", "Rhea Sand"), ("rename", "maker", "Quernlow", "Quern")):
        told = cli(*command, "--ledger", begun.rhea)
        assert (told.code, told.err) == (2, line + "\n")


def test_a_tester_whose_right_was_taken_is_told(begun, at):
    """Who has joined and may only look by now gets the same line."""
    at("tilo")
    with joined(begun.tilo) as ledger:
        tables = begun.sql("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        testers = role(begun.tilo).replace("tilo", "testers")
        for (table,) in tables:
            begun.sql(f"REVOKE INSERT ON {table} FROM {testers}")
        with pytest.raises(LedgerUnavailable, match="may only look; nothing was saved"):
            ledger.append([graded("a")])


def test_a_right_that_lacks_for_looking_is_told(begun, at):
    """A role that may connect and not read is told so in one line."""
    begun.sql(
        f"REVOKE SELECT ON meta FROM {re.findall(r'//(.*):', begun.rhea)[0].split(':')[0].replace('rhea', 'readers')}"
    )
    at("rhea")
    with pytest.raises(LedgerUnavailable, match="lacks a right this needs"):
        Ledger.open(begun.rhea)


@pytest.mark.parametrize("who", ["tilo", "rhea"])
def test_only_the_owner_of_the_tables_upgrades_them(begun, at, who, monkeypatch):
    """Others are told who must, and nothing changes; the owner's opening upgrades, and the rights still hold."""
    from qcledger.ledger import connect, migrate

    monkeypatch.setattr(connect, "VERSION", connect.VERSION + 1)
    monkeypatch.setattr(migrate, "STEPS", {**migrate.STEPS, connect.VERSION - 1: lambda _: None})
    at(who)
    with pytest.raises(LedgerUnavailable) as refused:
        Ledger.open(getattr(begun, who))
    assert refused.value.line() == (
        f"The ledger on 127.0.0.1 has the tables of an older version ({connect.VERSION - 1}); "
        "whoever owns them must open it once to upgrade it."
    )
    at("oda")
    Ledger.open(begun.oda).close()
    at(who)
    with Ledger.open(getattr(begun, who)) as ledger:
        assert ledger.get(Maker, "maker") is not None
        assert ledger.verify() == []


# Photos


def test_everybody_sees_every_photo(begun, at, tmp_path):
    """A photo of one tester is fetched by the other, once; verify, export and backup are whole on both machines."""
    with Ledger.open(begun.oda, write=True) as ledger:
        photo = ledger.add_photo(shot(tmp_path), specimen="specimen")
        content = ledger.photo_path(photo).read_bytes()
    at("tilo")
    with joined(begun.tilo) as ledger:
        assert cached() == []
        assert ledger.photo_sizes([photo]) == {len(content)}
        assert ledger.verify() == []
        assert cached() == []
        assert ledger.photo_path(photo).read_bytes() == content
        assert cached() == [f"{photo.sha256}.jpg"]
        ledger.photo_path(photo).write_bytes(b"damaged here")
        ledger.backup(tmp_path / "kept")
        assert ledger.photo_path(photo).read_bytes() == content
        ledger.photo_path(photo).unlink()
        to_folder(ledger, tmp_path / "out")
        assert ledger.verify() == []
    assert begun.sql("SELECT sha256, bytes FROM photo_bytes") == [(photo.sha256, content)]


def test_a_photo_is_seen_where_nothing_can_be_kept(begun, at, tmp_path, monkeypatch):
    """A folder that cannot be written does not keep a photo from being looked at."""
    from qcledger.ledger import server_photos

    with Ledger.open(begun.oda, write=True) as ledger:
        photo = ledger.add_photo(shot(tmp_path), specimen="specimen")
    at("rhea")
    keep = server_photos.put

    def put(path, content):
        if data_folder() in path.parents:
            raise PermissionError(13, "Permission denied")
        return keep(path, content)

    monkeypatch.setattr(server_photos, "put", put)
    with Ledger.open(begun.rhea) as ledger:
        assert sha256(ledger.photo_path(photo).read_bytes()) == photo.sha256
    assert cached() == []


def test_bytes_that_were_changed_on_the_server_are_named(begun, tmp_path):
    """Verify reads the table, and what is not the picture that was filed is never shown as that."""
    with Ledger.open(begun.oda, write=True) as ledger:
        photo = ledger.add_photo(shot(tmp_path), specimen="specimen")
        begun.sql("UPDATE photo_bytes SET bytes = 'other'")
        (problem,) = ledger.verify()
        assert problem.found == "other bytes than were filed"
        ledger.photo_path(photo).unlink()
        assert not ledger.photo_path(photo).exists()
        begun.sql("DELETE FROM photo_bytes")
        (problem,) = ledger.verify()
        assert (problem.where, problem.found) == (f"photo {photo.sha256[:12]}", "no picture")


def test_the_photo_is_there_before_its_row(begun, tmp_path, monkeypatch):
    """Both are kept by one transaction: when the row is refused, the bytes are not there either."""
    with Ledger.open(begun.oda, write=True) as ledger:
        with pytest.raises(BadInput):
            ledger.add_photo(shot(tmp_path), specimen="nothing")
        assert begun.sql("SELECT count(*) FROM photo_bytes") == [(0,)]
        ledger.add_photo(shot(tmp_path), specimen="specimen")
        assert begun.sql("SELECT count(*) FROM photo_bytes") == [(1,)]


def test_a_photo_larger_than_allowed_is_refused_by_the_table(begun):
    """What comes past the program is held to the same limit."""
    large = f"decode(repeat('00', {photos.MOST_BYTES + 1}), 'hex')"
    with pytest.raises(psycopg.errors.CheckViolation):
        begun.sql(f"INSERT INTO photo_bytes VALUES (repeat('a', 64), {large})")


def test_redaction_reaches_every_machine(begun, at, tmp_path):
    """Bytes go from the table at once, and from another machine's folder when the ledger is opened there."""
    with Ledger.open(begun.oda, write=True) as ledger:
        photo = ledger.add_photo(shot(tmp_path), specimen="specimen")
    at("tilo")
    with joined(begun.tilo) as ledger:
        assert ledger.photo_path(photo).is_file()
    at("oda")
    with Ledger.open(begun.oda, write=True) as ledger:
        ledger.redact(photo=photo.sha256, reason="a face in it")
        assert begun.sql("SELECT count(*) FROM photo_bytes") == [(0,)]
        assert cached() == []
        assert ledger.verify() == []
    at("tilo")
    with Ledger.open(begun.tilo, write=True) as ledger:
        assert cached() == []
        assert not ledger.photo_path(photo).exists()
        assert ledger.verify() == []
    assert begun.sql("SELECT count(*) FROM photo_bytes") == [(0,)]


@pytest.mark.parametrize("place", [{"specimen": "specimen"}, {"observation": "first"}])
def test_a_picture_that_one_tester_took_out_and_another_files_reaches_both(begun, at, tmp_path, place):
    """It is in the database with the other's row, whatever place that names, and what is exported is whole."""
    with Ledger.open(begun.oda, write=True) as ledger:
        ledger.append([graded("first")])
        gone = ledger.add_photo(shot(tmp_path), specimen="specimen")
        ledger.redact(photo=gone.sha256, reason="a face in it")
    at("tilo")
    with joined(begun.tilo) as ledger:
        photo = ledger.add_photo(shot(tmp_path), **place)
        assert photo.id in ledger.own(Photo)
        assert ledger.verify() == []
    at("oda")
    with Ledger.open(begun.oda, write=True) as ledger:
        assert ledger.verify() == []
        assert ledger.photo_path(photo).read_bytes() == shot(tmp_path).read_bytes()
        to_folder(ledger, tmp_path / "out")


def test_photos_of_before_are_taken_up(begun, at, tmp_path):
    """A ledger of this version without the table gets it; photos in one tester's folder come in when he writes."""
    with Ledger.open(begun.oda, write=True) as ledger:
        photo = ledger.add_photo(shot(tmp_path), specimen="specimen")
    at("tilo")
    joined(begun.tilo).close()
    begun.sql("DROP TABLE photo_bytes")
    with Ledger.open(begun.tilo) as ledger:
        assert {problem.found for problem in ledger.verify()} >= {"no picture"}
    at("oda")
    with Ledger.open(begun.oda) as ledger:
        (problem,) = ledger.verify()
        assert problem.found == "a picture on this machine alone"
    at("tilo")
    with Ledger.open(begun.tilo, write=True) as ledger:
        (problem,) = ledger.verify()
        assert problem.found == "no picture"
    at("oda")
    with Ledger.open(begun.oda, write=True) as ledger:
        assert ledger.verify() == []
    at("tilo")
    with Ledger.open(begun.tilo) as ledger:
        assert ledger.verify() == []
        assert sha256(ledger.photo_path(photo).read_bytes()) == photo.sha256


def test_merge_and_restore_bring_photos_into_the_database(begun, at, tmp_path):
    """What comes in by a folder or a backup is seen on a machine that never had it."""
    at("guest")
    with Ledger.create(tmp_path / "guest.sqlite", letters="GU", tester="Guest") as guest:
        guest.append(basics())
        photo = guest.add_photo(shot(tmp_path), specimen="specimen")
        to_folder(guest, tmp_path / "out")
        guest.backup(tmp_path / "kept")
    with group(_server()) as other:
        at("oda")
        restore(tmp_path / "kept", other.oda)
        at("tilo")
        with Ledger.open(other.rhea) as ledger:
            assert ledger.photo_path(photo).is_file()
            assert ledger.verify() == []
    begun.sql("DROP SCHEMA public CASCADE")
    begun.sql("CREATE SCHEMA public")
    begun.sql("GRANT ALL ON SCHEMA public TO PUBLIC")
    at("oda")
    with Ledger.create(begun.oda, letters="OV", tester="Oda Vane") as ledger:
        merge_folder(ledger, tmp_path / "out")
    at("oda's other machine")
    with Ledger.open(begun.oda) as ledger:
        assert sha256(ledger.photo_path(ledger.rows(Photo)[0]).read_bytes()) == photo.sha256
        assert ledger.verify() == []


# Lost connections


def test_a_connection_ended_in_a_save_is_told_and_the_next_save_connects(begun):
    """Before the commit nothing was saved: that is said in one plain line, and the same save again is stored once."""
    with Ledger.open(begun.oda, write=True) as ledger:
        commit = ledger._database.before_commit

        def cut(connection):
            commit(connection)
            assert begun.end_connections() >= 1
            connection.exec_driver_sql("SELECT 1")

        ledger._database.before_commit = cut
        with pytest.raises(LedgerUnavailable) as refused:
            ledger.append([graded("a")])
        assert refused.value.line() == "The connection to the server 127.0.0.1 was lost; not saved; try again."
        ledger._database.before_commit = commit
        assert len(ledger.append([graded("a")])) == 1
        assert ledger.append([graded("a")]) == ()
        assert ledger.verify() == []


def test_a_connection_ended_at_the_commit_is_not_confirmed(begun):
    """Whether it was kept is not known: it is said, and the same save again stores nothing twice."""
    with Ledger.open(begun.oda, write=True) as ledger:
        commit = ledger._database.before_commit

        def cut(connection):
            commit(connection)
            begun.end_connections()

        ledger._database.before_commit = cut
        with pytest.raises(NotConfirmed):
            ledger.append([graded("a")])
        ledger._database.before_commit = commit
        ledger.append([graded("a")])
        assert len(ledger.rows(Observation)) == 1
        assert ledger.verify() == []


def test_idle_connections_that_ended_are_replaced(begun):
    """Reading and saving go on after the server ended every connection."""
    with Ledger.open(begun.oda, write=True) as ledger:
        ledger.append([graded("a")])
        assert begun.end_connections() >= 2
        assert len(ledger.rows(Observation)) == 1
        begun.end_connections()
        assert len(ledger.append(tried("b"))) == 2


# Two testers by commands


def test_two_testers_by_commands(begun, at, tmp_path):
    """Each in processes and a home of his own: both write under their own names, and everything verifies for both."""

    def run(who, url, *args):
        at(who)
        command = [sys.executable, "-m", "qcledger", *map(str, args), "--ledger", url]
        done = subprocess.run(command, capture_output=True, text=True, env=os.environ, timeout=300)
        assert done.returncode == 0, done.stderr
        assert "choose-one" not in done.stdout + done.stderr
        return done.stdout

    run("tilo", begun.tilo, "start", "--letters", "TL", "--tester", "Tilo Lund")
    run("tilo", begun.tilo, "rename", "maker", "Quernlow", "Quernlow Colours")
    run("oda", begun.oda, "zone", "Europe/Berlin")
    for who, url in (("oda", begun.oda), ("tilo", begun.tilo)):
        told = run(who, url, "verify")
        assert "OV, Oda Vane" in told
        assert "TL, Tilo Lund" in told
        run(who, url, "export", tmp_path / f"out of {who}")
        run(who, url, "backup", tmp_path / f"backup of {who}")
    with Ledger.open(begun.oda) as ledger:
        assert len(ledger.rows(Daybook)) == 2
