"""Parcels, pieces and labels, from forms to the ledger."""

import re
from dataclasses import replace
from datetime import date, timedelta
from itertools import count
from types import SimpleNamespace

import pytest

from qcledger.bench import atunpacking, faults, history, known, labelling, unpacking, worked
from qcledger.bench.atwork import AtWork
from qcledger.bench.record import write, write_back
from qcledger.bench.result import Pencil, Result
from qcledger.bench.runsheet import SheetSquare
from qcledger.errors import BadInput
from qcledger.ledger.queries_stock import shelf, shelf_count
from qcledger.records import LabelVersion, Lot, Observation, Paint, Parcel, Photo, RubricText, Specimen, Trial
from qcledger.rubric.proposal import Proposal
from qcledger.settings import Settings, own_rubrics, shipped
from qcledger.vocab import TAKEN_BACK, Format, SoundIf, SpecimenState
from tests.small import START

COMMON = {"seller": "Corner shop", "bought_on": "2026-03-01", "currency": "eur", "shipping": "4.90"}
TODAY = date(2026, 3, 9)


@pytest.fixture
def ledger(small):
    with small.open(write=True) as found:
        yield found


@pytest.fixture
def new_id():
    numbers = count(1)
    return lambda: f"new-{next(numbers):03}"


def parcel(**values) -> Parcel:
    return unpacking.read_parcel({**COMMON, **values}, "parcel", START.date(), Settings())


def piece(**values) -> unpacking.Typed:
    return unpacking.read_piece({"format": "half", "lot": "T7", "price": "5.90", **values}, "pt0", "EUR", ".")


def graded(ledger, specimen, criterion, grade, new_id):
    """Return what a grade writes at the unpacking of a specimen as it stands."""
    pencil = Pencil(id=new_id(), tester="OV", at=START)
    found, place = faults.load(ledger, specimen), SheetSquare(0, criterion)
    return write(found, place, Result(grade=grade), pencil=pencil, new_id=new_id)


def back(ledger, specimen, criterion, before, new_id):
    """Return what it writes to take a grade back."""
    pencil = Pencil(id=new_id(), tester="OV", at=START)
    return write_back(faults.load(ledger, specimen), SheetSquare(0, criterion), before, pencil=pencil)


def test_a_parcel_s_wrong_fields_are_told_together():
    """Each wrong field is one problem at its own name; nothing is bought tomorrow, nor comes before it is bought."""
    with pytest.raises(BadInput) as refused:
        parcel(seller=" ", currency="EURO", bought_on="soon")
    assert [one.where for one in refused.value.problems] == ["seller", "bought_on", "currency"]
    assert "1 to 200 characters (2 more things are wrong)" in refused.value.line()
    tomorrow = START.date() + timedelta(1)
    with pytest.raises(BadInput, match=rf"^bought_on: found '{tomorrow}'; allowed: today, {START.date()}, or a day"):
        parcel(bought_on=str(tomorrow))
    with pytest.raises(BadInput, match=r"^received_on: "):
        parcel(received_on=str(tomorrow))
    with pytest.raises(BadInput, match="received_on"):
        parcel(received_on="2026-02-01")
    assert parcel().shipping_minor == 490


def test_stickers_go_on_from_the_highest_count(ledger, new_id):
    """Letters of the daybook and the next count, whatever was imported between; one lot row a batch code."""
    first = unpacking.save_piece(ledger, parcel(), piece(), "a", new_id)
    assert first.sticker == "OV 0004"
    ledger.append([replace(first, id="z", sticker="OV 0100")])
    second = unpacking.save_piece(ledger, parcel(), piece(), "b", new_id)
    assert second.sticker == "OV 0101"
    assert first.lot == second.lot
    assert first.label_version == "lb0"
    assert len(ledger.rows(Lot, code="T7")) == 1


