"""``qcledger stickers``: which are printed, and what is refused in one line."""

import re

import pytest

from tests.small import small_ledger


@pytest.fixture
def ask(tmp_path, cli):
    """Return a function that prints stickers of a small ledger, and gives the outcome and the stickers printed."""
    small, page = small_ledger(tmp_path), tmp_path / "stickers.html"

    def run(*args):
        page.unlink(missing_ok=True)
        told = cli("stickers", page, *args, "--ledger", small.place)
        printed = re.findall(r'aria-label="([^"]+)"', page.read_text(encoding="utf-8")) if page.exists() else []
        return told, printed

    return run


def test_all_in_use_are_printed_or_those_named_or_those_that_come_next(ask):
    """Without a word every specimen's; a range as it is typed; --next goes on after the highest of one's own."""
    told, every = ask()
    assert told.code == 0
    assert "print it from a browser" in told.out
    assert every == sorted(every) != []
    letters, count = every[-1].split()
    assert ask(f"{every[0]}, {int(every[1].split()[1])}")[1] == every[:2]
    assert ask("--next", "3")[1] == [f"{letters} {int(count) + turn:04d}" for turn in (1, 2, 3)]


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["OV 9999"], "stickers in this ledger, such as OV "),
        (["what?"], "stickers such as OV 0147"),
        (["OV 0001", "--next", "2"], "one of them"),
    ],
)
def test_what_cannot_be_printed_is_refused_in_one_line(ask, args, said):
    """Nothing is written then."""
    told, printed = ask(*args)
    assert (told.code, told.out, printed) == (2, "", [])
    (line,) = told.error_lines
    assert said in line
