"""Tables made by hand, or exported elsewhere, come in as new entries: all rows or none, and never twice."""

import csv
import shutil
from datetime import date
from pathlib import Path

import pytest
from PIL import Image

from qcledger.errors import BadInput, NotConfirmed
from qcledger.exchange import carry_out, plan_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.records import (
    SHARED,
    Comparison,
    Decision,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    Photo,
    Redaction,
    RubricText,
    SameAs,
    Specimen,
    Trial,
)
from qcledger.vocab import CURRENCY_DIGITS, Format, Sameness
from tests.exchange.made import full, picture
from tests.ledger.given import RUBRIC, everything, steady

STUDIO = {
    "maker": "id,name\nm1,Drumlaw\nm2,Halcyre\n",
    "paint": "id,maker,name,number\np1,m1,Quay Rose,\np2,Halcyre,Fir,7\n",
    "lot": "id,paint,format,code\nl1,p1,half pan,D7\n",
    "parcel": "id,bought_on,seller,currency\nq,2026-02-01,Seller one,EUR\n",
    "specimen": (
        "sticker,paint,format,parcel,lot,nominal_ml,price_minor\n"
        "OV 0001,p1,half pan,q,l1,1.5,475\n"
        "OV 0002,Fir,tube,q,,,\n"
    ),
    "comparison": "title,question,started_on,paints,rubrics\nReds,Which red?,2026-03-01,p1 | Fir,watercolour\n",
    "trial": (
        "id,specimen,occasion,at\n"
        "t1,OV 0001,older notes,2026-03-02T12:00:00Z\n"
        "t2,OV 0002,older notes,2026-03-02T12:00:00Z\n"
    ),
    "observation": (
        "id,trial,criterion,rubric,tester,at,grade,supersedes,reason\n"
        "o2,t1,rewetting_in_fives,watercolour,Oda Vane,2026-03-03T12:00:00Z,3,o1,misread\n"
        "o1,t1,rewetting_in_fives,watercolour,Oda Vane,2026-03-02T12:00:00Z,2,,\n"
        ",t2,rewetting_in_fives,watercolour,Oda Vane,2026-03-02T12:00:00Z,0,,\n"
    ),
    "photo": "specimen,file_name,caption\nOV 0001,front.png,=front\n",
    "decision": "kind,subject_table,subject,by,on,reason\nretest,trial,t2,Oda Vane,2026-03-09,looked odd\n",
}


@pytest.fixture
def ledger(tmp_path):
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as made:
        yield made


def write(folder: Path, tables: dict[str, str]) -> Path:
    """Write tables, and the picture they speak of, into a new folder."""
    (folder / "photos").mkdir(parents=True)
    picture(folder / "photos" / "front.png")
    for table, text in tables.items():
        (folder / f"{table}.csv").write_text(text, encoding="utf-8")
    return folder


def bring_in(ledger, folder):
    """Import a folder; returns the rows that were new and those that were here."""
    plan = plan_folder(ledger, folder)
    carry_out(ledger, plan)
    return plan.new_rows, plan.rows_here


def refused(ledger, folder):
    """Return the lines an import is refused with, after making sure that it changed nothing."""
    before = ledger.closing_hashes()
    with pytest.raises(BadInput) as error:
        bring_in(ledger, folder)
    assert ledger.closing_hashes() == before
    return [str(problem) for problem in error.value.problems]


def test_hand_made_tables_come_in(ledger, tmp_path):
    """Rows that name each other by label, by name or by list become rows with ids, and the picture is filed."""
    folder = write(tmp_path / "in", STUDIO)
    assert bring_in(ledger, folder) == (16, 0)
    rose, fir = sorted(ledger.rows(Paint), key=lambda row: row.name, reverse=True)
    assert {row.name: row.id for row in ledger.rows(Maker)} == {"Drumlaw": rose.maker, "Halcyre": fir.maker}
    one, two = sorted(ledger.rows(Specimen), key=lambda row: row.sticker)
    assert (one.paint, two.paint, one.lot) == (rose.id, fir.id, ledger.rows(Lot)[0].id)
    (comparison,) = ledger.rows(Comparison)
    assert (comparison.paints, comparison.rubrics) == ((rose.id, fir.id), (RUBRIC.hash,))
    newer = next(row for row in ledger.rows(Observation) if row.supersedes)
    assert ledger.get(Observation, newer.supersedes).grade == 2
    assert [row.rubric for row in ledger.rows(Observation)] == [RUBRIC.hash] * 3
    (photo,) = ledger.rows(Photo)
    assert (photo.width, photo.height, photo.kind, photo.caption, photo.specimen) == (40, 30, "png", "=front", one.id)
    assert ledger.photo_path(photo).read_bytes() == (folder / "photos" / "front.png").read_bytes()
    assert ledger.rows(Decision)[0].subject == next(row.id for row in ledger.rows(Trial) if row.specimen == two.id)
    assert ledger.verify() == []


