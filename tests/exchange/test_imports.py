"""Ids of what comes in: a row is found under every import of its sheet by its tester, and under nobody else's."""

import gzip
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from qcledger.errors import BadInput
from qcledger.exchange import carry_out, merge_folder, plan_folder, plan_mapped, propose, to_folder
from qcledger.exchange.brought import same_sheet
from qcledger.exchange.columnmap import parse
from qcledger.exchange.sheetfiles import KINDS
from qcledger.ledger import Ledger
from qcledger.records import (
    Comparison,
    Import,
    LabelVersion,
    Maker,
    Observation,
    Paint,
    Parcel,
    Session,
    Specimen,
    Trial,
)
from qcledger.settings import Settings
from qcledger.vocab import Blinding, Format
from tests.exchange.test_mapped import GOOD, HEADER, MAP, bring_in, refused, sheet
from tests.ledger.given import everything

OLD = Path(__file__).parent.parent / "ledger" / "version_0_1_0"
STOCK = ["No", "Brand", "Colour", "Pigment", "Pan/tube", "Bought", "Shop", "Price"]
TESTED = [*STOCK, "Tested", "Rewetting"]
NEW_MAKERS = MAP + "new_makers: true\n"


def stock(*paints, results=False):
    """Return a tester's stock sheet, numbered from 1."""
    rows = [
        [str(number), maker, paint, "PG18", "half pan", "2026-01-05", "Seller one", "4.75", "2026-02-01", grade]
        for number, (maker, paint, grade) in enumerate(paints, 1)
    ]
    return rows if results else [row[: len(STOCK)] for row in rows]


HERS = (("Quernlow", "Viridian", "1"), ("Drumlaw", "Quay Rose", "3"))
HIS = (("Quernlow", "Fir", "4"), ("Halcyre", "Viridian", "0"), ("Drumlaw", "Quay Rose", "2"))


def begun(folder, letters, tester):
    """Begin a ledger in a folder of its own."""
    folder.mkdir()
    return Ledger.create(folder / f"{letters}.sqlite", letters=letters, tester=tester)


@pytest.fixture
def an(tmp_path):
    with begun(tmp_path / "an", "AN", "Anna North") as ledger:
        yield ledger


@pytest.fixture
def be(tmp_path):
    with begun(tmp_path / "be", "BE", "Bert East") as ledger:
        yield ledger


@pytest.fixture
def ov(tmp_path):
    with begun(tmp_path / "ov", "OV", "Oda Vane") as ledger:
        yield ledger


def guessed(ledger, path):
    """Bring in a sheet with the map that is proposed for it, whose new makers are wanted."""
    text = propose(path, Settings()).replace("new_makers: false", "new_makers: true")
    assert 'row_key: ["No"]' in text
    return bring_in(ledger, path, text)


def merge(source, target, out):
    to_folder(source, out)
    return merge_folder(target, out)


def counts(ledger):
    return {kind.TABLE: len(ledger.rows(kind)) for kind in (Maker, Paint, Parcel, Specimen, Trial, Observation)}


@pytest.mark.parametrize("results", [False, True], ids=["stock only", "with results"])
def test_the_stock_of_two_testers_merges_in_either_order(an, be, tmp_path, results):
    """Two sheets numbered from 1, each with the proposed map, are two stocks: each piece and result stands."""
    header = TESTED if results else STOCK
    guessed(an, sheet(tmp_path, *stock(*HERS, results=results), header=header, name="stock.csv"))
    guessed(be, sheet(tmp_path, *stock(*HIS, results=results), header=header, name="stock.csv"))
    before = {tester: sorted(row.sticker for row in one.rows(Specimen)) for tester, one in (("an", an), ("be", be))}
    assert before == {"an": ["AN 0001", "AN 0002"], "be": ["BE 0001", "BE 0002", "BE 0003"]}
    merge(an, be, tmp_path / "from an")
    merge(be, an, tmp_path / "from be")
    wanted = {"maker": 3, "paint": 4, "parcel": 2, "specimen": 5, "trial": 5 * results, "observation": 5 * results}
    for ledger in (an, be):
        assert ledger.verify() == []
        assert ledger.doubts() == []
        assert counts(ledger) == wanted
        paints = {row.id: row.name for row in ledger.rows(Paint)}
        named = {row.sticker: paints[row.paint] for row in ledger.rows(Specimen)}
        assert named == {"AN 0001": "Viridian", "AN 0002": "Quay Rose"} | {
            "BE 0001": "Fir",
            "BE 0002": "Viridian",
            "BE 0003": "Quay Rose",
        }
    assert everything(an) == everything(be)
    again = sheet(tmp_path, *stock(*HERS, results=results), header=header, name="stock.csv")
    assert guessed(an, again).records == ()


