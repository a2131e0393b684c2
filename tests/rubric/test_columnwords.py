"""Words over columns: a file that anybody may extend, checked like every other."""

import pytest

from qcledger.errors import BadInput
from qcledger.exchange.columnwords import column_words
from qcledger.rubric.columnwords import load, parse
from qcledger.settings import own_rubrics, reference_files, rubric_files, shipped

PATH = shipped("rubrics") / "columnwords.yaml"
TEXT = PATH.read_text(encoding="utf-8")


def test_the_file_is_no_rubric_and_stands_beside_them():
    """It is listed with the names and pigments, and its words are those that people write."""
    assert "columnwords" not in rubric_files()
    assert reference_files()["columnwords"] == PATH
    words = column_words()
    assert "hersteller" in words.fields["maker"]
    assert words.formats["1/2 godet"] == "half pan"
    assert words.month("Mär") == 3
    assert ("easy", "ok", "hard") in words.scales


def test_a_testers_own_file_takes_its_place():
    """It is read again when it is written."""
    own = own_rubrics() / "columnwords.yaml"
    own.parent.mkdir(parents=True, exist_ok=True)
    own.write_text(TEXT.replace("maker: [maker,", "maker: [studio, maker,"), encoding="utf-8")
    assert "studio" in column_words().fields["maker"]
    own.unlink()
    assert "studio" not in column_words().fields["maker"]


@pytest.mark.parametrize(
    ("old", "new", "refused"),
    [
        ("[test note, test notes, result, results]", "results", "a list of 1 to 200"),
        ("  lot: [lot,", "  lots: [lot,", "key lots"),
        ("  1: [January,", "  13: [January,", "key 13"),
        ("totals: [total,", "totals: ['', total,", "a word or two"),
    ],
)
def test_a_wrong_file_is_refused_with_its_line(old, new, refused):
    """In one line: file, line, what was found, what is allowed."""
    with pytest.raises(BadInput, match=rf"mine\.yaml line \d+: .*{refused}"):
        parse(TEXT.replace(old, new, 1), "mine.yaml")


def test_a_file_that_is_gone_is_refused(tmp_path):
    """As every rubric is."""
    with pytest.raises(BadInput, match=r"mine\.yaml"):
        load(tmp_path / "mine.yaml")
