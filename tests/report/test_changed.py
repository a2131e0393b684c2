"""What an update changed: a row that reads otherwise by other rules is told with the rule until it was seen."""

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import pytest

from qcledger.bench.due import LooseEndKind
from qcledger.findings import find, gather
from qcledger.findings.finding import CheckName
from qcledger.findings.pool import Pool
from qcledger.findings.rules import RuleChange
from qcledger.findings.stress import Worries
from qcledger.report.changed import AS_WELL, UNNAMED, ToldStandings, changed_lines, key_of, told_of, told_words
from qcledger.vocab import Extent, Standing
from tests.findings.made import HALF, confirming, field, only, paints

ROWS = (*paints("A", bad=5), *field("BCDE"))
SPREAD = RuleChange(2, date(2027, 1, 5), "faults in two paints are asked for", frozenset({CheckName.FAULTY_PAINTS}))
BOUGHT = RuleChange(3, date(2027, 2, 5), "what confirms is of another lot", frozenset({CheckName.CONFIRMED}))


@pytest.fixture(scope="module")
def before():
    """Return findings in which maker A is settled."""
    return find(gather((*ROWS, *confirming("A")), only()))


@pytest.fixture(scope="module")
def after(before):
    """Return the same with maker A to be confirmed, as other rules would have it."""
    return _with(before, Standing.TO_CONFIRM)


def _with(found, standing):
    """Return findings with maker A's claim at a standing, what confirms it not met."""

    def moved(claim):
        checks = tuple(replace(one, met=one.name is not CheckName.CONFIRMED) for one in claim.checks)
        return replace(claim, standing=standing, checks=checks)

    return replace(
        found,
        findings=tuple(
            replace(one, standing=standing, claim=moved(one.claim), checks=moved(one.claim).checks)
            if one.maker == "A"
            else one
            for one in found.findings
        ),
    )


def told(folder, *changes, records="r1", program="0.1.0"):
    """Return what is remembered of one ledger by these rules."""
    ledger = SimpleNamespace(where="here", closing_hashes=lambda: {"d": (1, records)})
    return ToldStandings(ledger, folder, changes, program)


def test_the_first_time_nothing_is_told(tmp_path, before):
    """Without a memory nothing can have changed; the same rules tell nothing either, whatever was recorded since."""
    assert told(tmp_path).changed(before) == []
    assert told(tmp_path).changed(before) == []
    assert told(tmp_path, records="r2").changed(_with(before, Standing.TO_CONFIRM)) == []


def test_a_standing_that_other_rules_change_is_told_with_the_rule(tmp_path, before, after):
    """From what, to what, and of two changed rules the one whose check is not met; the others' rows are not told."""
    told(tmp_path).changed(before)
    (one,) = told(tmp_path, SPREAD, BOUGHT).changed(after)
    assert (one.finding.maker, one.rules, one.recorded) == ("A", (BOUGHT,), False)
    (line,) = changed_lines([one])
    assert line.kind is LooseEndKind.CHANGED
    assert line.subject == "froth | A | half pan"
    assert line.words == (
        "Maker A half pan, froth: /// settled (this maker's half pans) before the update, now //- to "
        "confirm. The rule: what confirms is of another lot"
    )


def test_it_stands_until_somebody_looked_at_it(tmp_path, before, after):
    """It is told at each look, and no more once it was seen; then the same rules change nothing."""
    told(tmp_path).changed(before)
    for _ in range(2):
        (one,) = told(tmp_path, BOUGHT).changed(after)
    told(tmp_path, BOUGHT).seen(after, [key_of(one.finding)])
    assert told(tmp_path, BOUGHT).changed(after) == []


def test_a_standing_that_comes_back_is_told_no_more(tmp_path, before, after):
    """What reads as it was told last has not changed."""
    told(tmp_path).changed(before)
    assert told(tmp_path, BOUGHT).changed(after)
    assert told(tmp_path, BOUGHT).changed(before) == []


def test_records_that_were_added_as_well_are_said(tmp_path, before, after):
    """Where rules and records both changed, both are named: which of them did it is not known."""
    told(tmp_path).changed(before)
    (line,) = changed_lines(told(tmp_path, BOUGHT, records="r2").changed(after))
    assert line.words.endswith(BOUGHT.words + AS_WELL)


def test_a_program_that_names_no_rule_is_told_too(tmp_path, before, after):
    """The same records and rules, another version, another standing: that is to be reported."""
    told(tmp_path).changed(before)
    (line,) = changed_lines(told(tmp_path, program="0.2.0").changed(after))
    assert line.words.endswith(UNNAMED)
    told(tmp_path / "other").changed(before)
    assert told(tmp_path / "other", program="0.2.0", records="r2").changed(after) == []


def test_a_rule_that_touches_nothing_asked_comes_with_every_other(tmp_path, before):
    """Of a claim that is gone nothing says which rule did it: each change since is named."""
    bare = replace(before, findings=tuple(replace(one, claim=None, checks=()) for one in before.findings))
    told(tmp_path).changed(before)
    (one,) = told(tmp_path, SPREAD, BOUGHT).changed(_plainly(bare))
    assert one.rules == (SPREAD, BOUGHT)


def _plainly(found):
    return replace(
        found,
        findings=tuple(replace(one, standing=Standing.OPEN) if one.maker == "A" else one for one in found.findings),
    )


def test_what_is_still_worked_out_waits(tmp_path, before):
    """While the model is asked anew a row is neither told nor forgotten; how many wait is said."""
    told(tmp_path).changed(before)
    asking = find(gather((*ROWS, *confirming("A")), only()), pool=Pool(lambda key: None, Worries()))
    now = told(tmp_path, BOUGHT)
    assert now.awaited(asking) == 1
    assert now.changed(asking) == []
    (line,) = changed_lines([], 1)
    assert (line.subject, "1 standing is still to be worked out" in line.words) == ("", True)
    assert [one.finding.maker for one in told(tmp_path, BOUGHT).changed(_with(before, Standing.TO_CONFIRM))] == ["A"]


def test_what_is_told_of_a_row_names_each_claim(before):
    """Standing, extent and subject of what may be said, else the standing alone."""
    of = {one.maker: told_of(one) for one in before.findings if one.format == HALF}
    assert of["A"] == (("settled", Extent.MAKER_FORMAT.name, "Maker A", "half pan"),)
    assert told_words(of["B"]) == "--- none found"
    assert told_words((("to_confirm", "LOT", "Red", "Q2"), ("settled", "PAINT", "Blue"))) == (
        "//- to confirm (lot Q2 of Red) and /// settled (paint Blue)"
    )


@pytest.mark.parametrize("bad", ["", "{", "[]", '{"froth | A | half pan": 3}', '{"froth | A | half pan": [1,2,3,4]}'])
def test_a_memory_that_cannot_be_read_is_none(tmp_path, before, bad):
    """A file cut short, or changed by hand, remembers nothing, and is written anew."""
    told(tmp_path).changed(before)
    (place,) = tmp_path.rglob("*.json")
    place.write_text(bad)
    assert told(tmp_path, BOUGHT).changed(_with(before, Standing.OPEN)) == []
    assert place.read_text() != bad


def test_the_memory_of_each_ledger_is_its_own(tmp_path, before, after):
    """What is told of another ledger changes nothing here."""
    told(tmp_path).changed(before)
    other = SimpleNamespace(where="there", closing_hashes=dict)
    assert ToldStandings(other, tmp_path, (BOUGHT,)).changed(after) == []
    assert len(list(tmp_path.rglob("*.json"))) == 2
