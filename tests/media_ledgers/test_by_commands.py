"""Gouache, ink and pencils by commands: from nothing to a scorecard, and no word of watercolour on the way."""

import pytest

from tests.media_ledgers.made import MAKERS, MEDIA, foreign_in, to_a_graded_sheet


@pytest.fixture(params=MEDIA, ids=lambda medium: medium.rubric)
def medium(request):
    return request.param


def test_from_a_parcel_to_a_scorecard(cli, medium, tmp_path):
    """Each step ends well, the faulty maker is found with its counts, and no text says a word of another medium."""
    told: list[str] = []

    def run(*args: object) -> str:
        done = cli(*args)
        assert done.code == 0, (args, done.err)
        told.append(f"$ {args[0]}\n{done.out}{done.err}")
        return done.out

    for args in to_a_graded_sheet(medium, tmp_path):
        run(*args)
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
