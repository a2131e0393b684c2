"""What the form of a label says it would make: another label, a first one, a paint, a maker, or nothing."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.bench import labelling, tobekept
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion
from qcledger.screens.stock.label import FIELDS
from qcledger.settings import Settings
from tests.small import small_ledger

TODAY = date(2026, 3, 9)


@pytest.fixture
def ledger(tmp_path):
    """Return a ledger with two pieces of Trellmere Viridian, whose label says PG18."""
    with Ledger.open(small_ledger(tmp_path, lines=5).place, write=True) as opened:
        yield opened


def shown(ledger, **typed):
    """Return what stands in the form of Viridian's label."""
    label = ledger.get(LabelVersion, "lb0")
    values = dict.fromkeys((name for name, _, _ in FIELDS), "")
    values |= {"maker": "Trellmere", "name": "Viridian"}
    values |= {field: ", ".join(getattr(label, field)) for field in labelling.LISTS}
    values |= {"warnings": label.warnings, "printed": label.printed}
    return values, values | typed


def said(ledger, paint="pt0", **typed):
    first, values = shown(ledger, **typed)
    return tobekept.words(tobekept.stands(ledger, paint), values, first, "2026-03-09")


def test_nothing_is_made_of_what_stands(ledger):
    """Looked at and kept, the label stays: that is said, and no label is made."""
    assert said(ledger) == "F3 changes nothing: kept so."
    count = len(ledger.rows(LabelVersion))
    read = labelling.read_label(shown(ledger)[1], TODAY, Settings())
    kept = labelling.keep_label(ledger, read, ledger.new_id, "pt0")
    assert len(ledger.rows(LabelVersion)) == count
    assert tobekept.made(kept) == "nothing was changed on the label of Viridian"


def test_another_label_is_announced_with_the_pieces_that_go_by_it(ledger):
    """What is typed makes another label beside the one kept: said before, and once it is there."""
    typed = {"claims": "pure"}
    assert said(ledger, **typed) == (
        "F3 makes another label, seen 2026-03-09; 2 specimens go by it. F4: the one kept was mistyped."
    )
    count = len(ledger.rows(LabelVersion))
    read = labelling.read_label(shown(ledger, **typed)[1], TODAY, Settings())
    kept = labelling.keep_label(ledger, read, ledger.new_id, "pt0")
    assert len(ledger.rows(LabelVersion)) == count + 1
    assert tobekept.made(kept) == "Viridian: another label is kept; z takes it back"


def test_a_piece_with_a_label_of_its_own_is_not_counted(ledger):
    """Only pieces that name no label go by the latest; the others keep what they carry, and that is said."""
    from qcledger.records import Specimen

    ledger.append([replace(ledger.get(Specimen, "sp04"), label_version="lb0")])
    assert "; 1 specimen goes by it, 1 specimen keeps the one before. F4" in said(ledger, warnings="gloves")
    ledger.append([replace(ledger.get(Specimen, "sp00"), label_version="lb0")])
    assert "; 2 specimens keep the one before. F4" in said(ledger, warnings="gloves")


def test_a_name_alone_makes_no_label(ledger):
    """Another number changes the paint; its label stays."""
    assert said(ledger, number="12") == "F3 changes what the paint is called; its label stays."


def test_a_new_paint_says_whether_paint_and_maker_are_new(ledger):
    """A paint that is known by its names is no new one; a maker not seen before is told."""
    assert said(ledger, None, maker="trellmere", name="viridian") == (
        "trellmere viridian is known; F3 keeps this as its label."
    )
    assert said(ledger, None, name="Fir") == "F3 makes the paint Fir with this label."
    assert said(ledger, None, maker="Maslenne", name="Fir") == (
        "F3 makes the paint Fir with this label, and the maker Maslenne."
    )
    assert said(ledger, None, name="") == ""