def test_a_second_import_changes_nothing(ledger, tmp_path):
    """The same folder again, even under another name and with other labels, brings no entry."""
    bring_in(ledger, write(tmp_path / "in", STUDIO))
    before = ledger.closing_hashes()
    assert bring_in(ledger, tmp_path / "in") == (0, 16)
    renamed = {table: text.replace("p1", "rose").replace("m1", "the maker") for table, text in STUDIO.items()}
    assert bring_in(ledger, write(tmp_path / "again", renamed)) == (0, 16)
    assert ledger.closing_hashes() == before


def test_two_ledgers_give_shared_things_the_same_ids(ledger, tmp_path):
    """What all testers share gets its id from its name, whoever brings it in; what is a daybook's own never does."""
    folder = write(tmp_path / "in", STUDIO)
    bring_in(ledger, folder)
    with Ledger.create(tmp_path / "theirs.sqlite", letters="TL", tester="Tam Lark") as theirs:
        bring_in(theirs, folder)
        here, there = everything(ledger), everything(theirs)
    shared = {kind.TABLE for kind in SHARED}
    assert {table for table, rows in here.items() if rows} > shared & {"maker", "paint", "lot", "comparison"}
    for table, rows in here.items():
        if table in shared:
            assert there[table] == rows
        else:
            assert {row.id for row in rows}.isdisjoint(row.id for row in there[table])


def test_equal_rows_are_as_many_rows(ledger, tmp_path):
    """Two rows that say the same are two, and still two after a second import."""
    tables = {**STUDIO, "trial": STUDIO["trial"] + "t3,OV 0002,older notes,2026-03-02T12:00:00Z\n"}
    folder = write(tmp_path / "in", tables)
    bring_in(ledger, folder)
    bring_in(ledger, folder)
    assert len(ledger.rows(Trial)) == 3


def test_names_find_rows_that_stand(ledger, tmp_path):
    """A maker that stands already is found by its name, whatever its case, and not made a second time."""
    ledger.append([Maker(id="there", name="Drumlaw", note="in the north")])
    write(tmp_path / "in", {"maker": "id,name\nm1,DRUMLAW\n", "paint": "maker,name\nm1,Rose\ndrumlaw,Fir\n"})
    assert bring_in(ledger, tmp_path / "in") == (2, 1)
    assert [row.name for row in ledger.rows(Maker)] == ["Drumlaw"]
    assert {row.maker for row in ledger.rows(Paint)} == {"there"}


def test_an_amended_row_is_still_here(ledger, tmp_path):
    """A row that was amended in the ledger after it came in is here already, and stays amended."""
    folder = write(tmp_path / "in", {"maker": "name,note\nDrumlaw,north\n"})
    bring_in(ledger, folder)
    (maker,) = ledger.rows(Maker)
    ledger.append([Maker(id=maker.id, name="Drumlaw", note="south")], reason="moved")
    assert bring_in(ledger, folder) == (0, 1)
    assert ledger.rows(Maker)[0].note == "south"


def test_a_changed_row_is_refused(ledger, tmp_path):
    """An import never amends: a row that says something else than the one that stands is named."""
    bring_in(ledger, write(tmp_path / "in", {"maker": "name,note\nDrumlaw,north\n"}))
    (line,) = refused(ledger, write(tmp_path / "again", {"maker": "name,note\nDrumlaw,east\n"}))
    assert line.startswith("maker.csv line 2, note: found 'east'; allowed: 'north', as it stands already")


