"""``qcledger same-as`` and ``qcledger rename``: who is who, from the command line."""

from pathlib import Path

import pytest

from qcledger.exchange import to_folder
from qcledger.ledger import Ledger
from qcledger.ledger.identity import who_is_who
from qcledger.records import Maker, Paint, Parcel, SameAs, Specimen
from tests.ledger.given import basics, graded, steady


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """Return a ledger with Quernlow's tested specimen, and with Quern Low, which has one paint."""
    named = {"letters": "OV", "tester": "Oda Vane", "zone": "Etc/UTC"}
    with Ledger.create(tmp_path / "mine.sqlite", sources=steady(), **named) as ledger:
        ledger.append([*basics(), graded("seen")])
        ledger.append([Maker(id="low", name="Quern Low"), Paint(id="fen", maker="low", name="Fen Green")])
    return tmp_path / "mine.sqlite"


def one(place, subject="maker"):
    with Ledger.open(place) as ledger:
        return who_is_who(ledger).one("maker", subject)


def flat(text):
    return " ".join(text.split())


def test_two_makers_become_one_and_two_again(cli, place):
    """What it unites is printed first; undo restores, and both decisions' entries stay."""
    tried = cli("same-as", "maker", "Quern Low", "quernlow", "--dry-run", "--ledger", place)
    assert "dry run, nothing changed" in tried.out
    assert one(place, "low") == "low"
    done = cli("same-as", "maker", "Quern Low", "quernlow", "--reason", "one box", "--ledger", place)
    assert (done.code, done.err) == (0, "")
    assert flat(done.out) == (
        "maker Quern Low and Quernlow: one, shown as Quernlow. This touches 2 paints, 1 specimen, 1 finding."
    )
    assert one(place, "low") == "maker"
    again = cli("same-as", "maker", "Quern Low", "Quernlow", "--ledger", place)
    assert (again.code, len(again.error_lines)) == (2, 1)
    undone = cli("same-as", "maker", "Quern Low", "Quernlow", "--undo", "--ledger", place)
    assert flat(undone.out) == "taken back: same as, decided by Oda Vane on " + undone.out.split()[-1]
    assert one(place, "low") == "low"
    with Ledger.open(place) as ledger:
        (row,) = ledger.rows(SameAs)
        assert (row.reason, row.undone) == ("one box", True)


def test_what_may_be_one_is_listed_until_it_is_answered(cli, place):
    """Without arguments near spellings are asked about, and then the decision is shown in their place."""
    asked = flat(cli("same-as", "--ledger", place).out)
    assert 'qcledger same-as maker "Quern Low" "Quernlow", or with --not' in asked
    cli("same-as", "maker", "Quern Low", "Quernlow", "--not", "--ledger", place)
    listed = flat(cli("same-as", "--ledger", place).out)
    assert "Are makers" not in listed
    assert "maker Quern Low not the same as Quernlow: Oda Vane" in listed


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("lot", "a", "b"), "maker, range, paint, seller"),
        (("maker", "Quernlow"), "a kind and two names"),
        (("maker", "Quernlo", "Quern Low"), "Quernlow"),
        (("maker", "Quernlow", "Quernlow"), "two that do not count as one"),
        (("maker", "Quernlow", "Quern Low", "--undo"), "two that a decision is about"),
        (("maker", "Quernlow", "Quern Low", "--undo", "--not"), "one of them"),
        (("paint", "Fen Green", "Viridian"), "unite those first"),
    ],
)
def test_what_cannot_be_said_is_one_line(cli, place, args, said):
    """Each wrong word is one line that says what is allowed, and nothing is kept."""
    wrong = cli("same-as", *args, "--ledger", place)
    assert (wrong.code, wrong.out, len(wrong.error_lines)) == (2, "", 1)
    assert said in wrong.err
    with Ledger.open(place) as ledger:
        assert ledger.rows(SameAs) == []


