"""Merging: the union of daybooks, nothing changed, forks and forgeries refused, all or nothing."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.errors import BadInput, ChainBroken
from qcledger.ledger import Ledger, merge
from qcledger.ledger.chain import seal
from qcledger.records import Maker, Observation
from tests.ledger.given import NOON, basics, everything, graded, steady, tried
from tests.ledger.test_photos import picture


@pytest.fixture
def theirs(places):
    """Return another tester's ledger, with rows of its own."""
    sources = steady(NOON + timedelta(days=1))
    with Ledger.create(
        places.new("theirs"), letters="OV", tester="Oda Vane", sources=sources, daybook="theirs"
    ) as made:
        made.append([*basics(), graded("their-grade", 3.0)])
        yield made


@pytest.fixture
def empty(places):
    """Return a ledger without anything but its daybook."""
    with Ledger.create(places.new("empty"), letters="EM", tester="Em", sources=steady(), daybook="empty") as made:
        yield made


def test_a_merge_is_a_union_and_changes_no_hash(ledger, theirs):
    """Two testers' daybooks stand side by side in the merged ledger, with the closing hashes they had."""
    ledger.append([graded("my-grade")])
    mine, other = ledger.closing_hashes(), theirs.closing_hashes()
    assert ledger.adopt(theirs.entries(), {}) == len(list(theirs.entries()))
    assert ledger.closing_hashes() == mine | other
    assert {row.observation for row in ledger.tested_rows()} == {"my-grade", "their-grade"}
    assert ledger.verify() == []


def test_a_merge_done_twice_changes_nothing(ledger, theirs):
    """What is here already is passed over."""
    ledger.adopt(theirs.entries(), {})
    before = everything(ledger), ledger.closing_hashes()
    assert ledger.adopt(theirs.entries(), {}) == 0
    assert (everything(ledger), ledger.closing_hashes()) == before


def test_merging_into_an_empty_ledger_is_exact(empty, theirs):
    """A ledger that took in another says the same as the other, entry by entry."""
    empty.adopt(theirs.entries(), {})
    assert list(empty.entries("theirs")) == list(theirs.entries("theirs"))
    for kind, rows in everything(theirs).items():
        if kind != "daybook":
            assert everything(empty)[kind] == rows
    assert empty.tested_rows() == theirs.tested_rows()


def test_later_entries_of_a_known_daybook_are_taken_in(empty, theirs):
    """A daybook that went on since the last merge is continued; an older state of it takes nothing back."""
    early = list(theirs.entries())
    empty.adopt(early, {})
    theirs.append(tried("later"))
    assert empty.adopt(theirs.entries(), {}) == 2
    assert empty.adopt(early, {}) == 0
    assert empty.get(Observation, "later") is not None


def test_the_order_of_two_merges_does_not_matter(places, ledger, theirs):
    """Whoever merges whom, the tables say the same."""
    ledger.append([Maker(id="maker", name="mine says this")])
    theirs.append([Maker(id="maker", name="theirs says that")])
    both = [Ledger.create(places.new(name), letters="X", tester="X", daybook=name) for name in ("one", "two")]
    both[0].adopt(ledger.entries(), {})
    both[0].adopt(theirs.entries(), {})
    both[1].adopt(theirs.entries(), {})
    both[1].adopt(ledger.entries(), {})
    rows = [everything(one) for one in both]
    for found in rows:
        del found["daybook"]
    assert rows[0] == rows[1]
    for one in both:
        one.close()


def test_a_fork_is_refused_naming_both_hashes(ledger, theirs):
    """One number of one daybook with two hashes: refused, both named, nothing taken in."""
    ledger.adopt(theirs.entries(), {})
    fork = list(theirs.entries())[:-1]
    last = fork[-1]
    other = seal(
        daybook="theirs",
        seq=last.seq + 1,
        prev=last.hash,
        kind="maker",
        subject="x",
        at=last.at,
        salt="0" * 32,
        body='{"reason":"","record":{"id":"x","name":"x","note":""}}',
    )
    before = everything(ledger), ledger.closing_hashes()
    with pytest.raises(ChainBroken) as refused:
        ledger.adopt([*fork, other], {})
    mine = next(entry for entry in ledger.entries("theirs") if entry.seq == other.seq)
    assert mine.hash[:12] in str(refused.value)
    assert other.hash[:12] in str(refused.value)
    assert refused.value.exit_code == 1
    assert (everything(ledger), ledger.closing_hashes()) == before


def broken(entries):
    """Yield name and entries of every forgery that must be noticed."""
    yield "edited body", [*entries[:-1], replace(entries[-1], body=entries[-1].body.replace("3.0", "0.0"))]
    yield "middle cut out", [*entries[:3], *entries[4:]]
    yield "first cut off", entries[1:]
    yield "doubled", [*entries, entries[-1]]
    yield "renamed", [replace(entry, daybook="nobody") for entry in entries]
    yield "body taken out", [*entries[:-1], replace(entries[-1], body=None, salt=None)]
    yield "salt taken out", [*entries[:-1], replace(entries[-1], salt=None)]


@pytest.mark.parametrize("number", range(7))
def test_forged_daybooks_are_refused_whole(empty, theirs, number):
    """Every way of changing foreign entries is noticed, and nothing of them is taken in."""
    name, forged = list(broken(list(theirs.entries())))[number]
    before = everything(empty), empty.closing_hashes()
    with pytest.raises(ChainBroken):
        empty.adopt(forged, {})
    assert (everything(empty), empty.closing_hashes()) == before, name