def test_a_redacted_row_does_not_come_back(ledger, tmp_path):
    """What was taken out for a reason is not brought in again."""
    folder = write(tmp_path / "in", {"maker": "name\nDrumlaw\n"})
    bring_in(ledger, folder)
    entry = next(entry for entry in ledger.entries() if entry.kind == "maker")
    ledger.redact(entry=entry.hash, reason="a person's name")
    assert bring_in(ledger, folder) == (0, 1)
    assert ledger.rows(Maker) == []


def test_an_exported_folder_comes_in_as_own_entries(ledger, tmp_path):
    """Everything in an exported folder but its daybooks and what was redacted becomes entries of one's own."""
    (tmp_path / "theirs").mkdir()
    with full(tmp_path / "theirs" / "ledger.sqlite") as theirs:
        to_folder(theirs, tmp_path / "out")
        there = everything(theirs)
    plan = plan_folder(ledger, tmp_path / "out")
    left_out = ["daybook.csv", "entries.csv", "redaction.csv", "zone.csv"]
    assert [guess.split(" is ")[0] for guess in plan.guesses[:4]] == left_out
    assert plan.guesses[4] == "1 rows of photo.csv are left out; their pictures were redacted"
    carry_out(ledger, plan)
    here = everything(ledger)
    assert {entry.daybook for entry in ledger.entries()} == {ledger.daybook.id}
    assert ledger.rows(Redaction) == []
    of_a_ledger = ("daybook", "redaction", "import")
    assert {table: len(rows) for table, rows in here.items() if table not in of_a_ledger} == {
        table: len(rows) - (table == "photo") for table, rows in there.items() if table not in of_a_ledger
    }
    assert [row.name for row in here["import"]] == ["out"]
    assert ledger.verify() == []


def test_real_ids_are_kept(tmp_path, ledger):
    """Rows with ids as ledgers make them keep those, so that an import and a merge of the same rows agree."""
    with Ledger.create(tmp_path / "theirs.sqlite", letters="TL", tester="Tam Lark") as theirs:
        from qcledger.ledger import new_id

        maker = Maker(id=new_id(), name="Drumlaw")
        theirs.append([maker, Paint(id=new_id(), maker=maker.id, name="Quay Rose")])
        to_folder(theirs, tmp_path / "out")
        assert bring_in(ledger, tmp_path / "out") == (2, 0)
        assert ledger.rows(Maker) == [maker]
        assert ledger.rows(Paint) == theirs.rows(Paint)


def test_every_bad_row_is_named_and_no_other(ledger, tmp_path):
    """Each bad row has one line; rows that only refer to a bad one are not blamed."""
    tables = STUDIO | {
        "paint": "id,maker,name\np1,m1,Quay Rose\np2,Halcyr,Fir\np3,m9,Sky\n",
        "parcel": "id,bought_on,seller,currency,shipping_minor\nq,2026-02-31,,EUR,-4\nr,2026-02-01,Seller two,XYZ,\n",
        "observation": STUDIO["observation"].replace(",3,o1", ",7,o1"),
    }
    assert refused(ledger, write(tmp_path / "in", tables)) == [
        "paint.csv line 3, maker: found 'Halcyr'; allowed: an id or label in maker.csv, an id in the ledger, or a "
        "name such as Halcyre",
        "paint.csv line 4, maker: found 'm9'; allowed: an id or label in maker.csv, an id in the ledger",
        "parcel.csv line 2, bought_on: found '2026-02-31'; allowed: a day of the calendar, as 2026-03-09 (and 1 more "
        "in this row)",
        "parcel.csv line 3, currency: found 'XYZ'; allowed: one of " + ", ".join(CURRENCY_DIGITS),
    ]
    tables |= {
        "paint": STUDIO["paint"],
        "parcel": STUDIO["parcel"].replace("EUR", "EUR,-4").replace("cy", "cy,shipping_minor"),
    }
    assert refused(ledger, write(tmp_path / "negative", tables)) == [
        "parcel.csv line 2, shipping_minor: found '-4'; allowed: a whole number from 0 to 1000000000000, or nothing"
    ]
    tables |= {"parcel": STUDIO["parcel"]}
    assert refused(ledger, write(tmp_path / "seven", tables)) == [
        "observation.csv line 2, grade: found '7'; allowed: a number from 0 to 5 in steps of 0.5, or nothing"
    ]
    offered = {
        "observation": STUDIO["observation"]
        .replace("rewetting_in_fives,watercolour", "cracked,packaging")
        .replace(",3,o1", ",2,o1")
    }
    assert refused(ledger, write(tmp_path / "offered", STUDIO | offered)) == [
        f"observation.csv line {line}: found 'grade 2'; allowed: 0, 1, 3, 5 for Cracked or crumbling"
        for line in (2, 3)
    ]


