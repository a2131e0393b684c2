"""What findings are made from: current observations with their circumstances."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from qcledger.findings import read
from qcledger.records import (
    Comparison,
    Decision,
    LabelVersion,
    Maker,
    Paint,
    Preparation,
    RubricText,
    RunRow,
    Session,
    Sheet,
    Specimen,
    TestedRow,
    Trial,
)
from qcledger.rubric import parse
from qcledger.settings import shipped
from qcledger.vocab import (
    Blinding,
    Censored,
    DecisionKind,
    Format,
    Occasion,
    PreparationKind,
    Role,
    Source,
    SpecimenState,
    WhyBought,
)
from tests.findings.spoken import spoken
from tests.ledger.given import NOON, PACKED, RUBRIC, graded, unpacked


def test_a_row_says_everything_about_an_observation(ledger):
    """Each field of a tested row comes from the row it should come from."""
    ledger.append([graded("a", 2.0, tester="Ben", at=NOON + timedelta(hours=1))])
    assert ledger.tested_rows() == [
        TestedRow(
            observation="a",
            trial="trial",
            criterion="evenness",
            rubric=RUBRIC.hash,
            grade=2.0,
            choice=None,
            reading=None,
            censored=Censored.EXACT,
            not_testable=False,
            at=NOON + timedelta(hours=1),
            trial_at=NOON,
            day=NOON.date(),
            sitting="session",
            tester="Ben",
            occasion=Occasion.BENCH,
            role=Role.SPECIMEN,
            mixed=False,
            session="session",
            session_code="4",
            blinding=Blinding.SHUFFLED,
            void=False,
            on_reference=True,
            comparison="comparison",
            specimen="specimen",
            sticker="OV 0001",
            format=Format.HALF_PAN,
            source=Source.RETAIL,
            why=WhyBought.PLANNED,
            paint="paint",
            paint_name="Viridian",
            maker="maker",
            maker_name="Quernlow",
            pigments=("PG18",),
            lot="lot",
            lot_code="Q4471",
            parcel="parcel",
            bought_on=date(2026, 2, 1),
            seller="Seller one",
        )
    ]


def only(ledger, observation="a"):
    """Return the tested row of one observation."""
    (row,) = [row for row in ledger.tested_rows() if row.observation == observation]
    return row


def test_superseded_observations_are_left_out(ledger):
    """Of a chain of corrections the last one counts."""
    ledger.append([graded("a"), graded("b", 2.0, supersedes="a", reason="slip")])
    ledger.append([graded("c", 3.0, supersedes="b", reason="slip again")])
    assert [(row.observation, row.grade) for row in ledger.tested_rows()] == [("c", 3.0)]


def test_not_testable_and_readings_are_told(ledger):
    """A result that could not be had is a row of its own; a censored reading keeps its limit."""
    ledger.append([graded("a", None, not_testable="empty")])
    ledger.append([graded("b", None, criterion="rewetting_in_fives", reading=60, censored=Censored.ABOVE)])
    assert only(ledger, "a").not_testable
    assert (only(ledger, "b").reading, only(ledger, "b").censored) == (60.0, Censored.ABOVE)


@pytest.mark.parametrize(
    ("kinds", "void"),
    [
        ([DecisionKind.VOID], True),
        ([DecisionKind.VOID, DecisionKind.REINSTATE], False),
        ([DecisionKind.REINSTATE, DecisionKind.VOID], True),
        ([DecisionKind.VOID, DecisionKind.REINSTATE, DecisionKind.VOID], True),
        ([DecisionKind.VOID, DecisionKind.RETEST], True),
        ([DecisionKind.PUBLISH], False),
    ],
)
def test_the_last_decision_says_whether_a_session_is_void(ledger, kinds, void):
    """A session is void when the last void or reinstate decision about it says so, whatever the decisions' ids."""
    ledger.append([graded("a")])
    for number, kind in enumerate(kinds):
        decision = Decision(
            id=f"decision-{9 - number}",  # ids that sort the wrong way
            kind=kind,
            subject_table="session",
            subject="session",
            by="Oda Vane",
            on=date(2026, 3, 9),
            reason="water spilt",
        )
        ledger.append([decision])
    assert only(ledger).void is void


