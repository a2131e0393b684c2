"""``qcledger amend``: another result in place of one that was recorded."""

import json
from dataclasses import replace

import pytest

from qcledger.bench import mending
from qcledger.ledger import Ledger
from qcledger.records import Lot, Observation, Parcel, Photo, Specimen
from tests.ledger.test_photos import picture
from tests.small import graded, small_ledger


@pytest.fixture
def place(home, tmp_path):
    return graded(small_ledger(tmp_path)).place


def newest(place):
    with Ledger.open(place) as ledger:
        return max(ledger.rows(Observation), key=lambda seen: (seen.at, seen.id))


def test_then_now_and_the_counts_are_printed(cli, place):
    """A dry run says what would stand and writes nothing; then it stands, with the reason."""
    asked = ("amend", "OV 0002", "Edge", "--grade", 1, "--ledger", place)
    before = newest(place)
    tried = cli(*asked, "--dry-run")
    assert (tried.code, tried.err) == (0, "")
    assert newest(place) == before
    done = cli(*asked, "--reason", "misread the scale")
    assert (done.code, done.err) == (0, "")
    for line in ("then: 3", "now: 1", "Trellmere, half pan, edge: 3 of 3 before, 2 of 3 after"):
        assert line in tried.out
        assert line in done.out
    assert (newest(place).grade, newest(place).reason) == (1.0, "misread the scale")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--grade", 1), "--reason"),
        (("--grade", 9, "--reason", "x"), "grade 9"),
        (("--grade", 3, "--reason", "x"), "what stands already"),
        (("--grade", 1, "--take-back", "--reason", "x"), "--grade and --take-back"),
        (("--reading", "5", "--reason", "x"), "no reading for Edge"),
        (("--not-testable", " ", "--reason", "x"), "why it could not be tested"),
        (("--grade", 1, "--reason", "x", "--session", "S99"), "S99"),
    ],
)
def test_what_does_not_hold_is_refused_in_one_line(cli, place, given, said):
    """Nothing is written, the exit code is 2, and the line says what was found and what is allowed."""
    before = newest(place)
    refused = cli("amend", "OV 0002", "edge", *given, "--ledger", place)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert said in refused.err
    assert newest(place) == before


def test_not_testable_note_and_take_back(cli, place):
    """Each becomes an amendment of what stands then."""
    for given, standing in (
        (("--not-testable", "used up"), "used up"),
        (("--grade", 2, "--note", "second look"), None),
        (("--take-back",), "taken back"),
    ):
        done = cli("amend", "OV 0002", "edge", *given, "--reason", "looked again", "--ledger", place)
        assert (done.code, done.err) == (0, "")
        assert newest(place).not_testable == standing


def facts(place, sticker="OV 0002"):
    with Ledger.open(place) as ledger:
        (one,) = ledger.rows(Specimen, sticker=sticker)
        lot = ledger.get(Lot, one.lot) if one.lot else None
        return one, lot.code if lot else "", ledger.get(Parcel, one.parcel)


def test_facts_of_a_piece_are_told_then_and_now_and_kept_with_the_reason(cli, place):
    """A dry run writes nothing; then price, lot and day stand, and the older entry says what stood."""
    asked = ("amend", "ov2", "--price", "6.20", "--lot", "T9", "--received-on", "2026-01-05", "--ledger", place)
    before = facts(place)
    tried = cli(*asked, "--dry-run")
    assert (tried.code, tried.err) == (0, "")
    assert facts(place) == before
    done = cli(*asked, "--reason", "misread")
    assert (done.code, done.err) == (0, "")
    for line in (
        "the parcel, received on: then not known, now 2026-01-05",
        "OV 0002, lot: then T1, now T9",
        "OV 0002, price: then not known, now 6.20 EUR",
        "No count changes",
    ):
        assert line in tried.out
        assert line in done.out
    one, lot, parcel = facts(place)
    assert (one.price_minor, lot, str(parcel.received_on)) == (620, "T9", "2026-01-05")
    with Ledger.open(place) as ledger:
        assert json.loads(ledger.history("specimen", one.id)[-1].body)["reason"] == "misread"
        (change,) = mending.changes(ledger, one.id)
    assert (change.by, change.reason, {one.fact for one in change.differ}) == (
        "OV", "misread", {"lot", "price", "received on"},
    )  # fmt: skip