def test_files_that_cannot_be_read_are_named(ledger, tmp_path):
    """A table in Latin-1, without a header or with an unknown column is one line, and rows that need it none."""
    folder = write(tmp_path / "in", STUDIO)
    (folder / "maker.csv").write_bytes("id,name\nm1,Drumläw\n".encode("latin-1"))
    (folder / "lot.csv").write_text("l1,p1,half pan,D7\n")
    (folder / "parcel.csv").write_text('id,bought_on,seller,currency\nq,2026-02-01,"Seller one,EUR\n')
    (folder / "trial.csv").write_text("id,specimen,occasion,at\nt1,OV 0001\n")
    latin, header, quotes, short = refused(ledger, folder)
    assert latin == "maker.csv line 2: found 'byte 0xE4'; allowed: UTF-8 text (save the file again as CSV UTF-8)"
    assert header.startswith("lot.csv line 1: found 'column l1'; allowed: a header with columns named id, paint")
    assert quotes.startswith("parcel.csv line 2: found 'unexpected end of data'")
    assert short == "trial.csv line 2: found '2 cells'; allowed: 4 cells"
    (folder / "colours.csv").write_text("id\n")
    (line,) = refused(ledger, folder)
    assert line.startswith("colours.csv: found 'colours.csv'; allowed: daybook.csv, zone.csv, import.csv, maker.csv")


def test_labels_are_unique_and_lead_back_to_rows(ledger, tmp_path):
    """A label given twice, a circle of amendments, and a name of two rows that are kept apart are refused."""
    twice = write(tmp_path / "twice", {"maker": "id,name\nm1,Drumlaw\nm1,Halcyre\n"})
    assert refused(ledger, twice) == ["maker.csv line 3, id: found 'm1'; allowed: an id that no row above has"]
    circle = STUDIO | {
        "observation": STUDIO["observation"].replace("2026-03-02T12:00:00Z,2,,", "2026-03-02T12:00:00Z,2,o2,x")
    }
    (line,) = refused(ledger, write(tmp_path / "circle", circle))
    assert "found 'a row that supersedes itself in the end'" in line
    two = {"subject_table": "maker", "subject": "a", "other": "b", "by": "Oda Vane", "on": date(2026, 3, 9)}
    apart = SameAs(id="two", kind=Sameness.DIFFERENT, reason="two of one name", **two)
    ledger.append([Maker(id="a", name="Drumlaw"), Maker(id="b", name="drumlaw"), apart])
    (line,) = refused(ledger, write(tmp_path / "two", {"paint": "maker,name\nDrumlaw,Rose\n"}))
    assert (
        line
        == "paint.csv line 2, maker: found 'Drumlaw'; allowed: an id or label, because 2 rows of maker are called so"
    )
    ledger.append([Maker(id="c", name="Halcyre")])
    ledger.append([Paint(id="p", maker="a", name="Rose"), Paint(id="q", maker="c", name="Rose")])
    (line,) = refused(ledger, write(tmp_path / "roses", {"label_version": "paint,seen_on\nRose,2026-02-01\n"}))
    assert line.startswith(
        "label_version.csv line 2, paint: found 'Rose'; allowed: an id or label, because 2 rows of"
    )


def test_an_unknown_rubric_is_named(ledger, tmp_path):
    """A rubric that is neither in the folder, nor kept, nor shipped is refused with its line."""
    tables = STUDIO | {
        "observation": STUDIO["observation"].replace(
            "t2,rewetting_in_fives,watercolour", "t2,rewetting_in_fives,oils"
        )
    }
    (line,) = refused(ledger, write(tmp_path / "in", tables))
    assert line.startswith("observation.csv line 4, rubric: found 'oils'; allowed: an id or label in rubric_text.csv")


