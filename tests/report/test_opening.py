"""What Findings opens on: one line a thing, in sections, each whole and each found by its words."""

from dataclasses import replace

import pytest

from qcledger.findings import read
from qcledger.findings.overview import Findings
from qcledger.findings.said import SaidBeside
from qcledger.report.opening import COMMON, SETTLED, SO_FAR, TO_CONFIRM, matching, opening_lines
from tests.findings.made import HALF, PIGMENTS, TUBE, criterion, field, only, paints, row


def lot(maker, faulty, sound=4, **more):
    """Return a bad lot of one paint beside sound ones of others, seen faulty again in what was bought later."""
    bad = [
        row(maker=maker, paint="Paint PG7", pigments=("PG7",), lot="L7", grade=5, parcel=f"P{n}", **more)
        for n in range(faulty)
    ]
    return bad + [
        row(maker=maker, paint="Paint PG7", pigments=("PG7",), lot=f"M{n}", parcel="P1") for n in range(sound)
    ]


@pytest.fixture
def found():
    """Return findings in which something is settled, common and open."""
    rows = field("BCDEFG", bad=4, formats=(HALF,)) + field("BCDEFG", formats=(TUBE,))
    rows += paints("A", formats=(HALF,)) + paints("A", formats=(TUBE,))
    rows += [row(maker="B", paint="Odd", pigments=("PR1",), format=TUBE, grade=5, parcel="P9")]
    return read(rows, only())


def sections(lines):
    """Return the headings, and the words of what stands below each."""
    told = {}
    for one in lines:
        if one.is_heading:
            told[one.words] = below = []
        else:
            below.append(one.words)
    return told


def test_what_is_common_is_told_once_with_who_is_free_of_it(found):
    """Six makers' half pans are one line; the seventh, that shows none, is named in it with what is possible."""
    (line,) = sections(opening_lines(found))[COMMON]
    assert line == "Half pans, froth: 6 of 7 makers; free of it: Maker A, none of 8, up to 31 % could be (95 %)"


def test_a_lot_is_one_line_however_many_faults_it_has():
    """Two faults of one lot are told as one lot, the lot named; nothing of it stands in another section."""
    rows = lot("A", 4) + field("BC")
    keys = ("froth", "edge")
    both = [replace(one, criterion=key, observation=f"{one.observation}{key}") for key in keys for one in rows]
    told = sections(opening_lines(read(both, only(*map(criterion, keys)))))
    (line,) = told.get(SETTLED) or told[TO_CONFIRM]
    assert line.startswith("Maker A Paint PG7, half pan, lot L7: edge and froth (one lot, told once), edge 4 of 4")


def test_nothing_is_settled_for_good_while_answers_are_missing(found):
    """Each heading of what is settled says that it may change, until everything is worked out."""
    heads = [one.words for one in opening_lines(found, missing=2) if one.is_heading]
    assert f"{COMMON}{SO_FAR}" in heads
    assert {head.removesuffix(SO_FAR) for head in heads} == set(sections(opening_lines(found)))


def test_open_lines_are_those_with_a_fault_and_the_others_are_counted(found):
    """What lacks least stands first; a cell without a fault has no line of its own."""
    told = sections(opening_lines(found))
    (head,) = (one for one in told if one.startswith("Open"))
    assert len(told[head]) == 1
    assert told[head][0].startswith("Maker B, tube, froth: 1 of 9")
    assert head.startswith("Open, nearest to a judgement first: 1; ")
    assert "more without a fault" in head


def test_a_line_says_what_was_asked_and_what_is_private(found):
    """The last question and whether it was answered stand in the line; so does that it is kept private."""
    asked = SaidBeside(asked=("Asked 2 March 2026; answered 4 May 2026: no reason.",))
    kept = SaidBeside(private="x")
    for said, words in ((asked, "asked 2 March 2026; answered 4 May 2026"), (kept, "kept private")):
        rows = read(lot("A", 4) + field("BC"), only())
        told = replace(rows, findings=tuple(replace(one, said=said) for one in rows.findings))
        line = next(one for one in opening_lines(told) if not one.is_heading)
        assert line.words.endswith(f"; {words}")


@pytest.mark.parametrize(("words", "lines"), [(("half",), 1), (("HALF".casefold(), "froth"), 1), (("nowhere",), 0)])
def test_words_filter_lines_and_keep_the_headings_above_them(found, words, lines):
    """Each word must be in a line, letter case aside; a heading without lines goes."""
    kept = matching(opening_lines(found), words)
    assert sum(not one.is_heading for one in kept) == lines
    assert sum(one.is_heading for one in kept) == bool(lines)
    assert matching(opening_lines(found), ()) == opening_lines(found)


def test_nothing_found_has_no_lines():
    """An empty ledger opens on nothing; sound paints open on a count alone."""
    assert opening_lines(Findings((), (), {})) == []
    assert all(one.is_heading for one in opening_lines(read(field("BC", pigments=PIGMENTS[:1]), only())))