def test_a_decision_about_something_else_voids_no_session(ledger):
    """Only decisions about the session itself count, not one about a specimen that happens to share its id."""
    whole = ledger.get(Specimen, "specimen")
    ledger.append([graded("a"), replace(whole, id="session", sticker="OV 0002")])
    about = {"subject_table": "specimen", "subject": "session", "by": "Oda", "on": date(2026, 3, 9), "reason": "x"}
    ledger.append([Decision(id="d", kind=DecisionKind.VOID, **about)])
    assert not only(ledger).void


def test_only_the_reference_paper_is_on_reference(ledger):
    """A trial on another paper is told apart; without a reference paper every paper counts."""
    sheet = ledger.get(Sheet, "sheet")
    ledger.append([graded("a"), replace(sheet, paper="hot pressed")])
    assert not only(ledger).on_reference
    ledger.append([replace(ledger.get(Comparison, "comparison"), reference_paper=None)])
    assert only(ledger).on_reference


def test_a_trial_without_a_place_on_a_sheet_counts_if_its_whole_session_does(ledger):
    """Without a run row the paper is known only if all sheets of the session are of one paper."""
    ledger.append([replace(ledger.get(Trial, "trial"), run_row=None), graded("a")])
    assert only(ledger).on_reference
    ledger.append([Sheet(id="sheet-2", session="session", number=2, paper="hot pressed")])
    assert not only(ledger).on_reference
    ledger.append([replace(ledger.get(Sheet, "sheet-2"), paper="cold pressed, 300 g")])
    assert only(ledger).on_reference


def test_unpacking_belongs_to_no_session(ledger):
    """What is seen on unpacking has no session, blinding or comparison, and is on reference."""
    ledger.append([Trial(id="unpacked", specimen="specimen", occasion=Occasion.UNPACKING, at=NOON)])
    ledger.append([PACKED, unpacked("a")])
    row = only(ledger)
    assert (row.session, row.session_code, row.blinding, row.comparison) == (None, None, None, None)
    assert (row.occasion, row.role, row.void, row.on_reference) == (Occasion.UNPACKING, Role.SPECIMEN, False, True)


def test_roles_and_mixes_are_told(ledger):
    """A control specimen's trial and a mix of two are marked, so that findings can leave them out."""
    whole = ledger.get(Specimen, "specimen")
    ledger.append([replace(whole, id="other", sticker="OV 0002")])
    ledger.append([RunRow(id="control", session="session", position=2, specimen="specimen", role=Role.CONTROL)])
    trial = Trial(id="t2", specimen="specimen", occasion=Occasion.BENCH, at=NOON, session="session")
    ledger.append([replace(trial, run_row="control", mixed_with="other"), graded("a", trial="t2")])
    assert (only(ledger).role, only(ledger).mixed) == (Role.CONTROL, True)


def test_pigments_are_those_of_the_specimens_own_label(ledger):
    """The specimen's label version counts, whatever later labels say; without one, the paint's latest that stands."""
    whole = ledger.get(Specimen, "specimen")
    later = LabelVersion(id="later", paint="paint", seen_on=date(2026, 3, 8), index_names=("PG7",))
    ledger.append([graded("a"), later])
    assert only(ledger).pigments == ("PG18",)
    ledger.append([replace(whole, label_version=None, lot=None)])
    assert only(ledger).pigments == ("PG7",)
    assert (only(ledger).lot, only(ledger).lot_code) == (None, None)
    ledger.append(
        [
            Decision(
                id="gone",
                kind=DecisionKind.VOID,
                subject_table="label_version",
                subject="later",
                by="OV",
                on=NOON.date(),
                reason="mistyped",
            )
        ]
    )
    assert only(ledger).pigments == ("PG18",), "a label that was taken back is nobody's latest"


@pytest.mark.parametrize(
    ("printed", "compared"),
    [
        (("PG 18",), ("PG18",)),
        (("P.G.18", "Pigment White 6"), ("PG18", "PW6")),
        (("PG18", "pg-18"), ("PG18",)),
        (("PB 15 : 3", "our own green"), ("PB15:3", "our own green")),
    ],
)
def test_pigments_are_compared_by_their_normal_names(ledger, printed, compared):
    """However a label prints Colour Index names, rows tell the normal form, and the label stays as printed."""
    label = replace(ledger.get(LabelVersion, "label"), index_names=printed)
    ledger.append([graded("a"), label])
    assert only(ledger).pigments == compared
    assert ledger.get(LabelVersion, "label").index_names == printed


