"""Two testers who fill their own ledgers on the pages, and what their merged ledgers say of a maker both have."""

from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import count

import pytest

from qcledger.bench import faults, known, labelling, naming, unpacking
from qcledger.bench.due import LooseEndKind, due
from qcledger.bench.history import load
from qcledger.bench.record import write
from qcledger.bench.result import Pencil, Result
from qcledger.bench.runsheet import SheetSquare
from qcledger.errors import BadInput
from qcledger.exchange import carry_out, merge_folder, plan_mapped, to_folder
from qcledger.exchange.columnmap import parse
from qcledger.ledger import Ledger
from qcledger.ledger.identity import who_is_who
from qcledger.ledger.nearby import questions
from qcledger.ledger.queries_record import Wanted, page
from qcledger.ledger.queries_stock import shelf
from qcledger.records import Maker, Paint, Parcel, Specimen
from qcledger.report.kept import of_ledger
from qcledger.settings import Settings
from qcledger.vocab import Sameness
from tests.small import ticking

TODAY = date(2026, 3, 9)
NOW = datetime(2026, 3, 9, 12, tzinfo=UTC)
TESTERS = {"AN": "Ada Nunn", "BE": "Ben Eyre"}


def ids(letters):
    """Return what makes ids that no other tester's ledger has."""
    numbers = count(1)
    return lambda: f"{letters.lower()}-{next(numbers):03}"


def label(maker, paint, number="", **more):
    """Return a label as it is read from the form."""
    values = {"maker": maker, "name": paint, "number": number, "index_names": "PG7", "seen_on": "", **more}
    return labelling.read_label(values, TODAY, Settings())


def fill(ledger, letters, maker, *, paints=("Fen Green", "Kiln Red"), seller="Corner shop", worst=True):
    """Fill a ledger by the functions of the pages: labels, a parcel, a piece a paint, and what was seen on it."""
    new_id = ids(letters)
    parcel = Parcel(id=new_id(), bought_on=date(2026, 3, 2), seller=seller, currency="EUR")
    for name in paints:
        paint, _ = labelling.save_label(ledger, label(maker, name), new_id)
        piece = unpacking.Typed(paint=paint.id, format="tube", lot_code="L1")
        specimen = unpacking.save_piece(ledger, parcel, piece, new_id(), new_id)
        pencil = Pencil(id=new_id(), tester=ledger.daybook.tester, at=NOW)
        seen = faults.load(ledger, specimen.id)
        key, one = next((key, one) for key, one in seen.criteria.items() if one.grades)
        grade = max(one.grades) if worst else min(one.grades)
        result = Result(grade=grade)
        ledger.append(write(seen, SheetSquare(0, key), result, pencil=pencil, new_id=new_id).records)


@pytest.fixture
def made(tmp_path):
    """Return a function that makes a tester's ledger; each is closed in the end."""
    opened = []

    def make(letters, **kwargs):
        place = tmp_path / f"{letters}{len(opened)}.sqlite"
        opened.append(
            Ledger.create(place, letters=letters, tester=TESTERS[letters], sources=ticking(), daybook=letters)
        )
        if kwargs:
            fill(opened[-1], letters, **kwargs)
        return opened[-1]

    yield make
    for ledger in opened:
        ledger.close()


@pytest.fixture
def merged(made, tmp_path):
    """Return a function that fills two ledgers and merges the second into the first."""

    def merge(mine, theirs, from_theirs="Corner shop"):
        one, other = made("AN", maker=mine), made("BE", maker=theirs, worst=False, seller=from_theirs)
        to_folder(other, tmp_path / "theirs")
        merge_folder(one, tmp_path / "theirs")
        return one

    return merge


def cells(ledger):
    """Return maker and counts of every finding."""
    found = of_ledger(ledger).findings
    return sorted((one.maker_name, one.counts.tested) for one in found)


def named(ledger, table, text):
    return naming.find(who_is_who(ledger), table, text, "ONE")


