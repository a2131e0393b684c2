"""Whose word counts: a row stands as its own tester says, whatever another daybook that was merged says of it."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from qcledger.errors import BadInput
from qcledger.ledger import Ledger, daybooks
from qcledger.ledger.chain import seal
from qcledger.ledger.codec import encode
from qcledger.ledger.writing import head
from qcledger.records import (
    SHARED,
    Comparison,
    Daybook,
    Decision,
    Maker,
    Observation,
    Redaction,
    RunRow,
    Session,
    Sheet,
    Specimen,
    columns,
)
from qcledger.vocab import Blinding, DecisionKind, SpecimenState
from tests.exchange.made import picture
from tests.ledger.given import NOON, basics, everything, graded, steady, tried

DAY = timedelta(days=1)
_REFUSED = (
    "specimen OV 0001: found 'a row of OV, Oda Vane'; "
    "allowed: rows of your own; tell OV, or grade it on your own sheet$"
)


class Book:
    """A daybook written by hand, whatever a ledger would have refused: as a stranger's folder may hold it."""

    def __init__(self, name="stranger", letters="ST", tester="Stranger", at=NOON + DAY):
        self.entries, self.at, self.name = [], at, name
        self.add(Daybook(id=name, letters=letters, tester=tester))

    def add(self, record, reason="", replaces=()):
        """Append an entry and return it."""
        last = self.entries[-1] if self.entries else None
        entry = seal(
            daybook=self.name,
            seq=last.seq + 1 if last else 1,
            prev=last.hash if last else "",
            kind=record.TABLE,
            subject=record.id,
            at=self.at,
            salt=f"{len(self.entries):032x}",
            body=encode(record, reason),
            replaces=replaces,
        )
        self.entries.append(entry)
        return entry


def last_entry(ledger, table, row):
    """Return the hash of the entry that was written last about a row."""
    return ledger.history(table, row)[-1].hash


def voided(subject="session", table="session", id="foreign void"):  # noqa: A002
    """Return a decision that voids a row."""
    return Decision(
        id=id,
        kind=DecisionKind.VOID,
        subject_table=table,
        subject=subject,
        by="X",
        on=NOON.date(),
        reason="warm lamp",
    )


@pytest.fixture
def mine(ledger):
    """Return a ledger with a graded specimen in a shuffled session."""
    ledger.append([graded("mine", 1.0)])
    return ledger


def takes(ledger, book):
    """Merge a daybook, together with all that is here already, as a folder does that went to and fro."""
    return ledger.adopt([*ledger.entries(), *book.entries], {})


ATTACKS = {
    "rename my specimen": lambda book, of: book.add(replace(of(Specimen, "specimen"), sticker="ST 0001")),
    "move it to another lot": lambda book, of: book.add(replace(of(Specimen, "specimen"), lot=None)),
    "use it up": lambda book, of: book.add(replace(of(Specimen, "specimen"), state=SpecimenState.USED_UP)),
    "open my blinding": lambda book, of: book.add(replace(of(Session, "session"), blinding=Blinding.OPEN)),
    "open it to earlier": lambda book, of: book.add(replace(of(Session, "session"), started_at=NOON - DAY)),
    "void my session": lambda book, of: book.add(voided()),
    "take out my specimen": lambda book, of: book.add(voided("specimen", "specimen")),
    "supersede my grade": lambda book, of: book.add(graded("theirs", 5.0, supersedes="mine", reason="no")),
    "grade in my trial, dated before mine": lambda book, of: book.add(graded("x", 5.0, at=NOON - timedelta(hours=1))),
    "rename my maker": lambda book, of: book.add(replace(of(Maker, "maker"), name="Somebody else")),
    "retitle my comparison": lambda book, of: book.add(replace(of(Comparison, "comparison"), reference_paper="pulp")),
}


@pytest.mark.parametrize("attack", ATTACKS)
@pytest.mark.parametrize("at", [NOON + DAY, datetime.fromisoformat("9999-12-30T00:00:00Z")], ids=["next day", "9999"])
def test_another_daybook_changes_nothing_that_is_mine(mine, attack, at):
    """Merged from a folder that holds both, it is kept and shown; my rows and findings stay mine."""
    rows = {kind: mine.get(kind, kind.TABLE) for kind in (Specimen, Session, Maker, Comparison)}
    before = {(row.observation, row.grade, row.void, row.blinding, row.maker_name) for row in counted(mine)}
    book = Book(at=at)
    ATTACKS[attack](book, mine.get)
    takes(mine, book)
    assert {kind: mine.get(kind, kind.TABLE) for kind in rows} == rows
    assert {(row.observation, row.grade, row.void, row.blinding, row.maker_name) for row in counted(mine)} == before
    assert mine.verify() == []
    mine.append([replace(rows[Specimen], note="chipped")], reason="seen now")
    assert mine.get(Specimen, "specimen").note == "chipped"
    assert mine.history("specimen", "specimen")[-1].at.year in (2026, at.year)
    assert list(mine.entries(mine.daybook.id))[-1].at.year == 2026
    stood = everything(mine)
    mine.rebuild()
    assert everything(mine) == stood


