"""Pictures filed, refused where they stand elsewhere, moved, and filed again once they were taken out."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.bench import filing, history, takingout, unpacking
from qcledger.bench.newest import PictureFile
from qcledger.errors import BadInput
from qcledger.exchange import carry_out, merge_folder, plan_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.records import Observation, Photo, Session, Specimen, Trial
from qcledger.vocab import Occasion
from tests.ledger.test_photos import picture
from tests.small import START, graded, small_ledger


@pytest.fixture
def small(tmp_path):
    return graded(small_ledger(tmp_path))


@pytest.fixture
def ledger(small):
    with small.open(write=True) as found:
        yield found


@pytest.fixture
def shot(tmp_path):
    path = tmp_path / "shot.jpg"
    path.write_bytes(picture())
    return PictureFile(0, 0, path)


def edge(ledger, line):
    """Return the id of the grade of Edge that stands on the specimen of a line."""
    (trial,) = ledger.rows(Trial, specimen=f"sp{line:02}")
    older = {seen.supersedes for seen in ledger.rows(Observation, trial=trial.id)}
    (found,) = [one.id for one in ledger.rows(Observation, trial=trial.id, criterion="edge") if one.id not in older]
    return found


def filed(ledger, shot, line=0):
    return filing.file_picture(ledger, shot, specimen=f"sp{line:02}", observation=edge(ledger, line), caption="Edge")


def moved_to(ledger, photo, *place):
    wanted = filing.weigh_move(ledger, photo, *filing.place(ledger, *place))
    filing.move(ledger, wanted, "it shows another specimen")
    return ledger.get(Photo, photo.id)


def test_a_picture_that_is_filed_is_refused_with_where_it_is_and_how_to_move_it(ledger, shot):
    """One line: with what, and the key and command that move it; nothing is stored."""
    filed(ledger, shot)
    before = len(list(ledger.entries()))
    with pytest.raises(BadInput) as refused:
        filing.file_picture(ledger, shot, specimen="sp01", observation=None)
    line = refused.value.line()
    assert "shot.jpg, filed already" in line
    assert "it is with Edge of OV 0001 (S04): m there, or qcledger amend --photo --move, moves it" in line
    assert len(list(ledger.entries())) == before


def test_a_photo_is_moved_with_a_reason_its_bytes_untouched_and_the_old_place_says_where_to(ledger, shot):
    """To another result, then to a piece alone; each place it left tells where it is now, and a z leaves no trace."""
    photo = filed(ledger, shot)
    stood = ledger.photo_path(photo).stat()
    now = moved_to(ledger, photo, "OV 2", "edge")
    assert (now.specimen, now.observation, now.caption, now.sha256) == ("sp01", edge(ledger, 1), "Edge", photo.sha256)
    (told,) = history.load(ledger, "sp00").moved
    assert (told.name, told.to, told.reason) == ("shot.jpg", "Edge of OV 0002 (S04)", "it shows another specimen")
    assert history.load(ledger, "sp00").pictures == ()
    assert history.load(ledger, "sp01").pictures == (now,)
    last = moved_to(ledger, now, "ov3", "")
    assert (last.specimen, last.observation, last.caption) == ("sp02", None, "")
    assert [history.load(ledger, one).moved[0].to for one in ("sp00", "sp01")] == ["OV 0003", "OV 0003"]
    ledger.append([now], reason="taken back")
    assert history.load(ledger, "sp02").moved == ()
    after = ledger.photo_path(photo).stat()
    assert (stood.st_mtime_ns, stood.st_ino) == (after.st_mtime_ns, after.st_ino)
    assert ledger.verify() == []


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (("OV 0001", "edge"), "with Edge of OV 0001 .S04. already"),
        (("OV 0099", ""), "OV 0099"),
        (("OV 0002", "nothing of the kind"), "nothing of the kind"),
        (("OV 0002", "", "S04"), "none without a criterion"),
        (("OV 0002", "edge", "S77"), "S77"),
    ],
)
def test_a_place_that_is_none_is_refused(ledger, shot, place, words):
    """Nothing is written."""
    photo = filed(ledger, shot)
    with pytest.raises(BadInput, match=words):
        moved_to(ledger, photo, *place)
    assert ledger.get(Photo, photo.id) == photo


def test_a_move_needs_a_reason_and_the_photo_as_it_was_seen(ledger, shot):
    """Filed anew meanwhile, it is asked to look again."""
    photo = filed(ledger, shot)
    wanted = filing.weigh_move(ledger, photo, "sp01", None)
    with pytest.raises(BadInput, match="reason"):
        filing.move(ledger, wanted, " ")
    ledger.append([replace(photo, caption="seen twice")])
    with pytest.raises(BadInput, match="filed anew meanwhile"):
        filing.move(ledger, wanted, "why")


def test_on_a_blind_sheet_a_place_is_named_by_its_code_and_never_by_its_specimen(tmp_path, shot):
    """Neither the refusal nor the old place's line tells which specimen a code stands for."""
    (tmp_path / "blind").mkdir()
    with graded(small_ledger(tmp_path / "blind", blind=True)).open(write=True) as ledger:
        photo = filed(ledger, shot)
        assert filing.where_words(ledger, photo) == "Edge of 471 (S04)"
        alone = moved_to(ledger, photo, "OV 0003", "")
        moved_to(ledger, alone, "472", "edge", "S04")
        assert history.load(ledger, "sp02").moved[0].to == "a place of session S04, which is still blind"
        now = ledger.get(Photo, photo.id)
        assert now.observation == edge(ledger, 1)
        assert history.load(ledger, "sp00").moved == ()
        assert history.load(ledger, "sp01").pictures == ()
        session = ledger.get(Session, "se")
        ledger.append([replace(session, closed_at=START.replace(day=16))])
        assert history.load(ledger, "sp00").moved[0].to == "Edge of OV 0002 (S04)"