def test_a_folder_without_tables_is_refused(ledger, tmp_path):
    """A place that is no folder, or a folder with nothing to bring in, is one line."""
    (tmp_path / "empty").mkdir()
    assert "found 'no tables'" in refused(ledger, tmp_path / "empty")[0]
    assert "found 'no folder'" in refused(ledger, tmp_path / "nowhere")[0]


def no_image(path):
    path.write_text("not a picture")


def too_many_pixels(path):
    Image.new("1", (20_000, 10_000)).save(path)  # 200 megapixels in a file of 25 kB


def link(path):
    picture(path.parent.parent / "outside.png")
    path.unlink()
    path.symlink_to(path.parent.parent / "outside.png")


@pytest.mark.parametrize(
    ("harm", "says"),
    [(no_image, "no picture of these"), (too_many_pixels, "more pixels than that"), (link, "found 'front.png'")],
)
def test_a_bad_picture_is_named_by_its_row(ledger, tmp_path, harm, says):
    """A file that is no picture, one of 200 megapixels, and a link out of the folder are refused with the line."""
    folder = write(tmp_path / "in", STUDIO)
    harm(folder / "photos" / "front.png")
    (line,) = refused(ledger, folder)
    assert line.startswith("photo.csv line 2, f")
    assert says in line
    assert not ledger.photos.exists()


@pytest.mark.parametrize("name", ["../outside.png", "photos/front.png", "/etc/passwd", "", ".", "..", "absent.png"])
def test_a_picture_is_never_taken_from_elsewhere(ledger, tmp_path, name):
    """Only plain names of files in the folder's own photos are pictures."""
    picture(tmp_path / "in.png")
    folder = write(tmp_path / "in", STUDIO | {"photo": f"specimen,file_name\nOV 0001,{name}\n"})
    picture(folder / "outside.png")
    (line,) = refused(ledger, folder)
    assert line.startswith("photo.csv line 2, file_name: found")


def test_a_photo_must_be_the_one_its_row_describes(ledger, tmp_path):
    """A row that says another size or hash than its picture has is refused."""
    folder = write(tmp_path / "in", STUDIO | {"photo": "specimen,file_name,width\nOV 0001,front.png,41\n"})
    (line,) = refused(ledger, folder)
    assert line == "photo.csv line 2, width: found '41'; allowed: 40, as the picture front.png has"


@pytest.mark.parametrize(
    "error", [OSError(28, "No space left on device"), KeyboardInterrupt()], ids=["full", "stopped"]
)
def test_an_import_that_fails_stores_nothing(ledger, tmp_path, monkeypatch, error):
    """When the disk is full or the tester stops it while rows are written, neither rows nor photos are stored."""
    folder = write(tmp_path / "in", STUDIO)
    plan = plan_folder(ledger, folder)

    def fail(*args, **kwargs):
        raise error

    monkeypatch.setattr(Ledger, "append", fail)
    before = ledger.closing_hashes()
    with pytest.raises(type(error)):
        carry_out(ledger, plan)
    assert ledger.closing_hashes() == before
    assert list(ledger.photos.iterdir()) == []


def test_hostile_texts_stay_text(ledger, tmp_path):
    """Formulas, markup and what steers a terminal come in as cleaned text, and go out as text again."""
    from qcledger.text import clean
    from tests.hostile import HOSTILE

    folder = tmp_path / "in"
    folder.mkdir()
    with (folder / "maker.csv").open("w", encoding="utf-8", newline="", errors="surrogatepass") as stream:
        rows = csv.writer(stream)
        rows.writerow(["id", "name", "note"])
        rows.writerows([f"m{n}", f"Maker {n}", text] for n, text in enumerate(HOSTILE))
    bring_in(ledger, folder)
    assert {row.name: row.note for row in ledger.rows(Maker)} == {
        f"Maker {n}": clean(text) for n, text in enumerate(HOSTILE)
    }
    to_folder(ledger, tmp_path / "out")
    shutil.copy(tmp_path / "out" / "maker.csv", folder / "maker.csv")
    assert bring_in(ledger, folder) == (0, len(HOSTILE))