def test_the_same_id_again_amends_and_keeps_the_sticker(ledger, new_id):
    """So an unconfirmed save may be repeated, and a line corrected: the older entry stays."""
    first = unpacking.save_piece(ledger, parcel(), piece(), "a", new_id)
    assert unpacking.save_piece(ledger, parcel(), piece(), "a", new_id) == first
    assert len(ledger.history("specimen", "a")) == 1
    changed = unpacking.save_piece(ledger, parcel(), piece(price="6"), "a", new_id)
    assert (changed.sticker, changed.price_minor) == (first.sticker, 600)
    assert len(ledger.history("specimen", "a")) == 2


def test_two_testers_at_the_same_moment_get_two_stickers(ledger, new_id, monkeypatch):
    """When another piece was given the same sticker meanwhile, the later one is given another."""
    first = unpacking.save_piece(ledger, parcel(), piece(), "a", new_id)
    monkeypatch.setattr(unpacking, "next_sticker", lambda _: first.sticker)
    second = unpacking.save_piece(ledger, parcel(), piece(), "b", new_id)
    assert (first.sticker, second.sticker) == ("OV 0004", "OV 0005")
    assert unpacking.save_piece(ledger, parcel(), piece(), "b", new_id) == second
    assert len(ledger.history("specimen", "b")) == 1


def test_a_piece_is_taken_back_by_a_decision_and_may_return(ledger, new_id):
    """Nothing is deleted; entered again, it stands with its old sticker."""
    first = unpacking.save_piece(ledger, parcel(), piece(), "a", new_id)
    unpacking.take_out(ledger, first, new_id)
    assert unpacking.is_out(ledger, "a")
    with ledger.reading() as connection:
        assert [one.taken_out for one in shelf(connection, (), "parcel", 0, 9)] == [True]
    with pytest.raises(
        BadInput, match=r"found 'a specimen that was taken out'; allowed: a specimen in stock; e on its line"
    ):
        unpacking.save_piece(ledger, parcel(), piece(format="full"), "a", new_id)
    assert unpacking.is_out(ledger, "a")
    again = unpacking.save_piece(ledger, parcel(), piece(format="full"), "a", new_id, again=True)
    assert (again.sticker, again.format) == (first.sticker, Format.FULL_PAN)
    assert not unpacking.is_out(ledger, "a")


def test_an_observed_piece_is_not_taken_out(ledger, new_id):
    """Evidence keeps its specimen; once the observation is taken back it may go."""
    one = unpacking.save_piece(ledger, parcel(), piece(), "a", new_id)
    written = graded(ledger, "a", "cracked", 3, new_id)
    ledger.append(written.records)
    with pytest.raises(BadInput, match="nothing was observed"):
        unpacking.take_out(ledger, one, new_id)
    ledger.append(back(ledger, "a", "cracked", None, new_id).records)
    unpacking.take_out(ledger, one, new_id)
    assert unpacking.is_out(ledger, "a")


def test_states_and_the_day_of_opening(ledger):
    """The first opening keeps its day, whatever comes later."""
    _, opened = unpacking.set_state(ledger, "sp00", SpecimenState.OPENED, TODAY, "x")
    _, used = unpacking.set_state(ledger, "sp00", SpecimenState.USED_UP, date(2026, 5, 1), "x")
    assert (opened.opened_on, used.opened_on, used.state) == (TODAY, TODAY, SpecimenState.USED_UP)
    _, sealed = unpacking.set_state(ledger, "sp00", SpecimenState.UNOPENED, TODAY, "was another specimen")
    assert (sealed.state, sealed.opened_on) == (SpecimenState.UNOPENED, None)


@pytest.mark.parametrize("typed", ["OV 0002", "ov 0002", " ov0002", "2", "0002", "OV 2"])
def test_stickers_as_they_are_typed_or_scanned(ledger, typed):
    """Letters in any case, with or without blank and zeros; a count alone means one's own letters."""
    assert unpacking.find_sticker(ledger, typed) == "sp01"