def test_peers_are_found_however_labels_print_a_pigment(ledger):
    """A maker's paint of ``PG 18`` stands beside another maker's of ``PG18``, in the sentence and in the counts."""
    whole = ledger.get(Specimen, "specimen")
    ledger.append([
        graded("a"),
        Maker(id="other", name="Trellmere"),
        Paint(id="green", maker="other", name="Green"),
        LabelVersion(id="spaced", paint="green", seen_on=date(2026, 1, 5), index_names=("PG 18",)),
        replace(whole, id="second", sticker="OV 0002", paint="green", lot=None, label_version="spaced"),
        Trial(id="t2", specimen="second", occasion=Occasion.BENCH, at=NOON, session="session"),
        graded("b", trial="t2"),
    ])  # fmt: skip
    found = read(ledger.tested_rows(), lambda hash_, key: ledger.rubric(hash_).criteria[key]).findings
    assert [one.peers.makers for one in found] == [1, 1]
    assert all("from one other maker: none of 1 specimen faulty." in spoken(one) for one in found)


def test_a_paint_without_labels_has_no_pigments(ledger):
    """Where no label was transcribed, nothing is guessed."""
    whole = ledger.get(Specimen, "specimen")
    bare = replace(whole, paint="bare", lot=None, label_version=None)
    ledger.append([graded("a"), Paint(id="bare", maker="maker", name="Bare"), bare])
    assert only(ledger).pigments == ()


def test_a_comparison_has_its_sessions_and_its_paints_unpacked(ledger):
    """Asked for one comparison: what was seen in its sessions, and outside sessions on its paints alone."""
    whole = ledger.get(Specimen, "specimen")
    other = Paint(id="other", maker="maker", name="Ochre")
    apart = replace(whole, id="s2", sticker="OV 0002", paint="other", lot=None, label_version=None)
    away = Comparison(id="away", title="t", question="q", started_on=date(2026, 3, 1), paints=("other",))
    elsewhere = replace(ledger.get(Session, "session"), id="elsewhere", comparison="away")
    trials = [
        Trial(id="t-away", specimen="specimen", occasion=Occasion.BENCH, at=NOON, session="elsewhere"),
        Trial(id="t-own", specimen="specimen", occasion=Occasion.UNPACKING, at=NOON),
        Trial(id="t-other", specimen="s2", occasion=Occasion.OLDER_NOTES, at=NOON),
    ]
    ledger.append([other, apart, away, elsewhere, *trials, graded("in")])
    ledger.append([PACKED, unpacked("o-own", trial="t-own")])
    ledger.append([graded(f"o-{name}", trial=f"t-{name}") for name in ("away", "other")])
    assert [row.observation for row in ledger.tested_rows("comparison")] == ["in", "o-own"]
    assert [row.observation for row in ledger.tested_rows("away")] == ["o-away", "o-other"]
    assert len(ledger.tested_rows()) == 4


def test_what_a_blind_session_saw_is_left_out_until_it_is_closed(ledger):
    """Also by a comparison; who checks the session itself asks for it; opening early shows it too."""
    ledger.append([graded("a")])
    closed = ledger.get(Session, "session")
    blind = replace(closed, closed_at=None)
    ledger.append([blind], reason="as if it were at work")
    assert ledger.tested_rows() == ledger.tested_rows("comparison") == []
    assert [row.observation for row in ledger.tested_rows(blind=True)] == ["a"]
    for shown in (replace(blind, blinding=Blinding.OPEN), closed):
        ledger.append([shown], reason="opened")
        assert [row.observation for row in ledger.tested_rows()] == ["a"]
        assert only(ledger).blinding is shown.blinding


def test_an_unknown_comparison_is_refused(ledger):
    """A mistyped comparison is told, not answered with nothing found."""
    from qcledger.errors import BadInput

    with pytest.raises(BadInput, match="found 'nowhere'; allowed: the id of a comparison in this ledger"):
        ledger.tested_rows("nowhere")


def test_names_are_those_that_stand_now(ledger):
    """A renamed maker is renamed in every row, old observations among them."""
    ledger.append([graded("a"), Maker(id="maker", name="Quernlow Colours")])
    assert only(ledger).maker_name == "Quernlow Colours"


DAY_OF_SESSION = NOON.date()