def test_older_rubrics_come_in_by_their_text(ledger, tmp_path):
    """A rubric's row needs no id: that is the hash of its text."""
    text = RUBRIC.text.replace('"', '""')
    folder = write(tmp_path / "in", {"rubric_text": f'id,key,text\nr,watercolour,"{text}"\n'})
    bring_in(ledger, folder)
    assert [row.id for row in ledger.rows(RubricText)] == [RUBRIC.hash]


def test_steady_sources_are_not_asked_for_ids(tmp_path):
    """Rows brought in take no id from the ledger's own source, which would be another one each time."""
    with Ledger.create(tmp_path / "a.sqlite", letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        bring_in(ledger, write(tmp_path / "in", STUDIO))
        assert not any(row.id.startswith("id-") for row in ledger.rows(Maker))


BENCH = "id,specimen,occasion,at\nt1,OV 0001,bench,2026-03-02T12:00:00Z\nt2,OV 0002,unpacking,2026-03-02T12:00:00Z\n"
SEEN = "id,trial,criterion,rubric,tester,at,grade,supersedes,reason\n"
NOTED = "Oda Vane,2026-03-02T12:00:00Z"
FIRST = f"{SEEN}o1,t1,evenness,watercolour,{NOTED},3,,\n"
IMPOSSIBLE = {
    "before it was bought": (
        {"trial": STUDIO["trial"].replace("t1,OV 0001,older notes,2026-03-02", "t1,OV 0001,older notes,2026-01-31")},
        "trial.csv line 2, at: found '2026-01-31T12:00:00Z'; allowed: 2026-02-01, when OV 0001 came, or later",
    ),
    "ahead": (
        {"parcel": "id,bought_on,seller,currency\nq,2999-02-01,Seller one,EUR\n"},
        "parcel.csv line 2, bought_on: found '2999-02-01'; allowed: nothing later than now, ",
    ),
    "in a year that cannot be meant": (
        {"parcel": "id,bought_on,seller,currency\nq,0001-02-01,Seller one,EUR\n"},
        "parcel.csv line 2, bought_on: found '0001-02-01'; allowed: a day from 1900-01-01 on",
    ),
    "unpacking criterion at the bench": (
        {"trial": BENCH, "observation": f"{SEEN}o1,t1,cracked,packaging,{NOTED},3,,\n"},
        "observation.csv line 2, criterion: found 'cracked'; allowed: criteria judged at bench; Cracked or crumbling",
    ),
    "bench criterion at unpacking": (
        {"trial": BENCH, "observation": f"{SEEN}o1,t2,evenness,watercolour,{NOTED},3,,\n"},
        "observation.csv line 2, criterion: found 'evenness'; allowed: criteria judged at unpacking",
    ),
    "sticker of another form": (
        {"specimen": STUDIO["specimen"].replace("OV 0001", "A-17")},
        "specimen.csv line 2, sticker: found 'A-17'; allowed: one to four letters, a blank and a count",
    ),
    "two of one sticker": (
        {"specimen": STUDIO["specimen"] + "ov 1,p1,half pan,q,,,\n"},
        "specimen.csv line 4, sticker: found 'ov 1'; allowed: one that no other specimen has",
    ),
    "two results of one trial": (
        {"trial": BENCH, "observation": FIRST + f",t1,evenness,watercolour,{NOTED},1,,\n"},
        "observation.csv line 3, criterion: found 'evenness'; allowed: one result in a trial",
    ),
    "supersedes one of another trial": (
        {"observation": FIRST + f"o2,t2,evenness,watercolour,{NOTED},1,o1,slip\n"},
        "observation.csv line 3, supersedes: found ",
    ),
    "lot of another format": (
        {"lot": STUDIO["lot"].replace("half pan", "tube")},
        "specimen.csv line 2, lot: found ",
    ),
    "label of another paint": (
        {"label_version": "id,paint,seen_on\nv,Fir,2026-02-01\n",
         "specimen": "sticker,paint,format,parcel,label_version\nOV 0001,p1,half pan,q,v\nOV 0002,Fir,tube,q,v\n"},
        "specimen.csv line 2, label_version: found ",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", IMPOSSIBLE)
def test_what_cannot_have_been_so_is_named_with_its_line(ledger, tmp_path, what):
    """File, line and column, what was found and what is allowed; nothing of the folder is stored."""
    tables, message = IMPOSSIBLE[what]
    lines = refused(ledger, write(tmp_path / "in", STUDIO | tables))
    assert len([line for line in lines if line.startswith(message)]) == 1
    assert ledger.rows(Specimen) == []


def test_a_sticker_given_away_meanwhile_is_refused_whole(ledger, tmp_path):
    """The folder's stickers are the tester's own: when another terminal has used one since, nothing is stored."""
    plan = plan_folder(ledger, write(tmp_path / "in", STUDIO))
    maker, paint, parcel = (next(row for row in plan.records if type(row) is kind) for kind in (Maker, Paint, Parcel))
    other = Specimen(id="other", sticker="OV 0001", paint=paint.id, parcel=parcel.id, format=Format.TUBE)
    ledger.append([maker, paint, parcel, other])
    before = ledger.closing_hashes()
    with pytest.raises(BadInput, match="one that no other specimen has; OV 0002 is free"):
        carry_out(ledger, plan)
    assert ledger.closing_hashes() == before
    assert list(ledger.photos.iterdir()) == []


def test_what_steers_a_terminal_is_left_out_and_said_once(ledger, tmp_path):
    """How many characters, and where the first stood; line ends of other systems are none."""
    tables = {"maker": 'id,name,note\r\nm1,Drum\u202elaw,"a\rb\u0085c"\r\nm2,Halcyre,\x1b[2J\u200b\r\n'}
    folder = write(tmp_path / "in", tables)
    (told,) = plan_folder(ledger, folder).guesses
    assert told == "3 characters that steer a terminal were left out, the first U+202E in maker.csv line 2"
    bring_in(ledger, folder)
    assert {row.name: row.note for row in ledger.rows(Maker)} == {"Drumlaw": "a\nb\nc", "Halcyre": "[2J"}


class Stopping:
    """Progress that is stopped by a key before the item with a number; it notes what it was told of."""

    def __init__(self, label="", number=0):
        self.labels, self._label, self._number = [], label, number

    def __call__(self, label, items):  # noqa: D102 - as `Progress` says
        self.labels.append(label)
        for place, item in enumerate(items):
            if (label, place) == (self._label, self._number):
                raise KeyboardInterrupt
            yield item


STEPS = (
    *("Filing photos", "Reading entries", "Checking entries", "Chaining entries", "Writing entries"),
    "Writing tables",
)


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("number", [0, 7])
def test_an_import_stopped_at_any_step_stores_nothing_half(ledger, tmp_path, step, number):
    """Whatever was written, no entry, row or photo of it is left, and the same plan comes in afterwards."""
    plan = plan_folder(ledger, write(tmp_path / "in", STUDIO))
    before = everything(ledger), ledger.closing_hashes()
    stop = Stopping(step, number if step in ("Chaining entries", "Writing tables") else 0)
    with pytest.raises(KeyboardInterrupt):
        carry_out(ledger, plan, progress=stop)
    assert (everything(ledger), ledger.closing_hashes()) == before
    assert not ledger.photos.exists() or list(ledger.photos.iterdir()) == []
    told = Stopping()
    carry_out(ledger, plan, progress=told)
    assert tuple(told.labels) == STEPS
    assert ledger.verify() == []


def test_a_key_that_comes_too_late_says_so_and_keeps_the_photos(ledger, tmp_path, monkeypatch):
    """Stopped between the last step and the word of it, what was stored is whole and is not said to be nothing."""
    plan = plan_folder(ledger, write(tmp_path / "in", STUDIO))
    append = Ledger.append

    def late(*args, **kwargs):
        append(*args, **kwargs)
        raise KeyboardInterrupt

    monkeypatch.setattr(Ledger, "append", late)
    with pytest.raises(NotConfirmed, match="Stopped when all was stored"):
        carry_out(ledger, plan)
    assert ledger.verify() == []
    assert len(ledger.rows(Photo)) == 1