@pytest.mark.parametrize("typed", ["OV 0999", "XY 0002", "", "x" * 500, "9" * 400])
def test_unknown_stickers_are_refused(ledger, typed):
    """One line says that there is none."""
    with pytest.raises(BadInput, match="sticker"):
        unpacking.find_sticker(ledger, typed)


def test_known_paints_come_back_by_a_few_letters(ledger, new_id):
    """Words begin words of maker, name, format or pigment; the one bought last comes first, once a format."""
    unpacking.save_piece(ledger, parcel(), piece(format="tube", price="8"), "a", new_id)
    paints = known.known_paints(ledger)
    assert [one.bought.format for one in known.complete("tre vi", paints)] == [Format.TUBE, Format.HALF_PAN]
    assert [one.bought.name for one in known.complete("pb36", paints)] == ["Fjell"]
    assert known.complete("vi half", paints)[0].bought.format == Format.HALF_PAN
    assert known.complete("tre tre", paints) == []
    assert known.complete("vi", paints)[0].bought.price_minor == 800
    assert known.complete("zz", paints) == []


def test_a_typed_text_is_parted_at_a_known_maker():
    """The longest maker it begins with, whole words only, in any case."""
    makers = ["Trell", "Trell Mere"]
    assert known.split_maker("trell mere  Deep Red", makers) == ("Trell Mere", "Deep Red")
    assert known.split_maker("Trellmere Red", makers) == ("", "Trellmere Red")


def test_the_shelf_is_found_by_words(ledger):
    """Every word must stand somewhere; wildcards of the database are plain text."""
    with ledger.reading() as connection:
        assert [one.sticker for one in shelf(connection, ("viri",), None, 0, 9)] == ["OV 0001"]
        assert shelf_count(connection, ("half", "trell", "unop"), None) == 3
        assert shelf_count(connection, ("%",), None) == 0
        assert [one.sticker for one in shelf(connection, (), None, 1, 1)] == ["OV 0002"]


def transcribed(**values) -> labelling.Transcribed:
    typed = {"maker": "trellmere", "name": "Deep Red", "index_names": "PR101; PR254", **values}
    return labelling.read_label(typed, TODAY, Settings())


def test_a_label_is_written_once_with_its_paint(ledger, new_id):
    """A known maker is found in any case; the same label again is the same version, a changed one a new version."""
    paint, label = labelling.save_label(ledger, transcribed(), new_id)
    assert (paint.maker, label.index_names, label.seen_on) == ("mk", ("PR101", "PR254"), TODAY)
    assert labelling.save_label(ledger, transcribed(), new_id) == (paint, label)
    _, newer = labelling.save_label(ledger, transcribed(warnings="gloves"), new_id, paint.id)
    assert newer.id != label.id
    assert len(ledger.rows(LabelVersion, paint=paint.id)) == 2
    assert len(ledger.rows(Paint, name="Deep Red")) == 1


def test_a_label_needs_names_and_a_day_that_has_been():
    """Maker and paint may not be empty, and no label is seen tomorrow."""
    with pytest.raises(BadInput) as refused:
        transcribed(maker="", name=" ")
    assert [one.where for one in refused.value.problems] == ["maker", "name"]
    with pytest.raises(BadInput, match="seen_on"):
        transcribed(seen_on="2026-03-10")


def test_faults_at_unpacking_supersede_and_go_back(ledger, new_id):
    """The first grade writes trial and rubric; another supersedes it; taking back restores the first."""
    one = faults.load(ledger, "sp00")
    assert "cracked" in one.criteria
    assert "stiff_tube" not in one.criteria
    assert "declared_behaviour" not in one.criteria
    first = graded(ledger, "sp00", "cracked", 3, new_id)
    ledger.append(first.records)
    second = graded(ledger, "sp00", "cracked", 5, new_id)
    assert len(second.records) == 1
    ledger.append(second.records)
    ledger.append(back(ledger, "sp00", "cracked", first.observation, new_id).records)
    stands, place = faults.load(ledger, "sp00"), SheetSquare(0, "cracked")
    assert stands.result(place).grade == 3
    assert stands.seen[place].reason == TAKEN_BACK
    assert second.observation.reason == "regraded at unpacking"
    assert len(ledger.rows(Observation, criterion="cracked")) == 3
    with pytest.raises(BadInput, match="grade 2"):
        graded(ledger, "sp00", "mould", 2, new_id)


