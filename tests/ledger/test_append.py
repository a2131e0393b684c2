"""Writing: all or nothing, cleaned, checked, repeatable, never overwritten."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest

from qcledger.errors import BadInput, LedgerUnavailable
from qcledger.ledger import Ledger
from qcledger.ledger.codec import FitRows
from qcledger.records import (
    Daybook,
    Decision,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    Photo,
    Redaction,
    RubricText,
    Specimen,
    Trial,
)
from qcledger.vocab import Censored, DecisionKind, Format
from tests.ledger.given import KEPT, NOON, RUBRIC, basics, everything, graded, steady, tried


def test_every_record_comes_back_as_it_was_given(ledger):
    """What is appended is read back equal, of every type a field may have."""
    for record in basics():
        assert ledger.get(type(record), record.id) == record


def test_entries_carry_the_records_in_order(ledger):
    """Each record is one entry, numbered from the daybook's own on, each naming its row."""
    given = [(record.TABLE, record.id) for record in basics()]
    entries = list(ledger.entries())
    assert [(entry.kind, entry.subject) for entry in entries] == [("daybook", ledger.daybook.id), *given]
    assert [entry.seq for entry in entries] == list(range(1, len(given) + 2))
    assert ledger.closing_hashes() == {ledger.daybook.id: (len(entries), entries[-1].hash)}


def test_a_repeated_save_changes_nothing(ledger):
    """A save whose outcome is unknown may be repeated: what stands already exactly so is passed over."""
    first = ledger.append([graded("a"), *tried("b", 2.0)])
    before = ledger.closing_hashes()
    assert len(first) == 3
    assert ledger.append([graded("a"), *tried("b", 2.0)]) == ()
    assert ledger.append([*tried("b", 2.0), graded("c", criterion="opacity")]) != ()
    assert ledger.closing_hashes()[ledger.daybook.id][0] == before[ledger.daybook.id][0] + 1


def test_one_bad_record_keeps_all_out(ledger):
    """Nothing of an append is stored when one of its records is refused."""
    before, closing = everything(ledger), ledger.closing_hashes()
    with pytest.raises(BadInput):
        ledger.append([graded("a"), graded("b", trial="no such trial")])
    assert everything(ledger) == before
    assert ledger.closing_hashes() == closing


def test_amending_a_row_keeps_its_old_entry(ledger):
    """Writing an id again changes the row and keeps what stood before, with the reason, in its history."""
    ledger.append([Maker(id="maker", name="Quernlow Colours")], reason="name as on the new label")
    assert ledger.get(Maker, "maker") == Maker(id="maker", name="Quernlow Colours")
    older, newer = ledger.history("maker", "maker")
    assert '"Quernlow"' in (older.body or "")
    assert '"reason":"name as on the new label"' in (newer.body or "")


def test_a_row_may_be_written_and_amended_in_one_append(ledger):
    """Two records of one id in one append are two entries; the later one stands."""
    entries = ledger.append([Maker(id="x", name="one"), Maker(id="x", name="two"), Maker(id="x", name="two")])
    assert len(entries) == 2
    assert ledger.get(Maker, "x") == Maker(id="x", name="two")


def test_observations_are_never_written_again(ledger):
    """A second observation under the same id is refused; a correction supersedes with a reason."""
    ledger.append([graded("a", 1.0)])
    with pytest.raises(BadInput, match="another row under this id"):
        ledger.append([graded("a", 2.0)])
    with pytest.raises(BadInput, match="reason"):
        ledger.append([graded("b", 2.0, supersedes="a")])
    ledger.append([graded("b", 2.0, supersedes="a", reason="misread the anchor")])
    assert [row.observation for row in ledger.tested_rows()] == ["b"]


def test_only_the_current_observation_may_be_superseded(ledger):
    """Two corrections of one observation would both count; the second must correct the first."""
    ledger.append([graded("a"), graded("b", supersedes="a", reason="slip")])
    with pytest.raises(BadInput, match="the observation that stands now"):
        ledger.append([graded("c", supersedes="a", reason="slip")])
    with pytest.raises(BadInput, match="the observation that stands now"):
        ledger.append([graded("d", supersedes="b", reason="slip"), graded("e", supersedes="b", reason="slip")])