def test_a_look_tells_a_code_beside_places_of_its_own_session_alone(tmp_path, shot):
    """Beside a result whose sticker is told stands the session; beside another code of the sheet the code."""
    (tmp_path / "blind").mkdir()
    with graded(small_ledger(tmp_path / "blind", blind=True)).open(write=True) as ledger:
        photo, blind = filed(ledger, shot), ledger.get(Observation, edge(ledger, 2))
        older = Trial(id="old", specimen="sp01", occasion=Occasion.OLDER_NOTES, at=START)
        seen = replace(blind, id="in old notes", trial="old", at=START, supersedes=None, reason=None)
        ledger.append([older, seen])
        assert filing.where_seen_from(ledger, photo, seen) == "a place of session S04, which is still blind"
        assert filing.where_seen_from(ledger, photo, blind) == "Edge of 471 (S04)"
        alone = moved_to(ledger, photo, "OV 0003", "")
        assert filing.where_seen_from(ledger, alone, seen) == "OV 0003"


def older_notes(ledger, *days):
    """Write a grade of Edge in older notes on sp01 for each day, and return the ids."""
    seen = ledger.get(Observation, edge(ledger, 1))
    for number, at in enumerate(days):
        trial = Trial(id=f"old {number}", specimen="sp01", occasion=Occasion.OLDER_NOTES, at=at)
        row = replace(seen, id=f"noted {number}", trial=trial.id, at=at, supersedes=None, reason=None)
        ledger.append([trial, row])
    return [f"noted {number}" for number, _ in enumerate(days)]


def test_two_results_that_read_alike_are_two_places_and_are_told_by_their_days(ledger, shot):
    """A photo moves from one to the other; a place is named by its day; the one it is at is refused all the same."""
    first, second = START - timedelta(days=2), START - timedelta(days=1)
    ids = older_notes(ledger, first, second)
    photo = filing.file_picture(ledger, shot, specimen="sp01", observation=ids[0], caption="Edge")
    assert filing.place(ledger, "OV 2", "edge", "", str(second.date())) == ("sp01", ids[1])
    wanted = filing.weigh_move(ledger, photo, "sp01", ids[1])
    days = [f"Edge of OV 0002 (older notes, {day.date()})" for day in (first, second)]
    assert wanted.words == f"shot.jpg from {days[0]} to {days[1]}"
    filing.move(ledger, wanted, "the later one")
    with pytest.raises(BadInput, match=re.escape(f"with {days[1]} already")):
        filing.weigh_move(ledger, wanted.after, "sp01", ids[1])
    with pytest.raises(BadInput, match="day: found"):
        filing.place(ledger, "OV 2", "", "", "2026-03-09")