def test_a_grade_of_an_older_scale_is_amended_on_that_scale(ledger, new_id):
    """What was graded when the rubric offered other grades is put right among those, and taken back as it stood."""
    ledger.append(graded(ledger, "sp00", "cracked", 3, new_id).records)
    found, place = faults.load(ledger, "sp00"), SheetSquare(0, "cracked")
    older = replace(found.criteria["cracked"], anchors={0: "none", 2: "some"}, fault_line=2)
    stood = replace(found, scales={place: older})
    pencil = Pencil(id=new_id(), tester="OV", at=START)
    assert write(stood, place, Result(grade=2), pencil=pencil, new_id=new_id).observation.grade == 2
    with pytest.raises(BadInput, match="grade 5"):
        write(stood, place, Result(grade=5), pencil=pencil, new_id=new_id)
    assert write(found, place, Result(grade=5), pencil=pencil, new_id=new_id).observation.grade == 5


def test_what_another_window_graded_gives_way_to_nobody_unseen(ledger, new_id):
    """A first grade and an amendment on what stood before are refused; a save that is repeated is not."""
    first, stale = graded(ledger, "sp00", "cracked", 3, new_id), graded(ledger, "sp00", "cracked", 5, new_id)
    beside = graded(ledger, "sp00", "wrapper_adhesion", 5, new_id)
    faults.keep(ledger, [first])
    faults.keep(ledger, [first])  # as after a save that was not confirmed
    for late in (stale, beside):
        with pytest.raises(BadInput, match="OV 0001: found 'a grade from another window'; allowed"):
            faults.keep(ledger, [late])
    second, stale = graded(ledger, "sp00", "cracked", 5, new_id), graded(ledger, "sp00", "cracked", 1, new_id)
    faults.keep(ledger, [second])
    with pytest.raises(BadInput, match="another window"):
        faults.keep(ledger, [stale])
    faults.keep(ledger, [graded(ledger, "sp00", "wrapper_adhesion", 5, new_id)])
    assert len({seen.trial for seen in ledger.rows(Observation)}) == 1


def test_what_stands_on_a_grade_that_was_not_saved_falls_with_it(ledger, new_id):
    """Neither an amendment of it nor another criterion in its trial is written; the next grade begins anew."""
    lost = graded(ledger, "sp00", "cracked", 3, new_id)
    pencil, places = (
        Pencil(id=new_id(), tester="OV", at=START),
        (SheetSquare(0, "cracked"), SheetSquare(0, "wrapper_adhesion")),
    )
    sheet = lost.on(lost.stood)
    for place in places:
        late = write(sheet, place, Result(grade=5), pencil=pencil, new_id=new_id)
        assert faults.keep(ledger, [late]) is None
    assert (ledger.rows(Observation), ledger.rows(Trial)) == ([], [])
    assert faults.keep(ledger, [graded(ledger, "sp00", "cracked", 5, new_id)]) is not None