def test_a_whole_parcel_or_the_pieces_like_one_are_mended_at_once(cli, place):
    """One price for every piece of the parcel; an empty text is a price that is not known."""
    done = cli("amend", "OV 0001", "--price", "5", "--whole-parcel", "--reason", "x", "--ledger", place)
    assert (done.code, done.err) == (0, "")
    assert [facts(place, f"OV 000{n}")[0].price_minor for n in (1, 2, 3)] == [500, 500, 500]
    done = cli("amend", "OV 0001", "--price", "", "--alike", "--reason", "x", "--ledger", place)
    assert "OV 0001, price: then 5.00 EUR, now not known" in done.out
    assert [facts(place, f"OV 000{n}")[0].price_minor for n in (1, 2, 3)] == [None, 500, 500]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--price", "5"), "--reason"),
        (("--price", "much", "--reason", "x"), "--price: found 'much'"),
        (("--bought-on", "2031-01-01", "--reason", "x"), "--bought-on: found '2031-01-01'"),
        (("--lot", "T1", "--reason", "x"), "what stands already"),
        (("edge", "--price", "5", "--reason", "x"), "--price"),
        (("--grade", "1", "--reason", "x"), "CRITERION"),
        ((), "CRITERION"),
        (("--price", "5", "--alike", "--whole-parcel", "--reason", "x"), "--whole-parcel and --alike"),
    ],
)
def test_facts_that_do_not_hold_are_refused_in_one_line(cli, place, given, said):
    """Nothing is written, the exit code is 2, and the line names the option."""
    before = facts(place)
    refused = cli("amend", "OV 0002", *given, "--ledger", place)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert said in refused.err
    assert facts(place) == before


def test_a_currency_with_other_decimals_is_refused_while_pieces_are_priced(cli, place):
    """5.90 EUR would become 590 JPY; without a price the currency may change."""
    asked = ("amend", "OV 0002", "--currency", "JPY", "--reason", "x", "--ledger", place)
    assert cli("amend", "OV 0003", "--price", "5.90", "--reason", "x", "--ledger", place).code == 0
    refused = cli(*asked)
    assert refused.code == 2
    assert "--currency: found 'JPY'" in refused.err
    assert cli("amend", "OV 0003", "--price", "", "--reason", "x", "--ledger", place).code == 0
    assert cli(*asked).code == 0


