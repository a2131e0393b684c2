"""What is in stock, on both databases."""

from dataclasses import replace
from datetime import date, timedelta

from qcledger.ledger import queries_stock as stock
from qcledger.records import Paint, Parcel, Photo, Session, Specimen, Trial
from qcledger.vocab import Format, Occasion, SpecimenState
from tests.ledger.given import NOON, PACKED, graded, unpacked


def second(ledger) -> Specimen:
    """Add a tube of the same paint, bought later, used up."""
    first = ledger.get(Specimen, "specimen")
    tube = replace(first, id="tube", sticker="OV 0012", parcel="later", format=Format.TUBE, lot=None, price_minor=900,
                   state=SpecimenState.USED_UP)  # fmt: skip
    ledger.append(
        [Parcel(id="later", bought_on=date(2026, 3, 1), seller="50% off", currency="GBP"), tube,
         Paint(id="unbought", maker="maker", name="Fir")]
    )  # fmt: skip
    return tube


def test_the_shelf_is_paged_latest_first_and_found_by_words(ledger):
    """Every word must stand somewhere; a percent sign is a percent sign."""
    second(ledger)
    with ledger.reading() as connection:
        assert [one.sticker for one in stock.shelf(connection, (), None, 0, 9)] == ["OV 0012", "OV 0001"]
        assert [one.sticker for one in stock.shelf(connection, (), None, 1, 9)] == ["OV 0001"]
        assert [one.id for one in stock.shelf(connection, ("quern", "%"), None, 0, 9)] == ["tube"]
        assert [one.id for one in stock.shelf(connection, ("q44",), None, 0, 9)] == ["specimen"]
        assert [one.id for one in stock.shelf(connection, ("used",), None, 0, 9)] == ["tube"]
        assert stock.shelf_count(connection, ("_",), None) == 0
        assert stock.shelf_count(connection, (), "later") == 1


def test_what_was_bought_last_comes_last_and_paints_never_bought_first(ledger):
    """Once a paint and format; the price and currency are those of the latest piece."""
    second(ledger)
    with ledger.reading() as connection:
        found = stock.bought_before(connection)
    assert [(one.name, one.format, one.price_minor, one.currency) for one in found] == [
        ("Fir", None, None, None),
        ("Viridian", Format.HALF_PAN, 395, "EUR"),
        ("Viridian", Format.TUBE, 900, "GBP"),
    ]


def test_counts_on_stickers(ledger):
    """Only whole numbers behind one's own letters count, and a sticker is found in any case."""
    second(ledger)
    with ledger.reading() as connection:
        assert (stock.last_count(connection, "OV"), stock.last_count(connection, "O")) == (12, 0)
        assert stock.with_sticker(connection, "ov 0012") == ["tube"]
        assert stock.ending_with(connection, 12) == [("tube", "OV 0012")]
        assert stock.ending_with(connection, 2) == []


def test_everything_seen_on_a_specimen_in_order(ledger):
    """Superseded ones too; a mix counts for both of its specimens; a session that is blind and open says so."""
    second(ledger)
    ledger.append([replace(ledger.get(Session, "session"), closed_at=None)])
    mixed = Trial(id="mixed", specimen="tube", mixed_with="specimen", occasion=Occasion.BENCH, at=NOON)
    ledger.append([graded("first"), mixed, graded("mix", trial="mixed", at=NOON + timedelta(hours=1))])
    ledger.append([graded("second", 3.0, supersedes="first", reason="slip", at=NOON + timedelta(hours=2))])
    with ledger.reading() as connection:
        found = stock.seen_on(connection, "specimen")
        assert [(one.observation.id, one.superseded, one.blind) for one in found] == [
            ("first", True, True),
            ("mix", False, False),
            ("second", False, True),
        ]
        assert [one.observation.id for one in stock.seen_on(connection, "tube")] == ["mix"]


def test_what_stands_at_unpacking(ledger):
    """Only the trial at unpacking, and only what no other observation supersedes."""
    with ledger.reading() as connection:
        assert stock.unpacked(connection, "specimen") == (None, [])
    opened = Trial(id="opened", specimen="specimen", occasion=Occasion.UNPACKING, at=NOON)
    ledger.append([opened, PACKED, unpacked("one", trial="opened"), graded("bench")])
    ledger.append([unpacked("two", 3.0, trial="opened", supersedes="one", reason="slip")])
    with ledger.reading() as connection:
        trial, stands = stock.unpacked(connection, "specimen")
    assert (trial, [one.id for one in stands]) == ("opened", ["two"])


def test_photos_of_a_specimen_and_of_what_was_seen_on_it(ledger):
    """In the order they were filed, each once though it was amended."""
    shot = {"kind": "jpg", "width": 1, "height": 1}
    photos = [
        Photo(id="z", sha256="1" * 64, specimen="specimen", **shot),
        Photo(id="a", sha256="2" * 64, observation="seen", **shot),
        Photo(id="b", sha256="3" * 64, **shot),
    ]
    ledger.append([graded("seen")])
    for one in photos:
        ledger.append([one])
    ledger.append([replace(photos[0], caption="turned")], reason="caption")
    with ledger.reading() as connection:
        assert [one.id for one in stock.pictures_of(connection, "specimen")] == ["z", "a"]