def counted(ledger):
    """Return the observations that count."""
    return [row for row in ledger.tested_rows() if row.doubt is None]


def test_codes_for_my_session_from_another_daybook_are_refused(mine):
    """Whoever writes run rows into a session could say that a repeat was no repeat."""
    book = Book()
    book.add(RunRow(id="more", session="session", position=2, specimen="specimen", code="999"))
    before = everything(mine), mine.closing_hashes()
    with pytest.raises(BadInput, match="session of OV, Oda Vane"):
        takes(mine, book)
    assert (everything(mine), mine.closing_hashes()) == before


def test_another_daybook_redacts_nothing_of_mine(mine, tmp_path):
    """Bodies and photos of mine stay, and come back where a stranger's copy had taken them out."""
    photo = mine.add_photo(picture(tmp_path / "mine.png"), specimen="specimen")
    grade = next(entry for entry in mine.entries() if entry.subject == "mine")
    book = Book()
    book.add(Redaction(id="r1", reason="gone", entry=grade.hash))
    book.add(Redaction(id="r2", reason="gone", photo=photo.sha256))
    whole = list(mine.entries())
    emptied = [replace(one, salt=None, body=None) if one.hash == grade.hash else one for one in whole]
    mine.adopt([*emptied, *book.entries], {})
    assert mine.get(Observation, "mine") is not None
    assert mine.photo_path(photo).is_file()
    assert mine.verify() == []


def test_what_a_stranger_emptied_comes_back_with_the_whole_daybook(places, mine):
    """In a ledger that knew only the emptied copy, the owner's own folder fills it; the order makes no difference."""
    grade = next(entry for entry in mine.entries() if entry.subject == "mine")
    book = Book()
    book.add(Redaction(id="r1", reason="gone", entry=grade.hash))
    whole = list(mine.entries())
    emptied = [replace(one, salt=None, body=None) if one.hash == grade.hash else one for one in whole]
    with Ledger.create(places.new("third"), letters="TH", tester="Third", sources=steady(NOON, "th")) as third:
        third.adopt([*emptied, *book.entries], {})
        assert third.get(Observation, "mine") is None
        third.adopt(whole, {})
        assert third.get(Observation, "mine") == mine.get(Observation, "mine")
        assert third.verify() == []


def test_my_own_redaction_is_mine_alone_to_make(mine, places):
    """A tester takes out what his own daybooks wrote, and is told whose an entry is otherwise."""
    entry = last_entry(mine, "observation", "mine")
    with Ledger.create(
        places.new("other"), letters="BE", tester="Bea Holm", sources=steady(NOON + DAY, "be")
    ) as other:
        other.adopt(mine.entries(), {})
        with pytest.raises(BadInput, match="an entry of OV, Oda Vane"):
            other.redact(entry=entry, reason="x")
        with pytest.raises(BadInput, match=_REFUSED):
            other.append([replace(mine.get(Specimen, "specimen"), note="x")])
        with pytest.raises(BadInput, match="observation of OV, Oda Vane"):
            other.append([graded("x", 2.0, supersedes="mine", reason="slip")])
        with pytest.raises(BadInput, match=r"session 4: found 'a row of OV, Oda Vane'; allowed: .*; tell OV$"):
            other.append([replace(mine.get(Session, "session"), note="warm lamp")])
        assert other.made_by(Specimen, "specimen") == "OV, Oda Vane"
        assert mine.made_by(Specimen, "specimen") == other.made_by(Specimen, "none such") == ""


def two_first_entries():
    """Yield rows that two daybooks make under one id, each its own."""
    specimen = replace(basics()[6], id="other", sticker="OV 0009")
    yield "specimen", [specimen], [replace(specimen, nominal_ml=None)], "nominal ml '1.50' of"
    session = replace(basics()[8], id="other")
    yield "session", [session], [replace(session, blinding=Blinding.OPEN)], "blinding 'shuffled by myself' of"
    yield "observation", tried("t", 1.0), [tried("t", 1.0)[0], graded("t", 4.0, trial="trial-t")], "grade '1' of"


