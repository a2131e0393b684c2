"""Gouache, ink and pencils by commands: from nothing to a scorecard, and no word of watercolour on the way."""

import pytest

from qcledger.ledger import Ledger
from qcledger.settings import default_ledger
from tests.media_ledgers.made import MAKERS, MEDIA, foreign_in, results, set_to, stock


@pytest.fixture(params=MEDIA, ids=lambda medium: medium.rubric)
def medium(request):
    return request.param


def planned(medium):
    """Return what lays out the one sheet."""
    return (
        *("sheet", "S01", "--plan", "--comparison", "greens", "--rubric", medium.rubric, "--specimens", "OV 1-18"),
        *("--blinding", "open", "--repeats", "0", "--on-paper", "smooth 200 g", "--condition", medium.condition),
        *("--start", "2026-03-09 09:00"),
    )


def test_from_a_parcel_to_a_scorecard(cli, medium, tmp_path):
    """Each step ends well, the faulty maker is found with its counts, and no text says a word of another medium."""
    set_to(medium)
    told: list[str] = []

    def run(*args: object) -> str:
        done = cli(*args)
        assert done.code == 0, (args, done.err)
        told.append(f"$ {args[0]}\n{done.out}{done.err}")
        return done.out

    run("start", "--letters", "OV", "--tester", "Oda Vane", "--zone", "Etc/UTC")
    run("import", stock(medium, tmp_path / "stock"))
    run(*planned(medium))
    with Ledger.open(default_ledger()) as ledger:
        seen = results(medium, ledger, tmp_path / "seen")
    run("import", seen)
    found = run("findings", "--criterion", medium.fault)
    assert f"{MAKERS[0]}" in found
    for args in AFTER:
        run(*args)
    for name, args in FILES.items():
        run(*args, tmp_path / name)
        told.append(f"{name}\n{(tmp_path / name).read_text(encoding='utf-8')}")
    found_in = [f"{text.split(chr(10))[0]}: {words}" for text in told if (words := foreign_in(text, medium))]
    assert not found_in, "\n".join(found_in)


AFTER = (
    ("findings",),
    ("findings", "--as", "text", "--comparison", "greens"),
    ("shopping",),
    ("price",),
    ("sheet",),
    ("sheet", "S01"),
    ("sheet", "S01", "--put-down"),
    ("conditions", "S01"),
    ("tester",),
    ("findings", "--why", MAKERS[0]),
    ("behaviour",),
    ("same-as",),
    ("imports",),
    ("note", "Trellmere", "came open"),
    ("note",),
    ("verify",),
)
FILES = {
    "card.html": ("scorecard", "--to"),
    "sheet.html": ("sheet", "S01", "--print"),
}