def test_a_picture_is_filed_moved_and_refused_alike_when_tried(cli, place, tmp_path):
    """A dry run refuses what the real one would; refused, nothing of the amendment beside it is kept either."""
    shot = tmp_path / "shot.jpg"
    shot.write_bytes(picture())
    asked = ("--photo", shot, "--ledger", place)
    tried = cli("amend", "OV 0002", "edge", *asked, "--dry-run")
    assert (tried.code, "files: shot.jpg" in tried.out) == (0, True)
    assert cli("amend", "OV 0002", "edge", *asked).code == 0
    before = newest(place)
    for dry in ((), ("--dry-run",)):
        for given in (("OV 0003", "edge"), ("OV 0003", "edge", "--grade", 1, "--reason", "x"), ("OV 0003",)):
            refused = cli("amend", *given, *asked, *dry)
            assert (refused.code, len(refused.error_lines)) == (2, 1)
            assert "it is with Edge of OV 0002 (S04)" in refused.err
        none = cli("amend", "OV 0003", "edge", "--photo", tmp_path / "none.jpg", "--ledger", place, *dry)
        assert (none.code, len(none.error_lines)) == (2, 1)
        text = tmp_path / "text.jpg"
        text.write_text("no picture")
        wrong = cli("amend", "OV 0003", "edge", "--photo", text, "--ledger", place, *dry)
        assert (wrong.code, len(wrong.error_lines)) == (2, 1)
    assert newest(place) == before
    moves = ("amend", "OV 0003", "edge", *asked, "--move")
    tried = cli(*moves, "--dry-run")
    assert "moves: shot.jpg from Edge of OV 0002 (S04) to Edge of OV 0003 (S04)" in " ".join(tried.out.split())
    assert cli(*moves).code == 2
    assert cli(*moves, "--reason", "another specimen").code == 0
    with Ledger.open(place) as ledger:
        (photo,) = ledger.rows(Photo)
        assert (photo.specimen, photo.caption) == ("sp02", "Edge")
    tried = cli("amend", "OV 0001", *asked, "--move", "--dry-run")
    assert (tried.code, "it will need a --reason" in tried.out) == (0, True)
    done = cli("amend", "OV 0001", *asked, "--move", "--reason", "the pan itself")
    assert (done.code, done.err) == (0, "")
    with Ledger.open(place) as ledger:
        (photo,) = ledger.rows(Photo)
        assert (photo.specimen, photo.observation) == ("sp00", None)
        assert ledger.verify() == []
    assert cli("amend", "OV 0001", "--move", "--price", "5", "--reason", "x", "--ledger", place).code == 2


def test_the_day_of_opening_and_the_parcel_of_a_piece_are_amended(cli, place):
    """Then and now are told; the day has limits; a parcel is named by one of its pieces, and moved to by itself."""
    assert cli("amend", "OV 0002", "--state", "opened", "--opened-on", "2026-02-03", "--reason", "x",
               "--ledger", place).code == 0  # fmt: skip
    assert str(facts(place)[0].opened_on) == "2026-02-03"
    done = cli("amend", "OV 0002", "--opened-on", "2026-02-04", "--reason", "misread", "--ledger", place)
    assert "opened on: then 2026-02-03, now 2026-02-04" in done.out
    for day in ("2031-01-01", "2025-12-31", "soon"):
        refused = cli("amend", "OV 0002", "--opened-on", day, "--reason", "x", "--ledger", place)
        assert (refused.code, "--opened-on: found" in refused.err) == (2, True)
    sealed = cli("amend", "OV 0003", "--opened-on", "2026-02-04", "--reason", "x", "--ledger", place)
    assert (sealed.code, "a specimen that is unopened" in sealed.err) == (2, True)
    for given, said in (
        (("--received-on", "2026-02-20"), "opened on 2026-02-04"),
        (("--state", "unopened"), "--state"),
    ):
        refused = cli("amend", "OV 0002", *given, "--reason", "x", "--ledger", place)
        assert (refused.code, len(refused.error_lines), said in refused.err) == (2, 1, True)
    with Ledger.open(place, write=True) as ledger:
        bought = ledger.get(Parcel, "pc")
        ledger.append([replace(bought, id="other", seller="Lantern")])
        ledger.append([replace(ledger.get(Specimen, "sp02"), parcel="other")])
    moves = ("amend", "OV 0002", "--to-parcel", "OV 3", "--ledger", place)
    tried = cli(*moves, "--dry-run")
    assert (tried.code, "seller: then Corner shop, now Lantern" in tried.out) == (0, True)
    assert facts(place)[2].id == "pc"
    assert cli(*moves, "--reason", "the other receipt").code == 0
    assert facts(place)[2].id == "other"
    for given in (("--to-parcel", "OV 3"), ("--to-parcel", "OV 1", "--price", "5"), ("--to-parcel", "OV 99")):
        refused = cli("amend", "OV 0002", *given, "--reason", "x", "--ledger", place)
        assert (refused.code, len(refused.error_lines)) == (2, 1)