def test_one_maker_in_two_ledgers_is_one(merged):
    """Equal spellings ask nothing: one maker, one paint a name, and nobody its own peer."""
    ledger = merged("Quernlow", "quernlow")
    assert len(ledger.rows(Maker)) == 2
    assert questions(ledger) == []
    rows = ledger.tested_rows()
    assert len(rows) == 4
    assert {row.maker_name for row in rows} == {"Quernlow"}
    assert len({row.maker for row in rows}) == 1
    assert len({row.paint for row in rows}) == 2
    assert len({row.lot for row in rows}) == 2
    assert cells(ledger) == [("Quernlow", 4)]
    assert len({piece.maker for piece in ledger.pieces()}) == 1
    assert ledger.verify() == []


def test_stock_and_the_type_ahead_show_it_once(merged):
    """Every list names the one; a paint both have is offered once, also by the other spelling's letters."""
    ledger = merged("Halver Moor", "halver  moor")
    offered = known.known_paints(ledger)
    assert sorted(one.title for one in offered) == ["Halver Moor Fen Green tube", "Halver Moor Kiln Red tube"]
    with ledger.reading() as connection:
        assert {one.maker for one in shelf(connection, (), None, 0, 10)} == {"Halver Moor"}
        assert len(shelf(connection, ("moor",), None, 0, 10)) == 4
        assert {one.maker for one in page(connection, Wanted(maker="halver moor"), 0, 10)} == {"Halver Moor"}


def test_a_sheet_that_names_it_comes_in(merged, tmp_path):
    """A spreadsheet that names a maker both testers have finds the one, and the paint that both have."""
    ledger = merged("Quernlow", "quernlow")
    (tmp_path / "old.csv").write_text(
        "Brand,Colour,Form,Bought,From\nQUERNLOW,fen green,tube,2026-03-01,Corner shop\n"
    )
    text = (
        "columns: {Brand: maker, Colour: paint, Form: format, From: seller, "
        "Bought: {field: bought_on, dates: year month day}}\n"
        "constants: {currency: EUR}\nrow_key: [Colour]\n"
    )
    plan = plan_mapped(ledger, tmp_path / "old.csv", parse(text, "map.yaml"), settings=Settings())
    assert not {"maker", "paint"} & plan.counts().keys()
    carry_out(ledger, plan)
    again = plan_mapped(ledger, tmp_path / "old.csv", parse(text, "map.yaml"), settings=Settings())
    assert (again.records, again.rows_here) == ((), 1)


def test_near_spellings_of_two_testers_are_asked_once(merged):
    """One question for two makers that may be one; the answer, either way, ends it."""
    ledger = merged("Halver Moor", "Halvermoor")
    (near,) = questions(ledger)
    assert naming.question(near) == (
        "Are makers Halver Moor and Halvermoor the same? "
        'qcledger same-as maker "Halver Moor" "Halvermoor", or with --not'
    )
    assert [one.kind for one in due(ledger, NOW)].count(LooseEndKind.NAMES) == 1
    assert cells(ledger) == [("Halver Moor", 2), ("Halvermoor", 2)]
    decides = naming.Naming(ledger, TODAY, ids("dec"))
    one, other = named(ledger, "maker", "Halver Moor"), named(ledger, "maker", "halvermoor")
    kept = decides.decide(Sameness.DIFFERENT, one, other)
    assert questions(ledger) == []
    assert LooseEndKind.NAMES not in [one.kind for one in due(ledger, NOW)]
    decides.take_back(kept)
    assert len(questions(ledger)) == 1
    kept = decides.decide(Sameness.SAME, one, other)
    assert questions(ledger) == []
    assert cells(ledger) == [("Halvermoor", 4)]
    decides.take_back(kept)
    assert cells(ledger) == [("Halver Moor", 2), ("Halvermoor", 2)]


def test_names_of_one_tester_are_not_asked_about(made):
    """Who has both spellings knows what they are."""
    ledger = made("AN", maker="Halver Moor")
    labelling.save_label(ledger, label("Halvermoor", "Fen Green"), ids("more"))
    assert questions(ledger) == []


