"""One row builder: names that stay, and the same values in CSV and JSON."""

import csv
import json
from dataclasses import replace
from io import StringIO

import pytest

from qcledger.findings import read
from qcledger.report import findings_csv, findings_json
from qcledger.report.rows import finding_row
from qcledger.report.to_json import FORM
from qcledger.vocab import Standing
from tests.findings.made import confirming, criterion, field, only, paints, row
from tests.hostile import FORMULAS

FOUND = read(
    paints("A", bad=4) + confirming("A") + field("BCDE") + [row(maker="Z", grade=None, not_testable=True)], only()
)

NAMES = [
    "criterion", "criterion_title", "severity", "maker", "format", "specimens", "faulty", "lots",
    "lots_with_fault", "parcels_without_code", "paints", "paints_with_fault", "planned", "planned_faulty",
    "to_confirm", "to_confirm_faulty", "because_of_note", "because_of_note_faulty", "rate", "wilson_low",
    "wilson_high",
    "lot_aware_low", "lot_aware_high", "still_allowed", "median_grade", "not_testable", "not_testable_because",
    "standing", "extent", "points_to", "subject", "statement", "explains", "exceptions", "free_of",
    "shared_by_makers",
    "peer_makers", "peer_specimens", "peer_faulty", "all_specimens",
    "all_faulty", "usual_rate", "pooled", "pooled_rate", "pooled_low", "pooled_high", "pooled_excess",
    "pooled_excess_low", "pooled_excess_high", "chance_of_excess", "chance_of_ten_points",
    "chance_of_format", "chance_of_maker", "likeliest_pigment", "chance_of_pigment",
    "likeliest_paint", "chance_of_paint", "likeliest_lot", "chance_of_lot", "exchange_p",
    "fair_fields_as_strong", "fair_fields", "stress_stands", "stress_checks", "stress_too_little",
    "sellers", "parcels", "sessions", "blinding", "bought_first", "bought_last",
    "tested_first", "tested_last", "comparisons_seen", "comparisons_looked", "comparisons_since",
    "parcels_seen", "parcels_looked", "parcels_since", "gifts",
    "gifts_faulty", "older_notes", "older_notes_faulty", "in_void_sessions", "on_other_paper", "reader_notes",
    "sentence", "further", "would_settle", "kept_private", "asked_and_answered", "decided",
]  # fmt: skip


def test_names_are_stable():
    """The names of a row, in order; whoever reads them relies on each. A change needs a new form."""
    assert list(finding_row(FOUND.findings[0])) == NAMES
    assert FORM == 2


def test_csv_holds_every_row():
    """One line a finding under the names; nothing is an empty cell."""
    lines = list(csv.DictReader(StringIO(findings_csv(FOUND))))
    assert list(lines[0]) == ["kind", *NAMES]
    assert {line["kind"] for line in lines} == {"finding"}
    assert [line["maker"] for line in lines] == [f"Maker {name}" for name in "ABCDEZ"]
    first, last = lines[0], lines[-1]
    assert (first["specimens"], first["faulty"], first["standing"], first["extent"]) == (
        "10",
        "10",
        "settled",
        "this maker's format",
    )
    assert (last["specimens"], last["rate"], last["not_testable"], last["bought_first"]) == ("0", "", "1", "")


def test_json_holds_the_same_values():
    """Each CSV cell is the JSON value written out."""
    lines = list(csv.DictReader(StringIO(findings_csv(FOUND))))
    told = json.loads(findings_json(FOUND))
    assert told["form"] == FORM
    for line, one in zip(lines, told["findings"], strict=True):
        same = [name for name in NAMES if name != "exceptions"]  # a list there, with checks of its own
        assert {name: "" if one[name] is None else str(one[name]) for name in same} == {
            name: line[name].removeprefix("'") for name in same
        }
        assert len(one["exceptions"]) == len(line["exceptions"].split("; ")) - (not line["exceptions"])


def test_json_carries_what_led_to_it():
    """Checks, exceptions and lots stand below each finding."""
    one = json.loads(findings_json(FOUND))["findings"][0]
    assert {"check": "bought to confirm", "met": True, "found": "2 of 2"}.items() <= one["checks"][-1].items()
    assert sum(lot["specimens"] for lot in one["lots_tested"]) == one["specimens"]
    assert one["exceptions"] == []


@pytest.mark.parametrize("name", FORMULAS)
def test_csv_runs_no_formula(name):
    """A name that a spreadsheet would run gets an apostrophe in front."""
    found = read([replace(row(grade=5), maker_name=name)], only())
    cell = next(csv.DictReader(StringIO(findings_csv(found), newline="")))["maker"]
    assert cell == f"'{name}"


def test_traits_have_rows_of_their_own():
    """Where only traits are asked for, the CSV is about them; JSON has both."""
    found = read([row(criterion="grain", grade=2)], only(criterion("grain", fault_line=None)))
    (line,) = csv.DictReader(StringIO(findings_csv(found)))
    assert (line["median"], line["specimens"]) == ("2.0", "1")
    assert json.loads(findings_json(found))["traits"][0]["criterion"] == "grain"


def test_nothing_is_an_empty_table():
    """No findings: no lines, and empty lists."""
    empty = read([], only())
    assert findings_csv(empty) == ""
    assert json.loads(findings_json(empty)) == {
        "form": FORM,
        "findings": [],
        "traits": [],
        "label_facts": [],
        "blind_sessions_left_out": [],
        "left_apart_on_other_paper": [],
    }


def test_standings_have_stable_names_in_files_and_old_words_still_read():
    """Files hold one word each; what was kept in the words of before, or by a name for files, reads as what it is."""
    names = {one.name_for_files for one in Standing}
    assert names == {"none_found", "open", "checking", "to_confirm", "settled"}
    assert {str(one): Standing(one.name_for_files) for one in Standing} == {str(one): one for one in Standing}
    assert (Standing("not settled"), Standing("holds")) == (Standing("open"), Standing("settled"))
    with pytest.raises(ValueError, match="guilty"):
        Standing("guilty")
