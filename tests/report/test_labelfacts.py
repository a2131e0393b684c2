"""Facts of labels: each print quoted beside our reference, with the tester's grades and with no statistics."""

import csv
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from io import StringIO

import pytest

from qcledger import rubric
from qcledger.bench import correcting
from qcledger.errors import BadInput
from qcledger.findings.words import banned_in
from qcledger.ledger import Ledger
from qcledger.records import (
    Comparison,
    Decision,
    LabelVersion,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    Photo,
    RubricText,
    Session,
    Specimen,
    Trial,
)
from qcledger.report import findings_csv, findings_json, findings_text, why_text
from qcledger.report.kept import KeptFindings, of_ledger
from qcledger.report.said import offer
from qcledger.settings import shipped
from qcledger.vocab import Blinding, DecisionKind, Format, LabelFactKind, Occasion, SaidLevel, Source
from tests.small import ticking

AT = datetime(2026, 3, 9, 9, tzinfo=UTC)
SCALE = shipped("rubrics") / "label.yaml"
MISMATCH, HAZARD, CODE = "name_mismatch", "hazard_information", "batch_code"
HALF, TUBE = Format.HALF_PAN, Format.TUBE


class Labels:
    """A ledger of labels in the making."""

    def __init__(self, ledger: Ledger, text: str = "") -> None:
        self.ledger = ledger
        scale = rubric.parse(text or SCALE.read_text(encoding="utf-8"), "label.yaml")
        self.rubric = scale.hash
        rows = [RubricText(id=scale.hash, key=scale.key, text=scale.text)]
        parcel = Parcel(id="pc", bought_on=date(2026, 1, 2), seller="Corner shop", currency="EUR")
        ledger.append([*rows, parcel, *(Maker(id=f"mk{maker}", name=f"Maker {maker}") for maker in "ABC")])
        self._number = 0

    def label(self, maker: str, paint: str, *, seen: date = date(2026, 1, 2), **printed: object) -> LabelVersion:
        """Keep a label as transcribed, and its paint where there is none yet."""
        if self.ledger.get(Paint, f"{maker}{paint}") is None:
            self.ledger.append([Paint(id=f"{maker}{paint}", maker=f"mk{maker}", name=paint)])
        row = LabelVersion(id=self.ledger.new_id(), paint=f"{maker}{paint}", seen_on=seen, **printed)
        self.ledger.append([row])
        return row

    def piece(
        self, maker: str, paint: str, format_: Format = TUBE, label: LabelVersion | None = None, **more: object
    ) -> Specimen:
        """Buy one specimen."""
        self._number += 1
        lot = Lot(id=f"lt{self._number}", paint=f"{maker}{paint}", format=format_, code=f"L{self._number}")
        one = Specimen(
            id=f"sp{self._number}", sticker=f"OV {self._number:04}", paint=f"{maker}{paint}", format=format_,
            parcel="pc", lot=lot.id, label_version=label.id if label else None, **more,
        )  # fmt: skip
        self.ledger.append([lot, one])
        return one

    def grade(self, piece: Specimen, **grades: float) -> None:
        """Read the label of a specimen at unpacking."""
        at = AT + timedelta(minutes=self._number)
        trial = Trial(id=f"tr{piece.id}", specimen=piece.id, occasion=Occasion.UNPACKING, at=at)
        self.ledger.append([
            trial,
            *(
                Observation(
                    id=f"ob{piece.id}{key}", trial=trial.id, criterion=key, rubric=self.rubric, tester="OV", at=at,
                    grade=grade,
                )
                for key, grade in grades.items()
            ),
        ])  # fmt: skip

    def on_paper(self, *graded: tuple[Specimen, float], key: str = "opacity") -> None:
        """Grade specimens side by side on a sheet, by the scale for watercolours."""
        scale = rubric.load(shipped("rubrics") / "watercolour.yaml")
        sheet = {"comparison": "cp", "tester": "OV", "blinding": Blinding.OPEN, "started_at": AT, "closed_at": AT}
        self.ledger.append([
            RubricText(id=scale.hash, key=scale.key, text=scale.text),
            Comparison(id="cp", title="spring", question="?", started_on=date(2026, 3, 9)),
            Session(id="se", code="S01", **sheet),
            *(
                row
                for piece, grade in graded
                for row in (
                    Trial(id=f"bt{piece.id}", specimen=piece.id, occasion=Occasion.BENCH, at=AT, session="se"),
                    Observation(
                        id=f"bo{piece.id}", trial=f"bt{piece.id}", criterion=key, rubric=scale.hash, tester="OV",
                        at=AT, grade=grade,
                    ),
                )
            ),
        ])  # fmt: skip

    @property
    def found(self):
        """The findings with their facts of labels."""
        return of_ledger(self.ledger)