SESSIONS = (
    "code,comparison,tester,blinding,started_at,closed_at\nS01,half pans 2026,{},{},{}T09:00:00Z,{}T11:00:00Z\n"
)
COMPARED = "title,question,started_on\nhalf pans 2026,Which half pan rewets?,2026-03-01\n"


def sessions(folder, tester, blinding, day):
    folder.mkdir()
    (folder / "comparison.csv").write_text(COMPARED, encoding="utf-8")
    (folder / "session.csv").write_text(SESSIONS.format(tester, blinding, day, day), encoding="utf-8")
    return folder


def test_sessions_of_two_testers_are_two_whatever_they_are_called(an, be, tmp_path):
    """Both tested for one comparison in a session S01, hers shuffled and his open: neither becomes the other."""
    hers = sessions(tmp_path / "hers", "Anna North", Blinding.SHUFFLED, "2026-04-04")
    his = sessions(tmp_path / "his", "Bert East", Blinding.OPEN, "2026-05-05")
    carry_out(an, plan_folder(an, hers))
    carry_out(be, plan_folder(be, his))
    merge(an, be, tmp_path / "from an")
    merge(be, an, tmp_path / "from be")
    for ledger in (an, be):
        assert len(ledger.rows(Comparison)) == 1
        assert {row.tester: row.blinding for row in ledger.rows(Session)} == {
            "Anna North": Blinding.SHUFFLED,
            "Bert East": Blinding.OPEN,
        }
        assert ledger.verify() == []
    assert plan_folder(an, hers).records == plan_folder(be, his).records == ()


def test_a_name_another_testers_session_has_makes_a_new_session(an, be, tmp_path):
    """Brought in after the merge, a session of the same comparison and code is the tester's own."""
    carry_out(an, plan_folder(an, sessions(tmp_path / "hers", "Anna North", Blinding.SHUFFLED, "2026-04-04")))
    merge(an, be, tmp_path / "from an")
    plan = plan_folder(be, sessions(tmp_path / "his", "Bert East", Blinding.OPEN, "2026-05-05"))
    carry_out(be, plan)
    assert plan.counts() == {"session": 1}
    assert len(be.rows(Session)) == 2


def numbered(first, last, day="12.3.2024"):
    return [[str(number), *GOOD[1:5], day, *GOOD[6:]] for number in range(first, last + 1)]


def test_a_longer_sheet_brings_only_its_new_rows_after_a_restore(ov, tmp_path):
    """Brought in, backed up, restored under a new daybook: 20 rows more are 20 new ones, and then none."""
    bring_in(ov, sheet(tmp_path, *numbered(1, 10)), NEW_MAKERS)
    copy = ov.backup(tmp_path / "backup")
    with Ledger.open(copy, write=True) as restored:
        plan = bring_in(restored, sheet(tmp_path, *numbered(1, 30)), NEW_MAKERS)
        assert (plan.new_rows, plan.rows_here) == (20, 10)
        assert restored.daybook.id != ov.daybook.id
        assert counts(restored) == {
            "maker": 1,
            "paint": 1,
            "parcel": 1,
            "specimen": 30,
            "trial": 30,
            "observation": 60,
        }
        assert bring_in(restored, tmp_path / "old.csv", NEW_MAKERS).records == ()
        assert [row.rows for row in restored.rows(Import)] == [10, 30]
        assert restored.verify() == []