def test_a_correction_is_of_the_same_trial_and_criterion(ledger):
    """An observation cannot supersede one of something else."""
    ledger.append([graded("a")])
    with pytest.raises(BadInput, match="same trial and criterion"):
        ledger.append([graded("b", criterion="rewetting_in_fives", supersedes="a", reason="slip")])


@pytest.mark.parametrize(
    ("record", "message"),
    [
        (Paint(id="p", maker="nobody", name="x"), "paint x maker: found 'nobody'; allowed: the id of a maker"),
        (graded("o", criterion="charm"), "observation charm criterion: found 'charm'; allowed: the criteria of"),
        (graded("o", 7.0), "observation evenness grade: found '7.0'; allowed: a number from 0 to 5 in steps of 0.5"),
        (graded("o", 0.3), "observation evenness grade: found '0.3'; allowed: a number from 0 to 5 in steps of 0.5"),
        (graded("o", None), "observation evenness: found 'no result'"),
        (graded("o", rubric="f" * 64), "the id of a rubric_text in this ledger"),
        (graded("o", at=datetime(2026, 3, 9, 12)), "observation evenness at: "),  # noqa: DTZ001 - naive, to be refused
        (graded("o", note=7), "observation evenness note: found '7'; allowed: text of 0 to 20000 characters"),
        (graded("o", note="x" * 20_001), "observation evenness note: found"),
        (graded("o", reading=float("nan")), "observation evenness reading: found 'nan'; allowed: a number"),
        (graded("o", reading=float("inf")), "observation evenness reading: found 'inf'; allowed: a number"),
        (graded("o", reading=10**400), "observation evenness reading: "),
        (
            graded("o", censored="about"),
            "observation evenness censored: found 'about'; allowed: one of exact,",
        ),
        (graded(""), "observation evenness id: found nothing; allowed: text of 1 to 64 characters"),
        (graded("o" * 65), "allowed: text of 1 to 64 characters"),
        (Parcel(id="p", bought_on="2026-02-31", seller="s", currency="EUR"), "parcel p bought_on: "),
        (Parcel(id="p", bought_on=date(2026, 2, 1), seller="s", currency="XXX"), "parcel p currency: found 'XXX'"),
        (Parcel(id="p", bought_on=date(2026, 2, 1), seller="s", currency="EUR", shipping_minor=2**63), "to 10000"),
        (Parcel(id="p", bought_on=date(2026, 2, 1), seller="s", currency="EUR", tax_included="no"), "true or false"),
        (
            Lot(id="l", paint="paint", format="cake", code="c"),
            "lot c format: found 'cake'; allowed: one of tube, half",
        ),
        (
            Decision(
                id="d",
                kind=DecisionKind.VOID,
                subject_table="session",
                subject="s",
                by="Oda",
                on=date(2026, 3, 9),
                reason="spilt",
            ),
            "decision d subject: found 's'; allowed: the id of a session",
        ),
        (Photo(id="p", sha256="Z" * 64, kind="jpg", width=1, height=1), "64 hexadecimal digits"),
        (Photo(id="p", sha256="a" * 64, kind="eps", width=1, height=1), "photo p kind: found 'eps'; allowed: jpg"),
        (replace(KEPT, id="0" * 64), "the SHA-256 of the text"),
        (replace(KEPT, key="ink"), "the rubric's own key"),
        (Daybook(id="d", letters="XX", tester="x"), "records that are not written by the ledger itself"),
        (Redaction(id="r", reason="x", entry="a" * 64), "records that are not written by the ledger itself"),
    ],
)
def test_what_does_not_fit_is_refused_in_one_line(ledger, record, message):
    """A record that does not fit is refused with its name, its field, what was found and what is allowed."""
    before = ledger.closing_hashes()
    with pytest.raises(BadInput) as refused:
        ledger.append([record])
    assert message in str(refused.value)
    assert "\n" not in refused.value.line()
    assert len(refused.value.line()) <= 200
    assert ledger.closing_hashes() == before


def test_the_lot_and_label_of_another_paint_are_refused(ledger):
    """A specimen cannot be of a lot or label of something else: findings by lot would be wrong."""
    whole = ledger.get(Specimen, "specimen")
    ledger.append([Paint(id="other", maker="maker", name="Viridian hue")])
    for changed in (replace(whole, format=Format.TUBE), replace(whole, paint="other", label_version=None)):
        with pytest.raises(BadInput, match="a lot of the same paint and format"):
            ledger.append([changed])
    with pytest.raises(BadInput, match="a label of the same paint"):
        ledger.append([replace(whole, paint="other", lot=None)])
    with pytest.raises(BadInput, match="run_row: found 'another place'; allowed: a place of the same session"):
        ledger.append([replace(ledger.get(Trial, "trial"), session=None)])