@pytest.fixture
def labels(home, tmp_path):
    with Ledger.create(tmp_path / "l.sqlite", letters="OV", tester="OV", sources=ticking()) as ledger:
        yield Labels(ledger)


WRONG = {"index_names": ("PG7",), "chemical_names": ("hydrated chromium oxide",)}


def contradicting(labels, number=4):
    """Keep maker A's label that contradicts itself, on tubes that were graded so."""
    label = labels.label("A", "Viridian", **WRONG)
    for _ in range(number):
        labels.grade(labels.piece("A", "Viridian", label=label), **{MISMATCH: 5, HAZARD: 0})
    return label


def test_what_a_label_says_is_in_no_count(labels):
    """Its criteria make no finding: no rate, no interval, no standing; what is judged piece by piece still does."""
    contradicting(labels)
    labels.grade(labels.piece("A", "Viridian"), **{CODE: 5})
    assert {one.criterion.key for one in labels.found.findings} == {CODE}
    (fact,) = labels.found.label_facts
    assert (fact.maker_name, fact.paint_name, fact.format) == ("Maker A", "Viridian", "tube")
    assert (len(fact.stickers), fact.since, fact.against) == (5, date(2026, 1, 2), True)
    grades = {grade.criterion.key: (grade.grade, len(grade.units)) for grade in fact.grades}
    assert grades == {MISMATCH: (5, 4), HAZARD: (0, 4)}


@pytest.mark.parametrize("grade", [0, 3, 5])
def test_another_makers_labels_change_nothing(labels, grade):
    """However many labels of others are read, and whatever is found on them, this one's fact stays as it was."""
    contradicting(labels)
    (before,) = labels.found.label_facts
    for maker in "BC":
        label = labels.label(maker, "Viridian", index_names=("PG18",))
        for _ in range(3):
            labels.grade(labels.piece(maker, "Viridian", label=label), **{MISMATCH: grade})
    after = [fact for fact in labels.found.label_facts if fact.maker == "mkA"]
    assert after == [before]


def test_each_print_and_format_is_a_fact_of_its_own(labels):
    """A tube, a half pan and a later print of one paint are three; each counts the specimens that carry it."""
    tube = labels.label("A", "Viridian", format=TUBE, source="the tube", **WRONG)
    pan = labels.label("A", "Viridian", format=HALF, source="its wrapper", index_names=("PG18",))
    later = labels.label("A", "Viridian", seen=date(2026, 2, 2), format=TUBE, index_names=("PG7",))
    for label, format_, number in ((tube, TUBE, 3), (pan, HALF, 2), (later, TUBE, 1)):
        for _ in range(number):
            labels.piece("A", "Viridian", format_, label)
    told = [(fact.format, fact.since.month, fact.read_on, len(fact.stickers)) for fact in labels.found.label_facts]
    assert told == [("tube", 2, "", 1), ("tube", 1, "the tube", 3), ("half pan", 1, "its wrapper", 2)]
    assert "read on the tube" in findings_text(labels.found, full=True)


def test_gifts_and_what_was_taken_out_carry_no_label(labels):
    """They are counted nowhere; a specimen that names no label carries the latest of its paint."""
    label = labels.label("A", "Viridian", **WRONG)
    labels.piece("A", "Viridian", label=label, source=Source.GIFT)
    gone = labels.piece("A", "Viridian", label=label)
    kept = labels.piece("A", "Viridian")
    labels.ledger.append([
        Decision(
            id="de", kind=DecisionKind.VOID, subject_table=Specimen.TABLE, subject=gone.id, by="OV", on=AT.date(),
            reason="lost",
        )
    ])  # fmt: skip
    assert [fact.stickers for fact in labels.found.label_facts] == [(kept.sticker,)]