def test_a_second_years_sheet_under_another_name_is_all_new(ov, tmp_path):
    """Numbered from 1 again, of the same paints, bought in another year, in a file of its own: other pieces."""
    bring_in(ov, sheet(tmp_path, *numbered(1, 3), name="stock 2024.csv"), NEW_MAKERS)
    second = sheet(tmp_path, *numbered(1, 4, "3.2.2025"), name="stock 2025.csv")
    plan = bring_in(ov, second, NEW_MAKERS)
    assert (plan.new_rows, plan.rows_here) == (4, 0)
    assert len(ov.rows(Specimen)) == 7
    assert bring_in(ov, second, NEW_MAKERS).records == ()
    assert ov.verify() == []


def test_a_second_years_sheet_under_the_old_name_is_asked_about_once(ov, tmp_path):
    """A few rows are named with column, cell and paint, the others counted, and the way out is said once."""
    bring_in(ov, sheet(tmp_path, *numbered(1, 6)), NEW_MAKERS)
    path = sheet(tmp_path, *numbered(1, 6, "3.2.2025"))
    lines = refused(ov, path, NEW_MAKERS)
    assert len(lines) == 3
    assert lines[0] == (
        "old.csv line 2, Bought: found '3.2.2025'; allowed: '2024-03-12', as it stands already for Drumlaw Quay Rose "
        "(OV 0001); another sheet: --called NAME; corrected: qcledger imports NAME --take-back"
    )
    assert lines[2].endswith("Drumlaw Quay Rose (OV 0003) (3 more rows say something else, too)")
    assert sum("--called" in line for line in lines) == 1
    text = NEW_MAKERS + "called: stock 2025\n"
    assert bring_in(ov, path, text).new_rows == 6
    assert bring_in(ov, path, text).records == ()
    assert len(ov.rows(Specimen)) == 12


@pytest.mark.parametrize(
    ("column", "cell", "stands"),
    [
        ("Brand", "Halcyre", "'Drumlaw'"),
        ("Colour", "Sky", "'Quay Rose'"),
        ("Batch", "008", "'007'"),
        ("From", "Seller two", "'Seller one'"),
        ("Price", "9.81", "'9.80 EUR'"),
        ("Pan/tube", "t", "'half pan'"),
        ("rewets?", "never", "'2'"),
        ("Froth 1-10", "10", "'3'"),
        ("Remarks", "x", "'=1+1'"),
    ],
)
def test_what_a_row_says_otherwise_is_named_as_the_sheet_has_it(ov, tmp_path, column, cell, stands):
    """The column, what stands in its cell and what stands in the ledger: no field of ours, no id."""
    bring_in(ov, sheet(tmp_path, GOOD), NEW_MAKERS)
    row = [cell if name == column else kept for name, kept in zip(HEADER, GOOD, strict=True)]
    (line,) = refused(ov, sheet(tmp_path, row), NEW_MAKERS)
    assert line.startswith(f"old.csv line 2, {column}: found '{cell}'; allowed: {stands}, as it stands already for ")


def test_a_renamed_sheet_is_asked_about(ov, tmp_path):
    """Most rows came in under another name: a copy would be a second stock, so the tester says which it is."""
    bring_in(ov, sheet(tmp_path, *numbered(1, 3)), NEW_MAKERS)
    path = sheet(tmp_path, *numbered(1, 5), name="old (1).csv")
    assert refused(ov, path, NEW_MAKERS) == [
        "old (1).csv: found '3 of 5 rows that came in as old.csv'; allowed: --called 'old.csv' if it is that sheet, "
        "or --called with another name if it is not"
    ]
    assert bring_in(ov, path, NEW_MAKERS + "called: old.csv\n").new_rows == 2
    assert bring_in(ov, path, NEW_MAKERS + "called: another\n").new_rows == 5


