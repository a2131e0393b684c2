"""``qcledger label``: a mistyped label is put right for the pieces that carry it, some of them, or a new print."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.bench import correcting
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Parcel, Specimen
from tests.ledger.given import basics, steady


@pytest.fixture
def place(tmp_path):
    named = {"letters": "OV", "tester": "Oda Vane", "zone": "Etc/UTC"}
    with Ledger.create(tmp_path / "mine.sqlite", sources=steady(), **named) as ledger:
        ledger.append(basics())
        one, parcel = ledger.get(Specimen, "specimen"), ledger.get(Parcel, "parcel")
        later = replace(parcel, id="later", bought_on=date(2026, 3, 1))
        ledger.append([later, replace(one, id="second", sticker="OV 0002", parcel="later")])
    return tmp_path / "mine.sqlite"


def pigments(place):
    with Ledger.open(place) as ledger:
        assert ledger.verify() == []
        found = {one.sticker: ledger.get(LabelVersion, one.label_version) for one in ledger.rows(Specimen)}
        return {sticker: label.index_names for sticker, label in found.items()}


def test_a_correction_is_followed_by_every_piece_that_carries_it(cli, place):
    """One entry with a reason; the pieces are named; without a reason nothing is stored."""
    tried = cli("label", "OV 0001", "--pigments", "PB29", "--dry-run", "--ledger", place)
    assert "2 specimens count under PB29 now, not PG18: OV 0001, OV 0002; dry run" in " ".join(tried.out.split())
    refused = cli("label", "OV 0001", "--pigments", "PB29", "--ledger", place)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert pigments(place) == {"OV 0001": ("PG18",), "OV 0002": ("PG18",)}
    assert cli("label", "1", "--pigments", "PB29", "--reason", "mistyped", "--ledger", place).code == 0
    assert pigments(place) == {"OV 0001": ("PB29",), "OV 0002": ("PB29",)}
    with Ledger.open(place) as ledger:
        assert len(ledger.history("label_version", "label")) == 2


@pytest.mark.parametrize("which", [["--only", "OV 0002"], ["--since", "2026-02-20"]])
def test_some_pieces_or_a_new_print_get_a_label_of_their_own(cli, place, which):
    """The others keep theirs."""
    given = ("--pigments", "PB29", "--reason", "seen on the tube", "--ledger", place)
    assert cli("label", "OV 0001", *which, *given).code == 0
    assert pigments(place) == {"OV 0001": ("PG18",), "OV 0002": ("PB29",)}


@pytest.mark.parametrize("only", [None, ["second"]])
def test_it_is_undone(place, only):
    """All counts as before; what was changed since stays."""
    with Ledger.open(place, write=True) as ledger:
        label = ledger.get(LabelVersion, "label")
        wanted = correcting.weigh(ledger, label, {"index_names": ("PB29",)}, ledger.new_id, only=only)
        correcting.keep(ledger, wanted, "mistyped")
        assert correcting.take_back(ledger, wanted)
        assert not correcting.take_back(ledger, wanted)
    assert pigments(place) == {"OV 0001": ("PG18",), "OV 0002": ("PG18",)}


def test_every_fact_of_a_label_is_put_right_and_taken_back(cli, place):
    """A paint names its latest label; what stood is told, an empty text takes it away; --undo once, with an entry."""
    given = ("--claims", "lightfast I", "--cas", "1308-38-9", "--read-on", "the tube", "--ledger", place)
    done = cli("label", "quernlow viridian", *given, "--reason", "f")
    said = " ".join(done.out.split())
    assert "claims: then nothing, now lightfast I" in said
    assert "2 specimens count under PG18 as before" in said
    with Ledger.open(place) as ledger:
        label = ledger.get(LabelVersion, "label")
        assert (label.claims, label.cas_numbers, label.source) == (("lightfast I",), ("1308-38-9",), "the tube")
        assert "typed into the wrong field" in ledger.history("label_version", "label")[-1].body
    assert cli("label", "OV 0001", "--claims", "", "--reason", "m", "--ledger", place).code == 0
    undone = cli("label", "OV 0001", "--undo", "--ledger", place)
    assert "claims: then nothing, now lightfast I" in " ".join(undone.out.split())
    again = cli("label", "OV 0001", "--undo", "--ledger", place)
    assert (again.code, len(again.error_lines)) == (2, 1)
    with Ledger.open(place) as ledger:
        assert ledger.get(LabelVersion, "label").claims == ("lightfast I",)
        assert ledger.verify() == []


@pytest.mark.parametrize("which", [["--only", "OV 0002"], ["--since", "2026-02-20"]])
def test_a_label_of_some_pieces_is_taken_back_by_command(cli, place, which):
    """Each piece counts under what it did before; what was first typed is not undone."""
    given = ("--pigments", "PB29", "--reason", "seen on the tube", "--ledger", place)
    assert cli("label", "OV 0001", *which, *given).code == 0
    first = cli("label", "OV 0001", "--undo", "--ledger", place)
    assert (first.code, len(first.error_lines)) == (2, 1)
    tried = cli("label", "OV 0002", "--undo", "--dry-run", "--ledger", place)
    assert "1 specimen counts under PG18 now, not PB29: OV 0002; dry run" in " ".join(tried.out.split())
    assert pigments(place)["OV 0002"] == ("PB29",)
    assert cli("label", "OV 0002", "--undo", "--ledger", place).code == 0
    assert pigments(place) == {"OV 0001": ("PG18",), "OV 0002": ("PG18",)}


@pytest.mark.parametrize(
    ("given", "found"),
    [
        (["OV 0001"], "nothing to put right"),
        (["OV 0001", "--undo", "--pigments", "PB29"], "--undo alone"),
        (["OV 0001", "--pigments", "PB29", "--only", "1", "--since", "2026-01-01"], "--only and --since"),
        (["Quernlow Cobalt", "--pigments", "PB29"], "the sticker of a specimen, or the name of a paint"),
        (["OV 0001", "--format", "lump", "--reason", "m"], "--format"),
        (["OV 0001", "--pigments", "x" * 201, "--reason", "m"], "--pigments"),
        (["OV 0001", "--pigments", "PG18", "--reason", "m"], "other than the label declares"),
    ],
)
def test_what_is_no_correction_is_refused_in_one_line(cli, place, given, found):
    """What was found and what is allowed; nothing is stored."""
    told = cli("label", *given, "--ledger", place)
    assert (told.code, len(told.error_lines)) == (2, 1)
    assert found in told.err
    with Ledger.open(place) as ledger:
        assert len(ledger.history("label_version", "label")) == 1