def test_a_piece_is_graded_by_the_same_hand_as_a_sheet(ledger, new_id):
    """A digit goes on to the next criterion, a label's proposal is taken, and undo goes back to an empty place."""
    there = SheetSquare(0, "wrapper_adhesion")
    found = replace(faults.load(ledger, "sp00"), proposed={there: Proposal(1.0, "so its label says")})
    work = AtWork(found, tester="OV", now=lambda: START, new_id=new_id)
    first = work.digit(3)
    assert [type(one) for one in first.records] == [RubricText, Trial, Observation]
    assert (work.here, work.ahead, work.proposed) == (SheetSquare(0, "cracked"), there, None)
    work.go(work.here)
    (second,) = work.digit(5).records
    assert (second.grade, second.supersedes) == (5, first.observation.id)
    work.go(there)
    assert work.proposed == 1
    accepted = work.accept()
    assert accepted is not None
    assert [type(one) for one in accepted.records] == [RubricText, Observation]
    assert work.proposed is None
    for written in (first, second, accepted):
        ledger.append(written.records if written is not second else [second])
    for _ in range(3):
        ledger.append(work.undo().records)
    assert {seen.not_testable for seen in faults.load(ledger, "sp00").seen.values()} == {TAKEN_BACK}
    with pytest.raises(BadInput, match="nothing done"):
        work.undo()


def test_then_and_now_and_every_observation(ledger, new_id):
    """The first and latest results that count, apart from what was superseded; photos in the order taken."""
    for trial, grade in ((None, 1), (None, 3)):
        written = graded(ledger, "sp00", "cracked", grade, new_id)
        ledger.append(written.records)
        assert trial is None
    for n, day in ((1, 20), (2, 10)):
        shot = {"kind": "jpg", "width": 1, "height": 1, "specimen": "sp00"}
        ledger.append([Photo(id=f"ph{n}", sha256=f"{n}" * 64, taken_at=START.replace(day=day), **shot)])
    found = history.load(ledger, "sp00")
    assert [(event.result.grade, event.counts) for event in found.events] == [(1, False), (3, True)]
    (pair,) = found.then_and_now
    assert pair.then is pair.now
    assert pair.now.is_fault
    assert [photo.id for photo in found.ends] == ["ph2", "ph1"]


def test_a_blind_session_that_is_open_stays_out_of_the_history(tmp_path, home):
    """What would tell a code's specimen is counted, not shown, until the session is closed."""
    from qcledger.bench import sheets
    from tests.small import small_ledger

    numbers = count(1)
    with small_ledger(tmp_path, blind=True).open(write=True) as ledger:
        sheet = sheets.load(ledger, "se")
        key = next(key for key, one in sheet.criteria.items() if one.anchors)
        grade = sheet.criteria[key].grades[0]
        pencil = Pencil(id="ob", tester="OV", at=START)
        wrote = write(
            sheet, SheetSquare(0, key), Result(grade=grade), pencil=pencil, new_id=lambda: f"n{next(numbers)}"
        )
        ledger.append(wrote.records)
        found, untouched = history.load(ledger, "sp00"), history.load(ledger, "sp01")
        assert (found.events, found.hidden) == ((), ("S04",))
        assert untouched.hidden == found.hidden  # which one was judged is not told
        with pytest.raises(BadInput, match="on the sheet of blind session S04"):
            unpacking.take_out(ledger, found.specimen, lambda: "d1")
        ledger.append([replace(sheet.session, closed_at=START)], reason="closed")
        found = history.load(ledger, "sp00")
        assert (len(found.events), found.hidden) == (1, ())


def test_no_specimen_no_history(ledger):
    """An unknown id is told in one line."""
    for load in (history.load, faults.load):
        with pytest.raises(BadInput, match="specimen"):
            load(ledger, "nobody")
    assert ledger.get(Specimen, "nobody") is None


def test_a_piece_that_was_taken_out_meanwhile_is_not_graded(ledger, new_id):
    """Its page may have been open in another window; nothing is written, and it is said when and why it went."""
    graded_before = graded(ledger, "sp00", "cracked", 3, new_id)
    unpacking.take_out(ledger, ledger.get(Specimen, "sp00"), ledger.new_id)
    with pytest.raises(BadInput, match="OV 0001: found 'taken out on"):
        faults.keep(ledger, [graded_before])
    assert not [one for one in ledger.rows(Observation) if one.criterion == "cracked"]


