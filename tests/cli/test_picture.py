"""The command that draws pictures: what there is, by which name, and which edition each bears."""

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Maker
from tests.cli.test_publish import WHOLE
from tests.screens.findings.support import shelf_ledger


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


def told(folder):
    """Return the words beside each picture of a folder, by its name."""
    return {path.stem: path.read_text(encoding="utf-8") for path in folder.glob("*.txt")}


def test_what_there_is_is_listed_and_drawn_by_its_name(cli, place, tmp_path):
    """Without a name each is listed; a name, or the beginning of one, is drawn in both shapes and kinds."""
    listed = cli("picture", "--ledger", place)
    assert listed.code == 0, listed.err
    name = next(line for line in listed.out.splitlines() if not line.startswith(" "))
    out = tmp_path / "out"
    done = cli("picture", name, "--to", out, "--ledger", place)
    assert done.code == 0, done.err
    made = sorted(path.name for path in out.iterdir())
    assert made == sorted(
        [f"{name}.txt", *(f"{name}-{shape}-light.{kind}" for shape in ("wide", "square") for kind in ("svg", "png"))]
    )
    again = cli("picture", name, "--to", out, "--ledger", place)
    assert (again.code, len(again.error_lines)) == (2, 1)
    assert "--force" in again.err
    assert cli("picture", "nobody", "--ledger", place).code == 2
    other = ("--shape", "wide", "--tint", "both", "--as", "svg", "--force")
    both = cli("picture", name, "--to", out, *other, "--ledger", place)
    assert both.code == 0
    assert (out / f"{name}-wide-dark.svg").exists()


def test_a_picture_bears_the_edition_that_said_it(cli, place, tmp_path):
    """A draft before an edition, its number after it, and a draft again where more was written since."""
    svg = ("--every", "--as", "svg", "--shape", "wide", "--ledger", place)
    assert cli("picture", *svg, "--to", tmp_path / "before").code == 0
    before = told(tmp_path / "before")
    assert before
    assert all("DRAFT, not published." in text for text in before.values())
    assert cli("publish", tmp_path / "card.html", *WHOLE, "--ledger", place).code == 0
    assert cli("picture", *svg, "--to", tmp_path / "after").code == 0
    after = told(tmp_path / "after")
    assert after.keys() == before.keys()
    assert all("Edition 1, " in text and "DRAFT" not in text for text in after.values())
    with Ledger.open(place, write=True) as ledger:
        ledger.append([Maker(id="new", name="Halcyre")])
    assert cli("picture", *svg, "--to", tmp_path / "later").code == 0
    later = told(tmp_path / "later")
    nothing = {name: text for name, text in later.items() if name.startswith("n-")}
    assert all("DRAFT" in text for text in nothing.values())
    assert all("Edition 1, " in text for name, text in later.items() if name.startswith("s-"))
    assert nothing