@pytest.mark.parametrize(
    ("poured_on", "note", "beside", "undried"),
    [
        (None, "", Format.HALF_PAN, True),
        (DAY_OF_SESSION - timedelta(9), "", Format.HALF_PAN, False),
        (DAY_OF_SESSION + timedelta(1), "", Format.HALF_PAN, True),
        (DAY_OF_SESSION - timedelta(1), "tubes not dried 7 days (OV 0002 dried 1 of 7 days): hurry", "stick", True),
        (DAY_OF_SESSION - timedelta(9), "key sheet printed\ntubes not dried 7 days (OV 00020): no", "stick", False),
        (None, "", Format.TUBE, False),
        (None, "", Format.PENCIL, False),
    ],
)
def test_a_tube_that_met_pans_undried_is_told(ledger, poured_on, note, beside, undried):
    """Not poured by the day of its session, or noted as not dried; tubes among themselves are not told."""
    whole, session = ledger.get(Specimen, "specimen"), ledger.get(Session, "session")
    tube = replace(whole, id="tube", sticker="OV 0002", format=Format.TUBE, lot=None)
    ledger.append([
        graded("a"),
        replace(whole, format=Format(beside), lot=None),
        replace(session, note=note),
        tube,
        RunRow(id="second", session="session", sheet="sheet", position=2, specimen="tube"),
        Trial(id="t2", specimen="tube", occasion=Occasion.BENCH, at=NOON, session="session", run_row="second"),
        graded("b", trial="t2"),
        *([Preparation(id="p", specimen="tube", kind=PreparationKind.POURED, on=poured_on)] if poured_on else []),
    ])  # fmt: skip
    told = {row.specimen: row.undried for row in ledger.tested_rows()}
    assert told["tube"] is undried
    assert told["specimen"] is (beside is Format.TUBE and undried)


def test_a_format_of_ones_own_is_bought_as_its_rubric_says(ledger):
    """A jar that is bought moist meets a block that is bought dry, as a tube would meet a pan."""
    text = (shipped("rubrics") / "gouache.yaml").read_text(encoding="utf-8")
    said = "full pan, {name: block, bought: dry}]"
    rubric = parse(text.replace("full pan]", said, 1), "mine.yaml")
    whole = ledger.get(Specimen, "specimen")
    ledger.append([
        RubricText(id=rubric.hash, key=rubric.key, text=rubric.text),
        graded("a"),
        replace(whole, format="block", lot=None),
        replace(whole, id="jar", sticker="OV 0002", format="jar", lot=None),
        RunRow(id="second", session="session", sheet="sheet", position=2, specimen="jar"),
        Trial(id="t2", specimen="jar", occasion=Occasion.BENCH, at=NOON, session="session", run_row="second"),
        graded("b", trial="t2"),
    ])  # fmt: skip
    assert {row.specimen: row.undried for row in ledger.tested_rows()} == {"specimen": False, "jar": True}


def test_pieces_are_what_was_bought(ledger):
    """Gifts and what was taken out are no pieces; a reserve, what is used up or on a blind sheet is not to hand."""
    whole, session = ledger.get(Specimen, "specimen"), ledger.get(Session, "session")
    ids = ("opened", "reserve", "used", "gift", "out", "coded")
    more = {name: replace(whole, id=name, sticker=f"OV 000{n}") for n, name in enumerate(ids, 2)}
    more["opened"] = replace(more["opened"], state=SpecimenState.OPENED)
    more["reserve"] = replace(more["reserve"], state=SpecimenState.RESERVE)
    more["used"] = replace(more["used"], state=SpecimenState.USED_UP)
    more["gift"] = replace(more["gift"], source=Source.GIFT)
    taken = Decision(
        id="d",
        kind=DecisionKind.VOID,
        subject_table="specimen",
        subject="out",
        by="OV",
        on=NOON.date(),
        reason="slip",
    )
    blind = replace(session, id="blind", code="5", closed_at=None)
    ledger.append([
        *more.values(), taken, blind, Sheet(id="s2", session="blind", number=1, paper="cold pressed, 300 g"),
        RunRow(id="r2", session="blind", sheet="s2", position=1, specimen="coded", code="472"),
    ])  # fmt: skip
    assert {one.specimen: one.to_hand for one in ledger.pieces()} == {
        "specimen": True, "opened": True, "reserve": False, "used": False, "coded": False,
    }  # fmt: skip
    first = ledger.pieces()[0]
    assert (first.sticker, first.maker, first.format) == ("OV 0001", "maker", Format.HALF_PAN)
    assert (first.parcel, first.lot) == ("parcel", "lot")