def test_the_words_stand_beside_our_reference_and_its_source(labels):
    """Text and JSON quote each field and tell each statement: its level, what it rests on, where that is from."""
    contradicting(labels)
    (fact,) = labels.found.label_facts
    text = " ".join(findings_text(labels.found).split())
    assert 'index names "PG7"; chemistry "hydrated chromium oxide"' in text
    assert "Held against: 1 of 1 label of Maker A." in text
    (told,) = json.loads(findings_json(labels.found))["label_facts"]
    assert told["quotes"] == {"index_names": "PG7", "chemical_names": "hydrated chromium oxide"}
    levels = [SaidLevel[one["level"].upper()] for one in told["statements"]]
    assert levels == sorted(levels, reverse=True)
    assert levels[0] == fact.level
    for one, statement in zip(told["statements"], fact.statements, strict=True):
        assert one["said"] == statement.words
        for reference in statement.references:
            assert reference.fact in one["reference"]
            assert reference.source in one["reference_source"]
            assert f"[{reference.source}]" in text
    assert fact.stickers[0] in told["stickers"]


def test_lines_of_labels_stand_in_the_csv_by_their_kind(labels):
    """Own lines, own columns behind those of findings; no line of a label holds a rate."""
    contradicting(labels)
    labels.grade(labels.piece("A", "Viridian"), **{CODE: 5})
    lines = list(csv.DictReader(StringIO(findings_csv(labels.found))))
    kinds = [line["kind"] for line in lines]
    assert kinds == sorted(kinds)
    told = [line for line in lines if line["kind"] == "label fact"]
    assert {line["about"] for line in told} == {"statement", "grade"}
    graded = {line["criterion"]: line["grade"] for line in told if line["about"] == "grade"}
    assert graded == {MISMATCH: "5.0", HAZARD: "0.0"}
    for line in told:
        assert not any(line[name] for name in ("rate", "wilson_low", "specimens", "faulty", "standing", "extent"))
        assert (line["maker"], line["paint"], line["specimens_with_label"]) == ("Maker A", "Viridian", "5")


def test_a_missing_hazard_text_is_a_remark_and_private(labels):
    """None found where one is expected: said to the tester, never critical, and in no sentence for the public."""
    label = labels.label("A", "Naples Yellow", index_names=("PY41",))
    labels.grade(labels.piece("A", "Naples Yellow", label=label), **{HAZARD: 5})
    (fact,) = labels.found.label_facts
    hazard = [one for one in fact.statements if one.kind is LabelFactKind.SAFETY]
    assert [one.level for one in hazard] == [SaidLevel.REMARK]
    assert "none found on this label; safety data sheet asked for" in hazard[0].words
    (line,) = [line for line in csv.DictReader(StringIO(findings_csv(labels.found))) if line["field"] == "warnings"]
    assert line["ask_first"] == "maker, seller and authority"
    assert line["label_sentence"] == ""
    assert "maker, seller and authority are asked" in " ".join(findings_text(labels.found).split())
    with pytest.raises(BadInput):
        offer((), labels.found.label_facts)


def test_a_grade_without_a_transcription_is_still_told(labels):
    """Nobody typed the label: the tester's grade of it stands, and says so."""
    labels.ledger.append([Paint(id="AOchre", maker="mkA", name="Ochre")])
    labels.grade(labels.piece("A", "Ochre"), **{MISMATCH: 3})
    labels.piece("A", "Ochre", HALF)
    (fact,) = labels.found.label_facts
    assert (fact.label, fact.since, fact.quotes, fact.statements) == (None, None, (), ())
    text = " ".join(findings_text(labels.found).split())
    assert "Maker A Ochre, tube, not transcribed, on one specimen" in text
    assert "graded: label mismatch, name against pigment 3 (a traditional name on another pigment" in text


def test_an_older_version_of_the_scale_states_facts_of_labels_too(home, tmp_path):
    """What was graded before the scale said so is no sample either; its fault line stays."""
    text = "".join(
        line for line in SCALE.read_text(encoding="utf-8").splitlines(keepends=True) if "label_fact" not in line
    )
    with Ledger.create(tmp_path / "l.sqlite", letters="OV", tester="OV", sources=ticking()) as ledger:
        older = Labels(ledger, text)
        contradicting(older)
        assert not older.found.findings
        (fact,) = older.found.label_facts
        assert {grade.criterion.label_fact for grade in fact.grades} == {LabelFactKind.WORDS, LabelFactKind.SAFETY}
        assert fact.against


