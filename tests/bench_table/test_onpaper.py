"""The paper of a comparison: the first sheet sets it, another is kept apart, and both are said before it is made."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.bench import closing, facts, wishes
from qcledger.bench.offer import offer
from qcledger.bench.onpaper import on_paper, papers
from qcledger.ledger import new_id
from qcledger.records import Comparison, Session, Sheet
from qcledger.report.sheet import about
from qcledger.report.sheet import proposed as told
from tests.bench_table.given import new_ledger, proposed, search_shortly
from tests.small import START

FOUR, RAG, PULP = "OV 0001, OV 0009, OV 0017, OV 0025", "cotton 300 g", "wood pulp 190 g"


@pytest.fixture
def ledger(tmp_path, monkeypatch):
    """Yield a ledger to plan on with a short search."""
    search_shortly(monkeypatch)
    with new_ledger(tmp_path) as opened:
        yield opened


def plan(ledger, paper, code="S01", **values):
    """Return a proposal on a paper; nothing is kept."""
    return proposed(ledger, specimens=FOUR, repeats="0", paper=paper, session=code, **values)


def kept(ledger, paper, code="S01", **values):
    """Keep a sheet on a paper and return its session."""
    proposal = plan(ledger, paper, code, **values)
    wishes.keep(proposal, ledger)
    return proposal.laid.sessions[0]


def reference(ledger):
    """Return the paper of the one comparison."""
    (one,) = ledger.rows(Comparison)
    return one.reference_paper


def test_the_first_sheet_sets_the_paper_and_says_so(ledger):
    """Said before it is kept, written in the same save; the second sheet on it says nothing."""
    proposal = plan(ledger, RAG)
    said = f"this sets the comparison's paper: findings stay on {RAG}; sheets on other paper are kept apart"
    assert said in told(proposal)
    wishes.keep(proposal, ledger)
    assert reference(ledger) == RAG
    (entry,) = ledger.history("comparison", ledger.rows(Comparison)[0].id)
    assert RAG in entry.body
    assert not [line for line in told(plan(ledger, RAG, "S02")) if "findings stay on" in line]


def test_another_paper_is_said_and_kept_apart(ledger):
    """Before it is made and whenever it is shown; the comparison's paper stays as it is."""
    kept(ledger, RAG)
    proposal = plan(ledger, PULP, "S02")
    said = f"findings stay on {RAG}; sheets on {PULP} are kept apart"
    assert (proposal.wish.plan.is_apart, told(proposal).count(said)) == (True, 1)
    wishes.keep(proposal, ledger)
    assert reference(ledger) == RAG
    session = proposal.laid.sessions[0]
    assert said in about(facts.of_session(ledger, session)[0])
    assert closing.on_other_paper(ledger, session) == said
    first = next(one for one in ledger.rows(Session) if one.code == "S01")
    assert closing.on_other_paper(ledger, first) == ""


def test_the_same_paper_in_other_letters_is_the_same(ledger):
    """Letter case and blanks do not make another paper: the sheet is written as its comparison writes it."""
    kept(ledger, RAG)
    session = kept(ledger, " Cotton  300 G ", "S02")
    assert [sheet.paper for sheet in ledger.rows(Sheet, session=session.id)] == [RAG]


def test_a_comparison_without_one_takes_that_of_its_first_sheet(ledger):
    """One made before papers were set: the sheet begun first counts, whatever the ids; the amendment is one entry."""
    session = kept(ledger, PULP)
    (old,) = ledger.rows(Comparison)
    later = replace(session, id="0", code="S00", started_at=START + timedelta(hours=1))
    ledger.append([replace(old, reference_paper=None), later, Sheet(id="0", session="0", number=1, paper=RAG)])
    assert papers(ledger) == {old.id: PULP}
    proposal = plan(ledger, RAG, "S02")
    assert proposal.wish.plan.said == f"findings stay on {PULP}; sheets on {RAG} are kept apart"
    assert reference(ledger) is None
    before = len(ledger.history("comparison", old.id))
    wishes.keep(proposal, ledger)
    assert reference(ledger) == PULP
    assert len(ledger.history("comparison", old.id)) == before + 1


def test_a_slip_of_the_first_sheet_is_put_right_by_voiding_it(ledger):
    """Where every sheet is void the next one sets the paper; where one stands, it stays."""
    session = kept(ledger, PULP)
    ledger.append(closing.void(session, "the wrong block", by="OV", at=START, new_id=new_id))
    proposal = plan(ledger, RAG, "S02")
    assert proposal.wish.plan.said.startswith("this sets the comparison's paper")
    wishes.keep(proposal, ledger)
    assert reference(ledger) == RAG
    assert plan(ledger, PULP, "S03").wish.plan.is_apart


def test_a_paper_set_beforehand_stays(ledger):
    """A comparison that came with its paper and has no sheet yet: the first sheet on another one is apart."""
    given = Comparison(id="cp", title="reds", question="", started_on=START.date(), reference_paper=RAG)
    ledger.append([given])
    assert offer(ledger).paper("Reds") == RAG
    found = on_paper(given, PULP, papers(ledger))
    assert (found.is_apart, found.sets, found.comparison) == (True, False, given)


def test_the_comparisons_paper_is_offered_with_its_lot(ledger):
    """Not that of the last sheet, which was kept apart; a new comparison is offered the last one used."""
    kept(ledger, RAG, paper_lot="January")
    kept(ledger, PULP, "S02", paper_lot="March")
    shown = offer(ledger).proposed()
    assert (shown["paper"], shown["paper_lot"]) == (RAG, "January")
    assert offer(ledger).paper("four paints") == RAG
    assert offer(ledger).paper("a new one") == PULP