def fixed(**letters):
    """Return criteria that have only a key, a title and perhaps a letter."""
    return [SimpleNamespace(key=key, title=key.replace("_", " "), letter=letter) for key, letter in letters.items()]


def test_one_letter_is_one_criterion_in_every_format():
    """What a medium asks of its pieces has the letters that its files fix, none twice, in every format."""
    for medium in ("watercolour", "gouache", "ink", "pencil"):
        work = worked.of_keys([medium])
        scales = atunpacking.unpacking_scales(work)
        asked = scales.of(work.formats)
        assert {key: scales.letters[key] for key in asked} == {key: one.letter for key, one in asked.items()}
        assert len(set(scales.letters.values())) == len(scales.letters)


@pytest.mark.parametrize(
    ("medium", "shape", "asked", "not_asked"),
    [
        ("pencil", "pencil", {"off_centre_core", "smell", "batch_code"}, {"leak", "pigment_information", "mould"}),
        ("pencil", "woodless pencil", {"warped", "smell"}, {"off_centre_core", "split_wood", "sediment"}),
        ("pencil", "tube", {"leak", "pigment_information", "consistency"}, {"warped"}),
        ("ink", "bottle", {"sediment", "leak", "mould"}, {"settled_jar", "parted_binder", "cartridge_seat"}),
        ("ink", "cartridge", {"cartridge_seat", "leak"}, {"sediment", "cap_stuck"}),
        ("gouache", "jar", {"settled_jar", "cap_stuck", "pigment_information"}, {"sediment", "stiff_tube"}),
        ("watercolour", "bottle", {"leak", "name_mismatch"}, {"sediment", "settled_jar"}),
    ],
)
def test_a_piece_is_asked_what_its_medium_asks(medium, shape, asked, not_asked):
    """Beside packaging and label stands the file of the medium and no other; other formats are asked as ever."""
    found = set(atunpacking.unpacking_scales(worked.of_keys([medium])).of([shape]))
    assert asked <= found
    assert not found & not_asked


def test_letters_that_no_file_fixes_follow_from_the_titles():
    """What is fixed counts first; then the first free letter of a title, then of the alphabet; none twice."""
    found = atunpacking.letters(fixed(zebra="", crack="c", cap="", fff="", other="c"))
    assert found == {"crack": "c", "zebra": "e", "cap": "a", "fff": "b", "other": "o"}
    many = atunpacking.letters(fixed(**{f"mould{n}": "" for n in range(30)}))
    assert len(set(many.values())) == len(many) == 22


def test_a_testers_own_rubric_is_asked_at_unpacking(ledger, home):
    """A file of the tester's own brings its criteria behind the shipped ones; a broken one is left out."""
    text = (shipped("rubrics") / "pencil.yaml").read_text(encoding="utf-8")
    text = re.sub(r"formats: \[pencil.*\]", "formats: [half pan]", text)
    text = re.sub(r"\ntested: .*", "", text)
    own_rubrics().mkdir(parents=True)
    own_rubrics().joinpath("mine.yaml").write_text(text.replace("off_centre_core", "off_round"), encoding="utf-8")
    own_rubrics().joinpath("broken.yaml").write_text("seen_at: unpacking", encoding="utf-8")
    found = faults.load(ledger, "sp00")
    asked = list(found.criteria)
    assert asked.index("off_round") > asked.index("print_rub_off")
    others = {found.letters.get(key) for key in found.criteria if key != "off_round"}
    assert found.letters["off_round"] not in others