def resealed(entries, kind, subject, body):
    """Return a daybook with one more entry whose hashes fit."""
    last = entries[-1]
    more = seal(
        daybook=last.daybook,
        seq=last.seq + 1,
        prev=last.hash,
        kind=kind,
        subject=subject,
        at=last.at,
        salt="0" * 32,
        body=body,
    )
    return [*entries, more]


@pytest.mark.parametrize(
    ("kind", "subject", "body", "message"),
    [
        ("maker", "x", '{"reason":"","record":{"id":"x","name":"\x1b[2J","note":""}}', "canonical JSON"),
        ("maker", "x", '{"reason":"","record":{"id":"x","name":"a\\u001b[2J","note":""}}', "not cleaned"),
        ("maker", "x", '{"reason":"","record":{"id":"x","name":"a\u202eb","note":""}}', "not cleaned"),
        ("maker", "y", '{"reason":"","record":{"id":"x","name":"a","note":""}}', "the id in its body, x"),
        ("maker", "x", '{"reason":"","record":{"id":"x","name":"a","note":"","stars":5}}', "stars"),
        ("stars", "x", '{"reason":"","record":{"id":"x"}}', "a kind this version knows"),
        ("paint", "x", '{"reason":"","record":{"id":"x","maker":"none","name":"a","note":""}}', "the id of a maker"),
        (
            "redaction",
            "r",
            '{"reason":"","record":{"entry":"ENTRY","id":"r","reason":"because"}}',
            "redact this row too",
        ),
    ],
)
def test_entries_that_fit_their_hashes_but_not_the_ledger_are_refused(empty, theirs, kind, subject, body, message):
    """A valid chain is no licence: hostile texts, unknown fields and dangling rows stay out."""
    entries = list(theirs.entries())
    before = everything(empty), empty.closing_hashes()
    body = body.replace("ENTRY", next(entry.hash for entry in entries if entry.kind == "trial"))
    with pytest.raises(BadInput) as refused:
        empty.adopt(resealed(entries, kind, subject, body), {})
    assert message in str(refused.value)
    assert (everything(empty), empty.closing_hashes()) == before


def test_grades_the_rubric_does_not_offer_are_refused_from_others_too(empty, theirs):
    """Another ledger's observation is held to its rubric as one's own is."""
    entries = list(theirs.entries())
    body = entries[-1].body.replace('"grade":3.0', '"choice":"half"').replace("their-grade", "x")
    parts = body.replace('"choice":"half",', "").replace('"censored"', '"choice":"half","censored"')
    keys = parts.replace('"choice":"half","censored":"exact"', '"censored":"exact","choice":"half"')
    with pytest.raises(BadInput, match="no choice, but a grade"):
        empty.adopt(resealed(entries, "observation", "x", keys), {})


def test_an_observation_cannot_be_overwritten_by_a_merge(ledger, theirs):
    """A foreign entry under the id of one's own observation would change a finding unseen: refused."""
    ledger.append([graded("their-grade", 1.0)])
    before = everything(ledger), ledger.closing_hashes()
    with pytest.raises(BadInput, match="made by two daybooks: grade"):
        ledger.adopt(theirs.entries(), {})
    assert (everything(ledger), ledger.closing_hashes()) == before


def test_a_redaction_travels_with_the_merge(ledger, theirs):
    """What one tester took out is taken out where it was merged before; and it is not brought back by an old copy."""
    early = list(theirs.entries())
    ledger.adopt(early, {})
    entry = theirs.history("observation", "their-grade")[0]
    theirs.redact(entry=entry.hash, reason="a reader's name stood in it")
    ledger.adopt(theirs.entries(), {})
    assert ledger.history("observation", "their-grade")[0].body is None
    assert ledger.get(Observation, "their-grade") is None
    assert ledger.adopt(early, {}) == 0
    assert ledger.history("observation", "their-grade")[0].body is None
    assert ledger.verify() == []


def test_an_amendment_follows_what_it_amends_whoever_has_the_faster_clock(ledger, theirs):
    """My change of a row that a tester with a clock ahead wrote stands, also after a rebuild."""
    ledger.adopt(theirs.entries(), {})
    ledger.append([Maker(id="maker", name="mine, later")])
    assert ledger.get(Maker, "maker").name == "mine, later"
    ledger.rebuild()
    assert ledger.get(Maker, "maker").name == "mine, later"


def test_a_merge_that_was_cut_short_is_finished_by_the_next(places, tmp_path, monkeypatch):
    """Killed before it commits, a merge leaves no photo that no row names; the next one takes what it left away."""
    (tmp_path / "p.jpg").write_bytes(picture())
    with Ledger.create(tmp_path / "theirs.sqlite", letters="BO", tester="Ben", sources=steady(prefix="b")) as theirs:
        theirs.append(basics())
        photo = theirs.add_photo(tmp_path / "p.jpg", specimen="specimen")
        entries, pictures = list(theirs.entries()), {photo.sha256: tmp_path / "p.jpg"}
    with Ledger.create(places.new("empty"), letters="OV", tester="Oda Vane") as ledger:
        with monkeypatch.context() as cut:
            cut.setattr(merge, "_check", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
            cut.setattr(merge.shutil, "rmtree", lambda *_, **__: None)  # killed: nobody is left to do it
            with pytest.raises(KeyboardInterrupt):
                ledger.adopt(entries, pictures)
        assert [path.name[:9] for path in ledger.photos.iterdir()] == [".merging."]
        assert ledger.verify() == []
        assert ledger.adopt(entries, pictures) == len(entries)
        assert [path.name for path in ledger.photos.iterdir()] == [f"{photo.sha256}.jpg"]
        assert ledger.verify() == []