def test_texts_are_cleaned_on_the_way_in(ledger):
    """No text reaches a table with characters that steer a terminal; names stand on one line."""
    ledger.append([Maker(id="x", name="  Quern\x1b[31mlow\n \u202ebis\x00  ", note="one\r\ntwo\x07")], reason="\x9bx")
    assert ledger.get(Maker, "x") == Maker(id="x", name="Quern[31mlow bis", note="one\ntwo")
    assert '"reason":"x"' in (ledger.history("maker", "x")[0].body or "")


def test_texts_are_kept_in_composed_form(ledger):
    """A letter and its accent are one character (Unicode NFC), so that the same name is found again."""
    ledger.append([Maker(id="x", name="Cafe\u0301")])
    assert ledger.rows(Maker, name="Cafe\u0301") == [Maker(id="x", name="Caf\u00e9")]


def test_hostile_ids_reach_no_sql(ledger):
    """Ids with NUL, quotes, lone surrogates and escapes are texts like any other, and harmless to look for."""
    for hostile in ("a\x00b", "'; DROP TABLE maker; --", "\ud800", "%_", "\x1b]52;c;!\x07"):
        ledger.get(Maker, hostile)
        ledger.rows(Maker, name=hostile)
        ledger.history(hostile, hostile)
        assert ledger.entries(hostile) is not None
    ledger.append([Maker(id="'; DROP TABLE maker; --\x00", name="%_\ud800x")])
    assert ledger.get(Maker, "'; DROP TABLE maker; --") == Maker(id="'; DROP TABLE maker; --", name="%_x")


def test_times_are_kept_in_utc(ledger):
    """A time in any zone comes back as the same moment in UTC."""
    away = NOON.astimezone(timezone(timedelta(hours=5, minutes=45)))
    ledger.append([graded("a", at=away)])
    back = ledger.get(Observation, "a")
    assert back.at == NOON
    assert back.at.utcoffset() == timedelta(0)


def test_numbers_keep_their_digits(ledger):
    """Decimals come back with the digits they were written with; readings as the same float."""
    whole = ledger.get(Specimen, "specimen")
    ledger.append([replace(whole, weight_g=Decimal("0.10"))])
    assert str(ledger.get(Specimen, "specimen").weight_g) == "0.10"
    for hostile in (Decimal("NaN"), Decimal("1E+999999"), Decimal("-1"), Decimal("0"), Decimal("1" * 29)):
        with pytest.raises(BadInput, match="weight_g"):
            ledger.append([replace(whole, weight_g=hostile)])
    turns = graded("a", None, criterion="rewetting_in_fives", reading=60, censored=Censored.ABOVE)
    ledger.append([turns])
    assert ledger.get(Observation, "a") == turns


def test_a_grade_must_be_one_the_rubric_offers(ledger):
    """The rubric named by its hash decides: it offers grades or choices, and what it does not offer is refused."""
    with pytest.raises(BadInput, match="found 'choice half'; allowed: no choice, but a grade"):
        ledger.append([graded("a", 2.0, choice="half")])
    ledger.append([graded("a", None, not_testable="the pan was empty")])
    with pytest.raises(BadInput, match="not testable"):
        ledger.append([graded("b", 2.0, not_testable="the pan was empty")])


def test_rubric_texts_are_kept_to_the_letter(ledger):
    """A rubric's text is not cleaned: its hash is its version, and its indentation its meaning."""
    assert ledger.get(RubricText, RUBRIC.hash).text == RUBRIC.text
    assert ledger.rubric(RUBRIC.hash) == RUBRIC
    assert ledger.keep_rubric(RUBRIC) == KEPT
    with pytest.raises(BadInput, match="rubric"):
        ledger.rubric("0" * 64)