@pytest.mark.parametrize(("mine_", "theirs", "said"), [one[1:] for one in two_first_entries()])
def test_two_first_entries_under_one_id_are_refused_either_way(places, mine_, theirs, said):
    """Named with both values and whose they are; neither ledger changes, whichever takes in the other."""
    made = {}
    for letters, rows in (("AN", mine_), ("BE", theirs)):
        sources = steady(NOON + DAY * len(made), letters.lower())
        ledger = Ledger.create(places.new(letters), letters=letters, tester=f"Tester {letters}", sources=sources)
        ledger.append([*basics(), *rows])
        made[letters] = ledger
    for target, source in (("AN", "BE"), ("BE", "AN")):
        before = everything(made[target]), made[target].closing_hashes()
        with pytest.raises(BadInput) as refused:
            made[target].adopt(made[source].entries(), {})
        assert "made by two daybooks" in str(refused.value)
        assert "AN, Tester AN" in str(refused.value)
        assert "BE, Tester BE" in str(refused.value)
        if target == "AN":
            assert any(said in str(problem) for problem in refused.value.problems)
            assert not [
                one.where for one in refused.value.problems if "trial-t" in one.where or " other" in one.where
            ]
        assert (everything(made[target]), made[target].closing_hashes()) == before
    for ledger in made.values():
        ledger.close()


def test_shared_things_unite(places):
    """Two testers say different things of one comparison: lists are joined, gaps filled, the rest stands beside."""
    comparison = Comparison(id="c", title="Greens", question="?", started_on=NOON.date(), paints=("p1",))
    theirs = replace(comparison, title="All greens", paints=("p2",), reference_paper="cotton")
    made = []
    for number, (letters, row) in enumerate((("AN", comparison), ("BE", theirs))):
        sources = steady(NOON + DAY * number, letters.lower())
        made.append(Ledger.create(places.new(letters), letters=letters, tester=letters, sources=sources))
        made[-1].append([row])
    made[0].adopt(made[1].entries(), {})
    made[1].adopt(made[0].entries(), {})
    for ledger in made:
        # That one of them sets no paper says that every paper counts to him: nobody else fills that.
        assert ledger.get(Comparison, "c") == replace(comparison, paints=("p1", "p2"))
        assert [(side.field, side.value) for side in ledger.sides("comparison", "c")] == [
            ("title", "Greens"),
            ("title", "All greens"),
        ]
        assert ledger.disputes() == []
        ledger.close()


@pytest.fixture
def two_machines(places):
    """Return one tester's two ledgers, the second with a daybook of its own, each of which has amended one entry."""
    home, away = places.new("home"), places.new("away")
    with Ledger.create(home, letters="OV", tester="Oda Vane", sources=steady(NOON, "home")) as ledger:
        ledger.append([*basics(), graded("mine")])
        entries = list(ledger.entries())
        ledger.append([replace(ledger.get(Specimen, "specimen"), lot=None)], reason="misread")
    with Ledger.create(away, letters="OV", tester="oda vane", sources=steady(NOON + DAY, "away")) as ledger:
        ledger.adopt(entries, {})
        ledger.append([replace(ledger.get(Specimen, "specimen"), note="chipped", nominal_ml=None)], reason="seen")
    return home, away


@pytest.mark.parametrize("choice", [0, 1])
def test_two_amendments_of_one_entry_are_a_dispute_until_one_is_chosen(two_machines, choice):
    """Merged in either order the same stands, told with both sides; the chosen one stands from then on everywhere."""
    ledgers = [Ledger.open(place, write=True) for place in two_machines]
    ledgers[0].adopt(ledgers[1].entries(), {})
    ledgers[1].adopt(ledgers[0].entries(), {})
    found = [ledger.disputes() for ledger in ledgers]
    assert [one.line() for one in found[0]] == [one.line() for one in found[1]]
    (dispute,) = found[0]
    assert dispute.what == "specimen OV 0001"
    assert {side.says for side in dispute.sides} == {
        "lot nothing, nominal_ml 1.50, note nothing",
        "lot lot, nominal_ml nothing, note chipped",
    }
    assert ledgers[0].get(Specimen, "specimen") == dispute.sides[0].record
    ledgers[1].settle(found[1][0], found[1][0].sides[choice], on=NOON.date())
    ledgers[0].adopt(ledgers[1].entries(), {})
    for ledger in ledgers:
        assert ledger.disputes() == []
        assert ledger.get(Specimen, "specimen") == dispute.sides[choice].record
        assert ledger.verify() == []
        ledger.close()