def test_a_photo_that_is_back_at_its_place_amended_since_was_not_moved_away(ledger, shot):
    """It went, the grade was amended, and it came back to what stands there now: no history says that it is gone."""
    photo = filed(ledger, shot)
    away = moved_to(ledger, photo, "OV 2", "")
    assert [one.to for one in history.load(ledger, "sp00").moved] == ["OV 0002"]
    seen = ledger.get(Observation, photo.observation)
    ledger.append([replace(seen, id="amended", grade=2.0, supersedes=seen.id, reason="misread")])
    back = moved_to(ledger, away, "OV 1", "edge")
    assert back.observation == "amended"
    assert history.load(ledger, "sp00").moved == ()
    with pytest.raises(BadInput, match="already"):
        filing.weigh_move(ledger, back, "sp00", seen.id)


def test_a_picture_is_filed_with_no_piece_that_was_taken_out(ledger, shot):
    """Neither anew nor by a move; it is said when and why the piece went, and what puts it back."""
    spare = replace(ledger.get(Specimen, "sp00"), id="spare", sticker="OV 0099")
    ledger.append([spare])
    unpacking.take_out(ledger, spare, ledger.new_id)
    refused = "OV 0099: found 'taken out on .*entered by mistake'.*whether it is put back"
    with pytest.raises(BadInput, match=refused):
        filing.check(ledger, shot, "spare", None)
    with pytest.raises(BadInput, match=refused):
        filing.file_picture(ledger, shot, specimen="spare", observation=None)
    photo = filed(ledger, shot)
    with pytest.raises(BadInput, match=refused):
        moved_to(ledger, photo, "OV 99", "")
    assert ledger.rows(Photo) == [photo]


def test_a_picture_that_was_taken_out_is_not_moved(ledger, shot):
    """There is nothing to move; filed anew it goes anywhere."""
    photo = filed(ledger, shot)
    taken_out(ledger, photo)
    with pytest.raises(BadInput, match=r"photo [0-9a-f]{12}: found 'a picture that was taken out'"):
        filing.weigh_move(ledger, filing.photo_of(ledger, shot), "sp01", None)
    assert ledger.get(Photo, photo.id).observation == photo.observation


def taken_out(ledger, photo):
    takingout.take_out(ledger, takingout.of_photo(ledger, photo.sha256[:12]), "a face")
    assert not ledger.photo_path(photo).exists()


def test_a_picture_that_was_taken_out_is_filed_again_anywhere(ledger, shot):
    """Its row is amended, its bytes are back; taken out once more they are gone again, and each time it verifies."""
    photo = filed(ledger, shot)
    for line in (1, 2):
        taken_out(ledger, photo)
        assert ledger.verify() == []
        again = filed(ledger, shot, line)
        assert (again.id, again.specimen, again.file_name) == (photo.id, f"sp{line:02}", "shot.jpg")
        assert ledger.photo_path(again).read_bytes() == shot.path.read_bytes()
        assert ledger.verify() == []
        with pytest.raises(BadInput, match="filed already"):
            filed(ledger, shot, 0)
    taken_out(ledger, photo)
    assert ledger.verify() == []


def test_a_picture_that_was_taken_out_and_cannot_be_kept_leaves_no_bytes(ledger, shot):
    """What the ledger refuses is not stored half."""
    photo = filed(ledger, shot)
    taken_out(ledger, photo)
    with pytest.raises(BadInput):
        filing.file_picture(ledger, shot, specimen="sp01", observation="no such one")
    assert not ledger.photo_path(photo).exists()
    assert ledger.verify() == []


def test_a_picture_filed_again_reaches_other_ledgers(ledger, shot, tmp_path):
    """Merged while it was out, then once it is back: its bytes come with it; as rows of a folder it comes in, too."""
    photo = filed(ledger, shot)
    with Ledger.create(tmp_path / "theirs.sqlite", letters="TL", tester="Tilo", zone="Etc/UTC") as theirs:
        session = ledger.get(Session, "se")
        ledger.append([replace(session, closed_at=START.replace(day=16))])
        taken_out(ledger, photo)
        to_folder(ledger, tmp_path / "one")
        merge_folder(theirs, tmp_path / "one")
        assert not theirs.photo_path(photo).exists()
        again = filed(ledger, shot, 1)
        to_folder(ledger, tmp_path / "two")
        merge_folder(theirs, tmp_path / "two")
        assert theirs.get(Photo, photo.id) == again
        assert theirs.photo_path(photo).read_bytes() == shot.path.read_bytes()
        assert theirs.verify() == []
    with Ledger.create(tmp_path / "rows.sqlite", letters="AN", tester="Anno", zone="Etc/UTC") as rows:
        carry_out(rows, plan_folder(rows, tmp_path / "two"))
        assert [one.sha256 for one in rows.rows(Photo)] == [photo.sha256]
        assert rows.verify() == []