def test_times_of_entries_never_go_back(places):
    """When the clock is set back, new entries keep the time of the last one."""
    clock = [NOON, NOON, NOON - timedelta(days=1), NOON + timedelta(seconds=1)]
    sources = steady()
    from qcledger.ledger import Sources

    wound = Sources(now=lambda: clock.pop(0), new_id=sources.new_id, salt=sources.salt)
    with Ledger.create(places.new("mine"), letters="OV", tester="Oda Vane", sources=wound) as ledger:
        for name in ("a", "b", "c"):
            ledger.append([Maker(id=name, name=name)])
        assert [entry.at for entry in ledger.entries()] == [NOON, NOON, NOON, NOON + timedelta(seconds=1)]
        assert {entry.at.tzinfo for entry in ledger.entries()} == {UTC}


def test_a_ledger_open_for_reading_takes_nothing(places):
    """A ledger opened for reading refuses to be written to, and says so."""
    where = places.new("mine")
    Ledger.create(where, letters="OV", tester="Oda Vane").close()
    with Ledger.open(where) as ledger:
        with pytest.raises(LedgerUnavailable, match="open for reading only"):
            ledger.append([Maker(id="x", name="x")])
        with pytest.raises(LedgerUnavailable, match="open for reading only"):
            ledger.rebuild()


def test_refused_names_every_record_that_would_be_refused(ledger):
    """Before a large import, every record that `append` would refuse is told with its reason; nothing is written."""
    good, bad_paint = Maker(id="m2", name="Two"), Paint(id="p2", maker="nobody", name="x")
    on_bad = Lot(id="l2", paint="p2", format=Format.TUBE, code="c")
    found = ledger.fit([good, bad_paint, on_bad, *basics()])[1]
    assert [record for record, _ in found] == [bad_paint]
    assert ledger.get(Maker, "m2") is None


def test_the_same_sources_make_the_same_ledger(places, tmp_path):
    """With injected time, ids and salts two ledgers are equal to the last hash, whatever database they are in."""
    closing = []
    for where in (places.new("one"), tmp_path / "two.sqlite"):
        with Ledger.create(where, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
            ledger.append(basics())
            closing.append(ledger.closing_hashes())
    assert closing[0] == closing[1]
    assert closing[0]["id-000001"][0] == len(basics()) + 1


def test_many_entries_come_back_in_order(ledger):
    """More entries than one statement takes come back once each and in order, in one append or in many."""
    count = 1203
    ledger.append([Maker(id=f"m{number:04d}", name=f"Maker {number}") for number in range(count)])
    entries = [entry for entry in ledger.entries() if entry.kind == "maker"]
    assert [entry.subject for entry in entries[1:]] == [f"m{number:04d}" for number in range(count)]
    assert list(ledger.entries(ledger.daybook.id)) == list(ledger.entries())
    assert len(ledger.rows(Maker)) == count + 1
    assert ledger.append([Maker(id=f"m{number:04d}", name=f"Maker {number}") for number in range(count)]) == ()


def piece(number: int) -> Specimen:
    """Return a specimen beside the one of `basics`, with a sticker of this number."""
    given = next(row for row in basics() if isinstance(row, Specimen))
    return replace(given, id=f"specimen-{number}", sticker=f"OV {number:04d}")


def test_rows_found_fit_come_in_as_all_others(ledger):
    """What was weighed and found fit is written without another look, and the chain and tables are as ever."""
    rows, against = ledger.fit([piece(7), piece(8)])
    assert isinstance(rows, FitRows)
    assert against == []
    ledger.check([Maker(id="m9", name="Nine")], fit=rows)
    assert len(ledger.append([Maker(id="m9", name="Nine")], fit=rows)) == 3
    assert ledger.get(Specimen, "specimen-7") == piece(7)
    assert ledger.verify() == []


def test_rows_found_fit_are_checked_again_once_the_ledger_has_gone_on(ledger):
    """An entry that has come between may speak against them: then they are refused, and nothing stands."""
    rows, _ = ledger.fit([piece(7), piece(8)])
    ledger.append([replace(piece(9), sticker="OV 0008")])
    before = everything(ledger)
    for write in (ledger.check, ledger.append):
        with pytest.raises(BadInput, match="OV 0008"):
            write([Maker(id="m9", name="Nine")], fit=rows)
    assert everything(ledger) == before


def test_rows_that_stand_or_are_refused_are_not_found_fit(ledger):
    """Only what is new as a whole, and against which nothing speaks, is taken without another look."""
    assert not isinstance(ledger.fit([piece(7), *basics()])[0], FitRows)
    rows, against = ledger.fit([replace(piece(7), paint="nobody")])
    assert not isinstance(rows, FitRows)
    assert len(against) == 1