@pytest.mark.parametrize("ending", KINDS)
def test_a_file_s_ending_is_no_part_of_its_sheet_s_name(ending):
    """Saved as another kind a sheet is the same one, also one of several sheets; a name with a point keeps it."""
    assert same_sheet(f"Old{ending}") == same_sheet("old")
    assert same_sheet(f"old{ending}, sheet 2024") == same_sheet("old.xlsx, sheet 2024")
    assert same_sheet("old.2024") != same_sheet("old")


def test_the_same_bytes_under_another_name_are_the_same_sheet(ov, tmp_path):
    """A copied file brings nothing, and says what it is."""
    path = sheet(tmp_path, *numbered(1, 3))
    bring_in(ov, path, NEW_MAKERS)
    copy = shutil.copy(path, tmp_path / "copy.csv")
    plan = bring_in(ov, copy, NEW_MAKERS)
    assert (plan.records, plan.rows_here) == ((), 3)
    assert "copy.csv holds what came in as old.csv, byte for byte" in plan.guesses


def test_an_import_is_the_first_entry_of_what_it_brings(ov, tmp_path):
    """It keeps the sheet's name, hash and count of rows; a run that adds nothing makes none."""
    book = openpyxl.Workbook()
    book.active.title = "2024"
    for row in (HEADER, GOOD):
        book.active.append(row)
    book.active["K2"].data_type = "s"
    book.create_sheet("2025")
    book.save(tmp_path / "stock.xlsx")
    bring_in(ov, tmp_path / "stock.xlsx", NEW_MAKERS)
    bring_in(ov, tmp_path / "stock.xlsx", NEW_MAKERS)
    (brought,) = ov.rows(Import)
    assert (brought.name, brought.rows, len(brought.sha256)) == ("stock.xlsx, sheet 2024", 1, 64)
    assert [entry.kind for entry in ov.entries()][:2] == ["daybook", "import"]


def test_two_terminals_cannot_bring_in_one_sheet_twice(ov, tmp_path):
    """What was planned before another import came in is refused whole: its rows may stand under other ids."""
    path = sheet(tmp_path, *numbered(1, 3))
    first, second = (plan_mapped(ov, path, parse(NEW_MAKERS, "map.yaml"), settings=Settings()) for _ in range(2))
    carry_out(ov, first)
    carry_out(ov, first)  # an unconfirmed save may be repeated
    before = ov.closing_hashes()
    with pytest.raises(BadInput, match=r"another import, old\.csv, which came in meanwhile"):
        carry_out(ov, second)
    assert ov.closing_hashes() == before


def test_a_maker_that_two_daybooks_wrote_down_is_one(ov, be, tmp_path):
    """Each under an id of its own: sheets and folders that name it come in, with the paints either has."""
    ov.append([Maker(id="mine", name="Drumlaw")])
    be.append([Maker(id="theirs", name="drumlaw"), Paint(id="rose", maker="theirs", name="Quay Rose")])
    merge(be, ov, tmp_path / "from be")
    plan = bring_in(ov, sheet(tmp_path, GOOD))
    assert "paint" not in plan.counts()
    assert ov.rows(Specimen)[0].paint == "rose"
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "paint.csv").write_text("maker,name\nDrumlaw,Quay Rose\nDrumlaw,Sky\n", encoding="utf-8")
    assert plan_folder(ov, folder).counts() == {"paint": 1}


def test_parcels_and_labels_of_two_testers_stay_two(an, be, tmp_path):
    """Bought in one shop on one day, printed alike: each tester's row is his own, and may be put right by him."""
    guessed(an, sheet(tmp_path, *stock(*HERS), header=STOCK, name="stock.csv"))
    merge(an, be, tmp_path / "from an")
    guessed(be, sheet(tmp_path, *stock(*HERS), header=STOCK, name="stock.csv"))
    assert counts(be) == {"maker": 2, "paint": 2, "parcel": 2, "specimen": 4, "trial": 0, "observation": 0}
    assert len(be.rows(LabelVersion)) == 4
    own = next(row for row in be.rows(Parcel) if row.id in be.own(Parcel))
    be.append([replace(own, note="the box was open")], reason="seen later")


