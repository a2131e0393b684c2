"""What the label of a piece declares, each time it became another: in its history, and among all labels put right."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.bench import correcting, history, labelled
from qcledger.bench.public.listed import listed
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Specimen
from tests.small import small_ledger


@pytest.fixture
def ledger(tmp_path):
    """Return a ledger with two pieces of one paint, OV 0001 and OV 0005, whose label says PG18."""
    with Ledger.open(small_ledger(tmp_path, lines=5).place, write=True) as opened:
        yield opened


def put_right(ledger, reason="mistyped", only=None, **said):
    label = ledger.get(LabelVersion, "lb0")
    wanted = correcting.weigh(ledger, label, said, ledger.new_id, only=only)
    correcting.keep(ledger, wanted, reason)
    return wanted


def told(ledger, specimen):
    found = history.load(ledger, specimen).changes
    return [(one.reason, [(each.fact, each.then, each.now) for each in one.differ]) for one in found]


def of_labels(ledger):
    return [one for one in listed(ledger) if one.table == LabelVersion.TABLE]


def test_a_correction_stands_in_the_history_of_each_piece(ledger):
    """A label put right for all that carry it: then, now, reason, who and day, at each piece and in the list."""
    put_right(ledger, index_names=("PB29",), warnings="gloves")
    wanted = [("mistyped", [("label, index names", "PG18", "PB29"), ("label, warnings", "nothing", "gloves")])]
    assert told(ledger, "sp00") == told(ledger, "sp04") == wanted
    assert told(ledger, "sp01") == []
    (change,) = history.load(ledger, "sp00").changes
    assert change.by.startswith("OV")
    assert change.day == ledger.day(change.at)
    (line,) = of_labels(ledger)
    assert (line.kind, line.about, line.on) == ("label", "Trellmere Viridian", change.day)
    assert line.words == (
        "label, index names: then PG18, now PB29; label, warnings: then nothing, now gloves; because: mistyped; "
        f"{change.by}"
    )


def test_taking_it_back_is_told_too(ledger):
    """Both stand there: that it was put right, and that this was taken back."""
    done = put_right(ledger, index_names=("PB29",))
    assert correcting.take_back(ledger, done)
    assert [reason for reason, _ in told(ledger, "sp00")] == ["mistyped", "taken back"]
    assert told(ledger, "sp00")[1][1] == [("label, index names", "PB29", "PG18")]
    assert {one.words.split("because: ")[1].split(";")[0] for one in of_labels(ledger)} == {"mistyped", "taken back"}


def test_some_pieces_alone_have_it_in_their_history(ledger):
    """The others keep theirs, and are told nothing: being told their own label changes nothing of them."""
    put_right(ledger, reason="looked again at the label", only=["sp04"], index_names=("PB29",))
    assert told(ledger, "sp00") == []
    ((reason, facts),) = told(ledger, "sp04")
    assert (reason, facts) == ("looked again at the label", [("label, index names", "PG18", "PB29")])
    assert len(of_labels(ledger)) == 1


def test_another_label_seen_later_changes_what_a_piece_goes_by(ledger):
    """A piece that names no label has the latest: its history tells when that became another."""
    label = ledger.get(LabelVersion, "lb0")
    newer = replace(label, id="newer", seen_on=label.seen_on + timedelta(days=1), claims=("pure",))
    ledger.append([newer], reason=labelled.RETYPED_LABEL)
    ((_, facts),) = told(ledger, "sp00")
    assert facts == [("label, claims", "nothing", "pure"), ("label, seen on", label.seen_on, newer.seen_on)]
    assert of_labels(ledger) == []


def test_a_piece_of_another_paint_tells_the_paint_alone(ledger):
    """Where a line says another paint, its label is another without having been put right."""
    one, other = (ledger.get(Specimen, id_) for id_ in ("sp00", "sp01"))
    ledger.append([replace(one, paint=other.paint, lot=other.lot)], reason="a slip")
    ((reason, facts),) = told(ledger, "sp00")
    assert reason == "a slip"
    assert [fact for fact, _, _ in facts] == ["paint", "lot"]
