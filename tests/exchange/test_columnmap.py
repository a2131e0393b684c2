"""A map says what columns hold; a wrong one is refused with its line before any row is read."""

import pytest

from qcledger.errors import BadInput
from qcledger.exchange.columnmap import FIELDS, load, parse
from qcledger.exchange.grading import check_map, criteria
from qcledger.exchange.scales import EvenScale
from qcledger.records import columns

WHOLE = """\
# a comment
rubrics: [watercolour, packaging]
new_makers: true
row_key: [No]
empty: ["-", N/A]
sheet: Tests
header_line: 3
delimiter: semicolon
constants: {seller: not noted, tested_on: 2024-06-30}
columns:
  Brand: maker
  Colour: paint
  Pan/tube: {field: format, words: {HP: half pan, "1": tube}}
  Bought: {field: bought_on, dates: day month year}
  Price: {field: price, currency: EUR}
  rewets?:
    criterion: rewetting_in_fives
    words: {fine: 0, Meh: 2.5, "never": 5}
  Froth 1-10: {criterion: froth_amount, scale: {from: [1, 10], reversed: true}}
  Turns: {criterion: evenness, reading: true}
  My remarks: leave out
"""


def test_a_whole_map_is_read():
    """Every key of the file has its place; old words are compared without case."""
    found = parse(WHOLE, "map.yaml")
    assert found.rubrics == ("watercolour", "packaging")
    assert (found.new_makers, found.row_key, found.empty) == (True, ("No",), frozenset({"-", "n/a"}))
    assert (found.sheet, found.layout.header_line, found.layout.delimiter) == ("Tests", 3, "semicolon")
    assert found.constants == {"seller": "not noted", "tested_on": "2024-06-30"}
    assert found.left_out == {"My remarks"}
    assert {name: target.field for name, target in found.columns.items() if target.field} == {
        "Brand": "maker",
        "Colour": "paint",
        "Pan/tube": "format",
        "Bought": "bought_on",
        "Price": "price",
    }
    assert found.columns["Pan/tube"].words == {"hp": "half pan", "1": "tube"}
    assert found.columns["rewets?"].words == {"fine": "0", "meh": "2.5", "never": "5"}
    assert found.columns["Froth 1-10"].scale == EvenScale(1, 10, reversed=True)
    assert found.columns["Bought"].dates == "day month year"
    assert found.columns["Price"].currency == "EUR"
    assert found.columns["Turns"].reading


def test_every_field_is_one_of_the_ledger():
    """Each field a map may name is a column of the table it says."""
    for record, name in FIELDS.values():
        assert name in {column.name for column in columns(record)}


