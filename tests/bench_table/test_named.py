"""Which session a code means: one, or it is asked back with what tells the several apart."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.bench.named import by_whom, session_of
from qcledger.errors import BadInput
from qcledger.ledger import Ledger
from qcledger.records import Comparison, Session
from tests.small import START, small_ledger


@pytest.fixture
def ledger(tmp_path):
    """Yield a ledger with session S04 of "viridian, all makers" and five more."""
    with small_ledger(tmp_path).open(write=True) as opened:
        opened.append([Comparison(id="other", title="half pans 2026", question="", started_on=START.date())])
        yield opened


def begun(ledger, **values):
    """Keep one more session, like the first but for these values."""
    one = replace(ledger.get(Session, "se"), **values)
    ledger.append([one])
    return one


def test_a_code_that_one_session_has_names_it(ledger):
    """Letter case aside, and by its id where no code reads so."""
    assert session_of(ledger, "S04").id == session_of(ledger, " s04 ").id == session_of(ledger, "se").id == "se"
    assert session_of(ledger, "S4").id == session_of(ledger, "s 004").id == "se"
    with pytest.raises(BadInput, match="session: found 'S99'; allowed: S04"):
        session_of(ledger, "S99")


def test_what_is_written_just_so_comes_first(ledger):
    """Of S04 and s04 the one that reads like the typed text is meant."""
    small = begun(ledger, id="small", code="s04")
    assert (session_of(ledger, "S04").id, session_of(ledger, "s04")) == ("se", small)


def test_several_sessions_of_one_code_are_asked_back(ledger):
    """One line lists each with comparison, day and tester, and how to name it; the comparison then finds it."""
    later = begun(ledger, id="tl", comparison="other", tester="TL", started_at=START + timedelta(days=60))
    with pytest.raises(BadInput) as refused:
        session_of(ledger, "s04")
    assert refused.value.line() == (
        "session: found 's04', 2 sessions; allowed: one, by --comparison TITLE, or a comma and title, day or tester "
        "behind the code: viridian, all makers (2026-03-09, OV); half pans 2026 (2026-05-08, TL)"
    )
    assert refused.value.lines() == [refused.value.line()]
    assert session_of(ledger, "S04", "Half pans 2026") == later
    assert session_of(ledger, "S04", "viridian, all makers").id == "se"
    for told in ("half pans 2026", "tl", "2026-05-08"):
        assert session_of(ledger, f"s04, {told}") == later
    assert session_of(ledger, "S04, viridian, all makers").id == "se"
    with pytest.raises(BadInput, match="--comparison: found 'ochres'; allowed: viridian, all makers, half pans 2026"):
        session_of(ledger, "S04", "ochres")


def test_two_testers_in_one_comparison_are_told_apart(ledger):
    """The comparison does not do then, and it is asked back again; the tester behind a comma does."""
    other = begun(ledger, id="tl", tester="TL")
    with pytest.raises(BadInput, match=r"2 sessions.* OV\); viridian, all makers \(2026-03-09, TL\)"):
        session_of(ledger, "S04", "viridian, all makers")
    assert session_of(ledger, "S04, tl", "viridian, all makers") == other
    assert session_of(ledger, "S04, OV").id == "se"


def test_only_what_tells_two_testers_apart_is_offered(ledger, tmp_path):
    """One comparison, one day: the advice is the tester, who is found by letters or how the name begins."""
    first = ledger.get(Session, "se")
    with Ledger.create(tmp_path / "be.sqlite", letters="BE", tester="Anno Test") as guest:
        guest.adopt(list(ledger.entries()), {})
        guest.append([replace(first, id="anno", tester="Anno Test")])
        ledger.adopt(list(guest.entries()), {})
    told = (
        "allowed: one, by a comma and tester behind the code: viridian, all makers (2026-03-09, Anno Test); "
        "viridian, all makers (2026-03-09, OV)"
    )
    for asked, count in (("S04", "2 sessions"), ("S04, Bea", "no session"), ("s04, viridian, all makers", "2")):
        with pytest.raises(BadInput) as refused:
            session_of(ledger, asked)
        assert refused.value.line().startswith(f"session: found '{asked}', {count}")
        assert refused.value.line().endswith(told)
    assert {session_of(ledger, f"S04, {text}").id for text in ("Anno", "be", "anno t", "BE")} == {"anno"}
    assert session_of(ledger, "S04, ov").id == "se"
    assert (by_whom(ledger, first), by_whom(ledger, session_of(ledger, "S04, be"))) == (" of OV", " of Anno Test")


def test_what_stands_behind_a_comma_for_nothing_is_told(ledger):
    """A code that one session has: what is allowed is that session with its marks, not every code."""
    with pytest.raises(BadInput) as refused:
        session_of(ledger, "S04, Bea")
    assert refused.value.line() == (
        "session: found 'S04, Bea', no session; allowed: one, by a comma and title, day or tester behind the code: "
        "viridian, all makers (2026-03-09, OV)"
    )
    assert by_whom(ledger, session_of(ledger, "S04")) == ""


def test_what_nothing_tells_apart_is_named_by_its_id(ledger):
    """Two of one comparison, day and tester: the id is listed, and takes."""
    twin = begun(ledger, id="twin", started_at=START + timedelta(hours=3))
    with pytest.raises(BadInput, match=r"OV, se\); viridian, all makers \(2026-03-09, OV, twin\)"):
        session_of(ledger, "S04")
    assert session_of(ledger, "S04, twin") == twin


def test_a_long_list_is_not_cut(ledger):
    """Five sessions with long titles are all named in the one line, each as it can be typed."""
    for number in range(5):
        title = f"a comparison with a long title of number {number}, kept as it was typed by its tester"
        ledger.append([Comparison(id=f"cp{number}", title=title, question="", started_on=START.date())])
        begun(ledger, id=f"se{number}", comparison=f"cp{number}")
    with pytest.raises(BadInput) as refused:
        session_of(ledger, "S04")
    line = refused.value.line()
    assert "\n" not in line
    assert [f"of number {number}," in line for number in range(5)] == [True] * 5
    told = line.partition("number 3,")[2].partition(" (")[0]
    assert session_of(ledger, "S04", f"a comparison with a long title of number 3,{told}").id == "se3"


def test_a_code_may_hold_a_comma(ledger):
    """The whole text is looked for first, and the longest code before the comma."""
    one = begun(ledger, id="comma", code="S04, TL")
    two = begun(ledger, id="again", code="S04, TL", tester="TL")
    assert {one.id, two.id} == {"comma", "again"}
    with pytest.raises(BadInput, match="2 sessions"):
        session_of(ledger, "S04, TL")
    assert session_of(ledger, "S04, TL, OV").id == "comma"