def test_a_new_name_is_taken_back(cli, place):
    """Rename says what it touches; each older name still finds the maker, and undo restores the name."""
    done = cli("rename", "maker", "Quernlow", "Quernlow & Daughters", "--reason", "a new box", "--ledger", place)
    said = "maker Quernlow is called Quernlow & Daughters now. This touches 1 paint, 1 specimen, 1 finding."
    assert flat(done.out) == said
    found = cli("findings", "--maker", "quernlow", "--no-wait", "--ledger", place)
    assert found.err.splitlines()[0] == "quernlow is called Quernlow & Daughters now."
    assert "Quernlow &" in found.out
    assert cli("findings", "--maker", "Quernlow & Daughters", "--no-wait", "--ledger", place).err == ""
    taken = cli("rename", "maker", "quernlow", "--undo", "--ledger", place)
    assert "taken back: now called Quernlow & Daughters" in flat(taken.out)
    with Ledger.open(place) as ledger:
        assert who_is_who(ledger).name("maker", "maker", "Quernlow") == "Quernlow"
    assert cli("rename", "maker", "Quernlow", "--ledger", place).code == 2
    assert "same-as unites two" in cli("rename", "maker", "Quernlow", "quern low", "--ledger", place).err


def test_a_name_it_has_already_is_not_kept_again(cli, place):
    """The command says so, and stores no second decision."""
    cli("rename", "maker", "Quernlow", "Quernlow Colours", "--ledger", place)
    again = cli("rename", "maker", "Quernlow", " Quernlow  Colours", "--ledger", place)
    assert (again.code, again.err) == (
        2,
        "name: found 'Quernlow Colours'; allowed: another name; the maker is called so already\n",
    )
    with Ledger.open(place) as ledger:
        assert len(ledger.rows(SameAs)) == 1


def test_a_folder_that_renames_a_maker_is_told_the_command(cli, place, tmp_path):
    """A row that stands is not changed by a folder; the refusal names what renames it."""
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "maker.csv").write_text("id,name\nlow,Quernlow & Daughters\n")
    refused = cli("import", tmp_path / "folder", "--ledger", place)
    assert refused.code == 2
    assert 'qcledger rename maker "Quern Low" "Quernlow & Daughters"' in refused.err
    cli("rename", "maker", "Quern Low", "Quernlow & Daughters", "--ledger", place)
    assert "0 new rows, 1 already here" in cli("import", tmp_path / "folder", "--ledger", place).out


def theirs(tmp_path, name):
    """Export another tester's ledger with one maker."""
    where = {"letters": "TL", "tester": "Tam Lark", "sources": steady(), "daybook": "theirs"}
    with Ledger.create(tmp_path / "theirs.sqlite", **where) as ledger:
        parcel = Parcel(id="their-parcel", bought_on=basics()[5].bought_on, seller="Seller two", currency="EUR")
        paint = Paint(id="their-paint", maker="their-maker", name="Viridian")
        pan = {"paint": "their-paint", "format": "half pan", "parcel": "their-parcel"}
        ledger.append([Maker(id="their-maker", name=name), paint, parcel])
        ledger.append([Specimen(id="their-specimen", sticker="TL 0001", **pan)])
        to_folder(ledger, tmp_path / "out")
    return tmp_path / "out"


def test_merge_asks_about_near_spellings_once(cli, place, tmp_path):
    """One line a pair across testers, with the command; equal spellings ask nothing."""
    merged = cli("merge", theirs(tmp_path, "Fennacre"), "--ledger", place)
    assert "Are makers" not in merged.out
    (tmp_path / "second").mkdir()
    merged = cli("merge", theirs_again(tmp_path / "second", "QUERNLOW"), "--ledger", place)
    assert "Quernlow the same" not in flat(merged.out)
    assert one(place) == "maker"


def theirs_again(folder, name):
    """Export a third tester's ledger with one maker."""
    where = {"letters": "BO", "tester": "Bo Tarnfell", "sources": steady(), "daybook": "third"}
    with Ledger.create(folder / "third.sqlite", **where) as ledger:
        ledger.append([Maker(id="zz", name=name)])
        to_folder(ledger, folder / "out")
    return folder / "out"


def test_merge_names_the_command_for_a_near_maker(cli, place, tmp_path):
    """A near spelling of another tester is one question line, with the command that answers it."""
    out = flat(cli("merge", theirs_again(tmp_path, "Quernlow Colours"), "--ledger", place).out)
    assert 'qcledger same-as maker "Quernlow" "Quernlow Colours", or with --not' in out
    again = cli("merge", tmp_path / "out", "--ledger", place)
    assert "Are makers" not in again.out