def test_near_sellers_are_asked_about_too(merged):
    """Sellers go by their names; one decision makes two of them one in every count, and older letters find both."""
    ledger = merged("Quernlow", "Quernlow", from_theirs="Cornershop")
    (near,) = questions(ledger)
    assert (near.one.table, near.one.name, near.other.name) == ("seller", "Corner shop", "Cornershop")
    decides = naming.Naming(ledger, TODAY, ids("dec"))
    decides.decide(Sameness.SAME, named(ledger, "seller", "cornershop"), named(ledger, "seller", "Corner shop"))
    assert questions(ledger) == []
    assert {row.seller for row in ledger.tested_rows()} == {"Corner shop"}
    assert known.sellers_names(ledger) == ["Corner shop"]
    with ledger.reading() as connection:
        assert len(shelf(connection, ("cornershop",), None, 0, 10)) == 4
    decides.rename(named(ledger, "seller", "Corner shop").one, "The corner")
    assert {row.seller for row in ledger.tested_rows()} == {"The corner"}


def test_what_it_would_touch_is_counted(merged):
    """Paints, specimens and findings that hang on two makers, before they are one."""
    ledger = merged("Halver Moor", "Halvermoor")
    both = [named(ledger, "maker", name).one for name in ("Halver Moor", "Halvermoor")]
    assert naming.weigh(ledger, both).words == "4 paints, 4 specimens, 1 finding"
    assert naming.weigh(ledger, both[:1]).words == "2 paints, 2 specimens, 1 finding"


def test_a_maker_retyped_on_one_label_takes_all_its_paints_along(made):
    """Retyping the maker on one label renames it: its evidence stays together, and the old name still finds it."""
    ledger = made("AN", maker="Halver Moor")
    paint = min(ledger.rows(Paint), key=lambda row: row.name)
    assert labelling.other_maker(ledger, "halver moor", paint.id) is None
    assert labelling.other_maker(ledger, "Halvermoor", paint.id) == ("Halver Moor", 2)
    labelling.save_label(ledger, label("Halvermoor", paint.name), ids("new"), paint.id, renamed=True)
    assert cells(ledger) == [("Halvermoor", 2)]
    with ledger.reading() as connection:
        assert len(shelf(connection, ("halver", "moor"), None, 0, 10)) == 2
        assert {one.maker for one in shelf(connection, (), None, 0, 10)} == {"Halvermoor"}
    assert [one.title for one in known.complete("halver moor fen", known.known_paints(ledger))] == [
        "Halvermoor Fen Green tube"
    ]
    again, _ = labelling.save_label(ledger, label("Halver Moor", "Fen Green"), ids("third"))
    assert again.id == paint.id
    specimen = next(row for row in ledger.tested_rows() if row.paint == paint.id).specimen
    assert load(ledger, specimen).title == "Halvermoor Fen Green tube"


def test_a_maker_retyped_may_be_another_one(made):
    """Where the label is another maker's, only its paint goes there, as it did."""
    ledger = made("AN", maker="Halver Moor")
    paint = min(ledger.rows(Paint), key=lambda row: row.name)
    labelling.save_label(ledger, label("Fennacre", paint.name), ids("new"), paint.id)
    assert cells(ledger) == [("Fennacre", 1), ("Halver Moor", 1)]


def test_a_correction_keeps_what_the_form_does_not_show(made):
    """A label that is corrected leaves the paint its range and price group."""
    ledger = made("AN", maker="Quernlow")
    paint = min(ledger.rows(Paint), key=lambda row: row.name)
    ledger.append([replace(paint, price_group="3")])
    labelling.save_label(ledger, label("Quernlow", "Fen Greene"), ids("new"), paint.id)
    assert ledger.get(Paint, paint.id) == replace(paint, name="Fen Greene", price_group="3")


def test_a_piece_that_is_changed_stays_on_its_paint(made):
    """Changing the line of a piece whose paint counts as another one's moves neither paint, lot nor label."""
    ledger = made("AN", maker="Quernlow")
    stood = ledger.rows(Specimen)[0]
    name = ledger.get(Paint, stood.paint).name
    ledger.append([Maker(id="a", name="QUERNLOW"), Paint(id="a", maker="a", name=name)])
    (chosen,) = known.of_paint(ledger, stood.paint)
    assert chosen.bought.paint == "a"
    piece = unpacking.Typed(paint="a", format="tube", lot_code="l1", price_minor=500)
    after = unpacking.save_piece(ledger, ledger.get(Parcel, stood.parcel), piece, stood.id, ids("more"))
    assert after == replace(stood, price_minor=500)