@pytest.mark.parametrize("choice", [0, 1])
@pytest.mark.parametrize("what", ["row", "grade", "session"])
def test_a_proposal_is_taken_over_or_left_by_its_owner(places, mine, what, choice):
    """Another tester says something else of my row: it is told, and stands only if I take it."""
    with Ledger.create(places.new("be"), letters="BE", tester="Bea Holm", sources=steady(NOON + DAY, "be")) as guest:
        guest.adopt(mine.entries(), {})
        if what == "row":
            guest.append([replace(mine.get(Specimen, "specimen"), note="cracked")], proposing=True)
        elif what == "grade":
            guest.append([graded("better", 4.0, supersedes="mine", reason="misread")], proposing=True)
        else:
            guest.append([voided()])
        mine.adopt(guest.entries(), {})
        (dispute,) = mine.disputes()
        assert [side.tester for side in dispute.sides] == ["OV, Oda Vane", "BE, Bea Holm"]
        mine.settle(dispute, dispute.sides[choice], on=NOON.date())
        guest.adopt(mine.entries(), {})
        for ledger in (mine, guest):
            assert ledger.disputes() == []
            assert (ledger.get(Specimen, "specimen").note == "cracked") == (what == "row" and choice == 1)
            assert {row.grade for row in counted(ledger)} == ({4.0} if what == "grade" and choice else {1.0})
            assert {row.void for row in counted(ledger)} == {what == "session" and choice == 1}
            assert ledger.verify() == []


def test_only_its_owner_settles_a_dispute(places, mine):
    """A guest who proposed something cannot take it over for the owner."""
    with Ledger.create(places.new("be"), letters="BE", tester="Bea Holm", sources=steady(NOON + DAY, "be")) as guest:
        guest.adopt(mine.entries(), {})
        guest.append([replace(mine.get(Specimen, "specimen"), note="cracked")], proposing=True)
        (dispute,) = guest.disputes()
        with pytest.raises(BadInput, match=_REFUSED):
            guest.settle(dispute, dispute.sides[1], on=NOON.date())


def test_a_second_daybook_of_mine_amends_what_the_first_wrote(file):
    """After a restore a new daybook begins; it goes on with the tester's rows as its own."""
    daybooks.remember(str(file), None)
    with Ledger.open(file, write=True, letters="OV", tester="ODA VANE", sources=steady(NOON + DAY, "new")) as ledger:
        ledger.append([replace(ledger.get(Specimen, "specimen"), note="again")], reason="seen")
        assert ledger.get(Specimen, "specimen").note == "again"
        with ledger.reading() as connection:
            assert head(connection, ledger.daybook.id).seq == 2
        assert ledger.disputes() == []


def test_what_is_disputed_or_dated_ahead_is_named(file, cli):
    """`verify` finds all as it was written, and names the dispute with both sides and the daybook of another day."""
    book = Book(at=datetime.fromisoformat("2099-01-01T00:00:00Z"))
    with Ledger.open(file, write=True, sources=steady(NOON + DAY, "later")) as ledger:
        stood = last_entry(ledger, "specimen", "specimen")
        book.add(replace(ledger.get(Specimen, "specimen"), note="cracked"), replaces=(stood,))
        takes(ledger, book)
        assert ledger.verify() == []
        assert ledger.doubts() == [
            "disputed: specimen OV 0001: note nothing (OV, Oda Vane); or note cracked (ST, Stranger)",
            "daybook stranger (ST, Stranger) is dated up to 2099-01-01, later than now; it moves no clock here",
        ]
    told = cli("verify", "--ledger", file)
    assert told.code == 0
    assert "note cracked (ST, Stranger)" in " ".join(told.out.split())


def test_each_testers_sheets_count_on_the_paper_he_set(places):
    """Two testers share a comparison, each on a paper of his own: whoever merges whom, both sheets count."""
    made = []
    for number, (letters, paper) in enumerate((("AN", "cotton"), ("BE", "wood pulp"))):
        sources = steady(NOON + DAY * number, letters.lower())
        ledger = Ledger.create(places.new(letters), letters=letters, tester=letters, sources=sources)
        own = {
            Comparison: {"reference_paper": paper},
            Sheet: {"paper": paper},
            Specimen: {"sticker": f"{letters} 0001"},
        }
        rows = [replace(row, **own.get(type(row), {})) for row in basics()]
        rows.append(graded("seen"))
        ids = {row.id: f"{letters}-{row.id}" for row in rows if type(row) not in SHARED}
        ledger.append([renamed(row, ids) for row in rows])
        made.append(ledger)
    made[0].adopt(made[1].entries(), {})
    made[1].adopt(made[0].entries(), {})
    for ledger in made:
        assert [row.on_reference for row in ledger.tested_rows()] == [True, True]
        ledger.close()


def renamed(row, ids):
    """Return a row with its id, and what it names, under other ids."""
    named = {"id", *(column.name for column in columns(type(row)) if column.refers_to)}
    changed = {name: ids.get(getattr(row, name), getattr(row, name)) for name in named}
    return replace(row, **changed)