@pytest.mark.parametrize(
    ("scale", "marks"),
    [
        (EvenScale(1, 10), {1: 0, 10: 5, 5.5: 2.5}),
        (EvenScale(1, 10, reversed=True), {1: 5, 10: 0}),
        (EvenScale(0, 100), {20: 1}),
        (EvenScale(1, 5), {3: 2.5}),
    ],
)
def test_a_scale_is_laid_evenly_over_ours(scale, marks):
    """The ends of somebody's scale are 0 and 5, reversed the other way round."""
    assert {mark: scale.grade(mark) for mark in marks} == marks


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("columns: {Brand: brand}", "line 1: found 'brand'; allowed: maker, paint, number"),
        ("columns:\n  Brand: maker\n  Make: maker\n", "line 3: found 'column Make as maker'; allowed: maker once"),
        ("columns: {Brand: maker}\nconstants: {maker: Drumlaw}", "line 1: found 'column Brand as maker'"),
        ("columns:\n  a: {criterion: x}\n  b: {criterion: x}\n", "line 3: found 'column b as x'; allowed: x once"),
        ('columns: {Brand: "?"}', "line 1: found '?'"),
        ('columns: {F: {field: format, words: {hp: "?"}}}', "put your decision where the ? stands"),
        ("columns: {F: {field: format, scale: {from: [1, 5]}}}", "line 1: found 'key scale'"),
        ("columns: {F: {criterion: x, dates: day month year}}", "line 1: found 'key dates'"),
        ("columns: {F: {field: bought_on, dates: d/m/y}}", "allowed: year month day, day month year, month day year"),
        ("columns: {F: {field: price, currency: XYZ}}", "line 1: found 'XYZ'; allowed: AUD, BHD"),
        ("columns: {F: {criterion: x, scale: {from: [5, 1]}}}", "the lower one first"),
        ("columns: {F: {criterion: x, scale: {from: [5]}}}", "[low, high], its ends as two numbers"),
        ("columns: {F: {field: format, words: {HP: tube, hp: stick}}}", "each old word once, whatever its case"),
        ("columns: {F: [maker]}", "line 1: found 'a list'"),
        ("columns: maker", "line 1: found 'maker'; allowed: a mapping"),
        ("new_makers: true", "line 1: found 'no key columns'"),
        ("columns: {F: maker}\nnew_makers: yes", "line 2: found 'yes'; allowed: true or false"),
        ("columns: {F: maker}\nheader_line: 0", "line 2: found '0'; allowed: a line of the file, from 1"),
        ("columns: {F: maker}\ndelimiter: pipe", "line 2: found 'pipe'; allowed: comma, semicolon, tab"),
        ("columns: {F: maker}\nconstants: {brand: x}", "line 2: found 'key brand'"),
        ("columns: {F: maker}\ncolumn: {}", "line 2: found 'key column'"),
        ("columns: {F: maker, F: paint}", "line 1: found 'F again (first on line 1)'"),
        ("columns: &a {F: *a}", "line 1: found 'alias or anchor"),
        ("columns: !!python/object/apply:os.system [x]", "line 1: found 'tag"),
        ("", "map.yaml line 1: found nothing"),
    ],
)
def test_a_wrong_map_is_refused_with_its_line(text, says):
    """Unknown fields and keys, doubled uses, undecided question marks and YAML traps are each one line."""
    with pytest.raises(BadInput) as refused:
        parse(text, "map.yaml")
    assert len(refused.value.problems) == 1
    assert str(refused.value).startswith("map.yaml")
    assert says in str(refused.value)


@pytest.mark.parametrize(
    ("target", "says"),
    [
        ("{criterion: granulations}", "found 'criterion granulations'; allowed: granulation"),
        ("{criterion: rewetting_in_fives, words: {never: 7}}", "found 'grade 7'; allowed: 0, 1, 2, 3, 4, 5"),
        ("{criterion: cracked, words: {a bit: 2}}", "found 'grade 2'; allowed: 0, 1, 3, 5"),
        ("{criterion: rewetting_in_fives, words: {never: often}}", "found 'choice often'"),
        ("{criterion: cracked, reading: true}", "found 'readings for cracked'"),
    ],
)
def test_a_map_fits_its_rubrics(tmp_path, target, says):
    """Criteria and grades that no rubric offers are refused with the map's line, not with each row's."""
    found = parse(f"columns:\n  Brand: maker\n  Old: {target}\n", "map.yaml")
    with pytest.raises(BadInput) as refused:
        check_map(found, criteria(found.rubrics, tmp_path))
    assert str(refused.value).startswith("map.yaml line 3: ")
    assert says in str(refused.value)


def test_rubrics_are_named_by_key_or_file(tmp_path):
    """A rubric of one's own lies beside the map; an unknown key is refused with those that there are."""
    from tests.small import TEN

    (tmp_path / "ten.yaml").write_bytes(TEN.read_bytes())
    assert "turns" in criteria(["watercolour", "ten.yaml"], tmp_path)
    with pytest.raises(BadInput, match=r"found 'oils'; allowed: .*watercolour"):
        criteria(["oils"], tmp_path)
    with pytest.raises(BadInput):
        criteria(["absent.yaml"], tmp_path)


def test_a_map_in_a_file_is_named_by_its_file(tmp_path):
    """The file's own name is in the message; a map in Latin-1 is refused."""
    path = tmp_path / "my map.yaml"
    path.write_text("columns: {Brand: brand}")
    with pytest.raises(BadInput, match=r"my map\.yaml line 1"):
        load(path)
    path.write_bytes("columns: {Märke: maker}".encode("latin-1"))
    with pytest.raises(BadInput, match="found 'byte 0xE4'"):
        load(path)