def test_a_rename_refuses_a_name_that_another_has(merged):
    """Two makers do not become one by a new name: that is what same-as is for."""
    ledger = merged("Halver Moor", "Fennacre")
    with pytest.raises(BadInput, match="same-as"):
        naming.Naming(ledger, TODAY, ids("dec")).rename(named(ledger, "maker", "Halver Moor").one, "fennacre")


def test_paints_of_two_makers_do_not_unite(merged):
    """A paint is one maker's; where the makers are one, they unite first."""
    ledger = merged("Halver Moor", "Fennacre")
    one, other = (named(ledger, "paint", f"{maker} Fen Green") for maker in ("Halver Moor", "Fennacre"))
    with pytest.raises(BadInput, match="unite those first"):
        naming.Naming(ledger, TODAY, ids("dec")).decide(Sameness.SAME, one, other)
    with pytest.raises(BadInput, match="Fennacre Fen Green, Halver Moor Fen Green"):
        named(ledger, "paint", "Fen Green")


def test_another_testers_decision_is_answered_not_undone(merged, made, tmp_path):
    """A decision of another tester cannot be taken back by name; a newer one of one's own counts."""
    ledger = merged("Halver Moor", "Halvermoor")
    decides = naming.Naming(ledger, TODAY, ids("dec"))
    decides.decide(Sameness.SAME, named(ledger, "maker", "Halver Moor"), named(ledger, "maker", "Halvermoor"))
    to_folder(ledger, tmp_path / "mine")
    other = made("BE")
    merge_folder(other, tmp_path / "mine")
    with pytest.raises(BadInput, match="Ada Nunn"):
        naming.Naming(other, TODAY, ids("x")).own(naming.decisions(other))


@pytest.mark.parametrize("maker", ["Halvermoor", "Halver Moor"])
def test_a_label_kept_over_another_is_taken_back_whole(made, maker):
    """The maker is called as before, the paint and its label say what they said, evidence is one again; once only."""
    ledger = made("AN", maker="Halver Moor")
    paint, new_id = min(ledger.rows(Paint), key=lambda row: row.name), ids("new")
    before, stood = cells(ledger), known.latest_labels(ledger)[paint.id]
    typed = label(maker, "Fen Deep", index_names="PB29")
    kept = labelling.keep_label(ledger, typed, new_id, paint.id, renamed=maker != "Halver Moor")
    assert known.latest_labels(ledger)[paint.id].index_names == ("PB29",)
    assert "says what it said before" in labelling.take_back(ledger, kept, new_id)
    assert (ledger.get(Paint, paint.id), cells(ledger)) == (paint, before)
    assert known.latest_labels(ledger)[paint.id] == stood
    assert "was changed since" in labelling.take_back(ledger, kept, new_id)
    assert ledger.verify() == []


def test_a_label_that_said_nothing_new_has_nothing_to_take_back(made):
    """Nothing is written; of a first label of a paint what is left declares nothing; a new paint stays."""
    ledger = made("AN", maker="Quernlow")
    paint, new_id = min(ledger.rows(Paint), key=lambda row: row.name), ids("new")
    same = labelling.keep_label(ledger, label("Quernlow", paint.name), new_id, paint.id)
    hashes = ledger.closing_hashes()
    assert "nothing was changed" in labelling.take_back(ledger, same, new_id)
    assert ledger.closing_hashes() == hashes
    ledger.append([Paint(id="bare", maker=paint.maker, name="Bare")])
    first = labelling.keep_label(ledger, label("Quernlow", "Bare"), new_id, "bare")
    assert "says what it said before" in labelling.take_back(ledger, first, new_id)
    assert "bare" not in known.latest_labels(ledger)
    fresh = labelling.keep_label(ledger, label("Quernlow", "Fresh"), new_id)
    assert "is a new paint and stays" in labelling.take_back(ledger, fresh, new_id)