def test_a_row_about_another_testers_sticker_must_say_what_that_piece_is(an, be, tmp_path):
    """It is that piece, found by its sticker; a row that says another paint is refused, and makes no second one."""
    guessed(an, sheet(tmp_path, *stock(*HERS), header=STOCK, name="stock.csv"))
    merge(an, be, tmp_path / "from an")
    text = NEW_MAKERS.replace("  No: leave out", "  No: sticker").replace("row_key: [No]\n", "")
    (line,) = refused(be, sheet(tmp_path, ["AN 0001", *GOOD[1:]]), text)
    assert line == "old.csv line 2, Colour: found 'Quay Rose'; allowed: 'Viridian', as specimen AN 0001 has"


def test_refusals_name_rows_and_no_ids(ov, tmp_path):
    """A specimen in a folder that names another parcel than it stands in: both parcels by day and seller."""
    tables = {
        "maker": "id,name\nm,Drumlaw\n",
        "paint": "id,maker,name\np,m,Sky\n",
        "parcel": "id,bought_on,seller,currency\nq,2026-02-01,Seller one,EUR\nr,2026-02-02,Seller one,EUR\n",
        "specimen": "sticker,paint,format,parcel\nOV 0001,p,half pan,q\n",
    }
    for name, specimens in (("in", tables["specimen"]), ("again", tables["specimen"].replace("pan,q", "pan,r"))):
        (tmp_path / name).mkdir()
        for table, text in {**tables, "specimen": specimens}.items():
            (tmp_path / name / f"{table}.csv").write_text(text, encoding="utf-8")
    carry_out(ov, plan_folder(ov, tmp_path / "in"))
    with pytest.raises(BadInput) as error:
        plan_folder(ov, tmp_path / "again")
    assert [str(one) for one in error.value.problems] == [
        "specimen.csv line 2, parcel: found 'the parcel of 2026-02-02, Seller one'; allowed: 'the parcel of "
        "2026-02-01, Seller one', as it stands already for Drumlaw Sky (OV 0001); e in Stock changes it"
    ]


def as_it_was(tmp_path):
    """Unpack the ledger that 0.1.0 wrote; sheets of OV and, merged into it, of TL are in it."""
    place = tmp_path / "ledger.sqlite"
    place.write_bytes(gzip.decompress((OLD / "ledger.sqlite.gz").read_bytes()))
    shutil.copytree(OLD / "photos", tmp_path / "photos")
    return place


@pytest.mark.parametrize(
    ("file", "letters", "tester"), [("own.csv", "OV", "Oda Vane"), ("guest.csv", "TL", "Tilo Lund")]
)
def test_what_0_1_0_brought_in_is_here(tmp_path, file, letters, tester):
    """Its ids have no import in them; each tester's own sheet is found all the same, and 1 row more is 1 new."""
    text = (OLD / "map.yaml").read_text(encoding="utf-8")
    with Ledger.open(as_it_was(tmp_path), write=True, begin=False, letters=letters, tester=tester) as ledger:
        path = tmp_path / file
        shutil.copy(OLD / file, path)
        plan = bring_in(ledger, path, text)
        assert (plan.records, plan.new_rows) == ((), 0)
        assert plan.rows_here == len((OLD / file).read_text(encoding="utf-8").splitlines()) - 1
        more = "NEW1,Drumlaw,Colour 9,hp,,12.3.2024,Seller one,9.80,meh,7,a note\n"
        path.write_text(path.read_text(encoding="utf-8") + more, encoding="utf-8")
        assert bring_in(ledger, path, text).new_rows == 1
        assert bring_in(ledger, path, text).records == ()
        assert ledger.verify() == []


def test_another_sheet_numbered_as_one_of_0_1_0_is_all_new(tmp_path):
    """Its rows are numbered as those that came in without a name, and are other pieces: that is said."""
    text = (OLD / "map.yaml").read_text(encoding="utf-8")
    with Ledger.open(as_it_was(tmp_path), write=True, begin=False, letters="OV", tester="Oda Vane") as ledger:
        lines = (OLD / "own.csv").read_text(encoding="utf-8").replace("12.3.2024", "3.2.2025")
        (tmp_path / "stock 2025.csv").write_text(lines, encoding="utf-8")
        plan = bring_in(ledger, tmp_path / "stock 2025.csv", text)
        assert (plan.new_rows, plan.rows_here) == (12, 0)
        assert (
            "stock 2025.csv is a new sheet, though 12 of its rows are numbered as rows that came in before"
            in plan.guesses
        )