def test_a_sound_piece_is_given_what_the_rubric_says(ledger, new_id):
    """0 where there is a grade, else the choice or excuse of the rubric; a label's proposal first, no fault."""
    ledger.append([replace(ledger.get(Specimen, "sp00"), format=Format.TUBE, lot=None)], reason="a tube")
    place = {key: SheetSquare(0, key) for key in ("leak", "smell", "short_measure", "name_mismatch", "mould")}
    found = replace(
        faults.load(ledger, "sp00"),
        proposed={place["name_mismatch"]: Proposal(3.0, "why"), place["mould"]: Proposal(1.0, "why")},
    )
    given = {key: found.sound(there) for key, there in place.items()}
    assert given == {
        "leak": Result(grade=0),
        "smell": Result(choice="none"),
        "short_measure": Result(not_testable="not emptied"),
        "name_mismatch": None,
        "mould": Result(grade=1),
    }


def test_nothing_is_called_sound_that_was_not_entered(ledger):
    """A piece without a batch code is not sound on what needs one; once it has one, it is; nothing else changes."""
    place, with_one = SheetSquare(0, "batch_code"), faults.load(ledger, "sp00")
    assert (with_one.lacks(place), with_one.sound(place)) == (None, Result(grade=0))
    ledger.append([replace(ledger.get(Specimen, "sp00"), lot=None)], reason="no code found")
    without = faults.load(ledger, "sp00")
    assert (without.lacks(place), without.sound(place)) == (SoundIf.BATCH_CODE, None)
    others = [there for there in without.places_of(0) if there != place]
    assert [without.sound(there) for there in others] == [with_one.sound(there) for there in others]


def test_who_judges_what_is_inside_has_opened_the_piece(ledger, new_id):
    """A grade of the label opens nothing, one of the paint does; taken back, the piece is unopened again."""

    def state():
        row = ledger.get(Specimen, "sp00")
        return row.state, row.opened_on

    faults.keep(ledger, [graded(ledger, "sp00", "batch_code", 0, new_id)])
    assert state() == (SpecimenState.UNOPENED, None)
    first = graded(ledger, "sp00", "cracked", 3, new_id)
    (row,) = faults.keep(ledger, [first])
    assert state() == (row.state, row.opened_on) == (SpecimenState.OPENED, ledger.day(START))
    faults.keep(ledger, [back(ledger, "sp00", "cracked", None, new_id)])
    assert state() == (SpecimenState.UNOPENED, None)
    assert ledger.verify() == []


def test_a_piece_opened_by_a_word_of_its_own_stays_so(ledger, new_id):
    """Taking a grade back closes only what that grade had opened."""
    unpacking.set_state(ledger, "sp00", SpecimenState.OPENED, START.date(), "now opened")
    faults.keep(ledger, [graded(ledger, "sp00", "cracked", 3, new_id)])
    faults.keep(ledger, [back(ledger, "sp00", "cracked", None, new_id)])
    assert ledger.get(Specimen, "sp00").state is SpecimenState.OPENED


def test_a_sealed_reserve_is_not_opened_unseen(ledger, new_id):
    """Only what can be judged from outside is open on it; nothing else counts as left blank."""
    unpacking.set_state(ledger, "sp00", SpecimenState.RESERVE, START.date(), "kept")
    found = faults.load(ledger, "sp00")
    open_ = [place.criterion for place in found.places_of(0) if found.is_open(place)]
    assert open_ == [key for key, one in found.criteria.items() if one.unopened]
    assert found.is_shut(SheetSquare(0, "cracked"))


def test_a_parcel_is_unpacked_piece_by_piece(ledger, new_id):
    """All pieces in stock by sticker, taken out ones left out but the one asked for; results at their piece."""
    ledger.append(graded(ledger, "sp01", "cracked", 3, new_id).records)
    unpacking.take_out(ledger, ledger.get(Specimen, "sp00"), ledger.new_id)
    found = faults.load_parcel(ledger, "sp01")
    assert [line.specimen.id for line in found.lines] == sorted(
        row.id for row in ledger.rows(Specimen, parcel=found.lines[0].specimen.parcel) if row.id != "sp00"
    )
    assert found.result(SheetSquare(found.line_of("sp01"), "cracked")).grade == 3
    assert "sp00" in {line.specimen.id for line in faults.load_parcel(ledger, "sp00").lines}