def test_a_maker_is_asked_with_the_words_and_no_number(labels):
    """The sentence quotes the label and names no rate, no lot and no other maker; no word accuses."""
    contradicting(labels)
    offered = offer((), labels.found.label_facts)
    (asked,) = offered.findings
    assert (offered.name, asked.title) == ("Maker A", "tube, label of Viridian")
    assert 'prints "PG7" and "hydrated chromium oxide"' in asked.sentence
    assert "What is in it we did not have analysed." in asked.sentence
    assert banned_in(asked.sentence) == ()
    assert "%" not in asked.sentence


def test_only_what_is_asked_for(labels):
    """By maker, by format, and by a criterion that a label was graded on."""
    contradicting(labels)
    other = labels.label("B", "Ochre", index_names=("PY42",))
    labels.piece("B", "Ochre", HALF, other)
    found = labels.found
    assert len(found.label_facts) == 2
    assert {fact.maker for fact in found.only(maker="mkB").label_facts} == {"mkB"}
    assert {fact.maker for fact in found.only(format="tube").label_facts} == {"mkA"}
    assert {fact.maker for fact in found.only(criterion=MISMATCH).label_facts} == {"mkA"}
    assert found.only(criterion=CODE).label_facts == ()
    assert "Maker B Ochre" not in findings_text(found)
    assert "Maker B Ochre" in findings_text(found, full=True)
    assert "Maker B Ochre" in why_text((), labels=found.only(maker="mkB").label_facts)


def test_what_was_decided_and_photos_stand_beside_it(labels):
    """A paint kept private says so; photos filed with the label or its grades are counted."""
    label = contradicting(labels, 1)
    labels.ledger.append([
        Decision(
            id="de", kind=DecisionKind.HOLD_BACK, subject_table=Paint.TABLE, subject="AViridian", by="OV",
            on=AT.date(), reason="waits for an answer",
        ),
        Photo(id="ph", sha256="0" * 64, kind="jpg", width=9, height=9, specimen="sp1", label_version=label.id),
    ])  # fmt: skip
    (fact,) = labels.found.label_facts
    assert fact.photos == ("ph",)
    assert fact.said.private == "waits for an answer"
    assert "Kept private since 9 March 2026: waits for an answer" in findings_text(labels.found)


def test_facts_are_read_when_they_are_asked_for(labels):
    """The counts do not wait for them: findings without them are the same but for the facts."""
    contradicting(labels)
    reading = KeptFindings().reading(labels.ledger)
    assert reading.found.label_facts == ()
    assert replace(reading.whole, label_facts=()) == reading.found
    label = correcting.label_of_paint(labels.ledger, "AViridian")
    assert [fact.label for fact in reading.whole.label_facts] == [label.id]


def test_a_claim_stands_beside_what_was_seen(labels):
    """Transparent on the label, covering on paper in two of three: both are told, neither as the other's error."""
    label = labels.label("A", "Viridian", index_names=("PG18",), claims=("Transparent", "lightfast I"))
    pieces = [labels.piece("A", "Viridian", label=label) for _ in "1234"]
    labels.on_paper(*zip(pieces, (5, 4, 1), strict=False))
    (fact,) = labels.found.label_facts
    (beside,) = fact.claims
    assert (beside.claim, beside.criterion.key, beside.unlike, beside.graded) == ("Transparent", "opacity", 2, 3)
    assert beside.grades == (1, 5)
    assert not fact.against
    text = " ".join(findings_text(labels.found, full=True).split())
    assert 'claim: label says "Transparent"; opacity unlike that in 2 of 3, grades 1 to 5' in text
    assert "Transparent" not in findings_text(labels.found)
    (line,) = [one for one in csv.DictReader(StringIO(findings_csv(labels.found))) if one["about"] == "claim"]
    assert (line["words"], line["criterion"]) == ("Transparent", "opacity")


def test_a_claim_that_nobody_tested_is_only_quoted(labels):
    """Without a grade of these specimens there is nothing to stand beside it."""
    label = labels.label("A", "Viridian", index_names=("PG18",), claims=("granulating",))
    labels.piece("A", "Viridian", label=label)
    (fact,) = labels.found.label_facts
    assert fact.claims == ()
    assert ("claims", "granulating") in {(one.field, one.printed) for one in fact.quotes}