def test_another_testers_sheet_of_0_1_0_is_not_found(tmp_path):
    """OV's rows are not TL's: the same sheet brought in by TL is TL's own stock."""
    text = (OLD / "map.yaml").read_text(encoding="utf-8")
    with Ledger.open(as_it_was(tmp_path), write=True, begin=False, letters="TL", tester="Tilo Lund") as ledger:
        plan = bring_in(ledger, OLD / "own.csv", text)
        assert plan.new_rows == 12
        assert {row.sticker.split()[0] for row in plan.records if isinstance(row, Specimen)} == {"TL"}


def test_a_row_taken_out_does_not_come_back(ov, tmp_path):
    """A trial whose entry was redacted stays out when its sheet comes in again."""
    path = sheet(tmp_path, [*GOOD[:8], "", "", "x"])
    bring_in(ov, path, NEW_MAKERS)
    entry = next(one for one in ov.entries() if one.kind == "specimen")
    ov.redact(entry=entry.hash, reason="a person's name")
    assert bring_in(ov, path, NEW_MAKERS).records == ()
    assert ov.rows(Specimen) == []


def test_ids_of_one_import_are_the_daybooks_own(an, be, tmp_path):
    """The same file brought in by two testers shares makers and paints, and not one id of what is each one's own."""
    path = sheet(tmp_path, *stock(*HIS, results=True), header=TESTED, name="stock.csv")
    guessed(an, path)
    guessed(be, path)
    shared, owned = (Maker, Paint), (LabelVersion, Parcel, Specimen, Trial, Observation, Import)
    for kind in shared:
        assert {row.id for row in an.rows(kind)} == {row.id for row in be.rows(kind)}
    for kind in owned:
        assert {row.id for row in an.rows(kind)}.isdisjoint(row.id for row in be.rows(kind))


def test_the_day_a_piece_was_bought_and_its_format_are_what_it_is(ov, tmp_path):
    """A piece opened, priced anew or moved to another parcel since is still the one its row brought in."""
    bring_in(ov, sheet(tmp_path, GOOD), NEW_MAKERS)
    (piece,), (parcel,) = ov.rows(Specimen), ov.rows(Parcel)
    other = replace(parcel, id="other", bought_on=date(2024, 3, 13))
    ov.append([other, replace(piece, parcel="other", price_minor=1000)], reason="the receipt says so")
    assert piece.format == Format.HALF_PAN
    assert bring_in(ov, tmp_path / "old.csv", NEW_MAKERS).records == ()


def test_what_another_tester_exported_comes_in_under_ids_of_ones_own(tmp_path):
    """His folder brought in as rows of mine and amended, his daybook can still be merged; both stand."""
    with begun(tmp_path / "an", "AN", "Anna North") as an, begun(tmp_path / "be", "BE", "Bert East") as be:
        guessed(be, sheet(tmp_path, *stock(*HIS, results=True), header=TESTED, name="stock.csv"))
        to_folder(be, tmp_path / "out")
        plan = plan_folder(an, tmp_path / "out")
        assert carry_out(an, plan) > 0
        assert plan_folder(an, tmp_path / "out").records == ()
        mine = an.rows(Specimen)
        assert len(mine) == len(HIS)
        assert not {one.id for one in mine} & {one.id for one in be.rows(Specimen)}
        an.append([replace(mine[0], note="cracked")], reason="seen")
        merge(be, an, tmp_path / "again")
        assert len(an.rows(Specimen)) == 2 * len(HIS)
        assert an.get(Specimen, mine[0].id).note == "cracked"
        assert an.verify() == []
        assert an.disputes() == []
