"""Editions of the demo: what is missing, what is recorded, and what changed since."""

import hashlib
from dataclasses import replace

import pytest

from qcledger.ledger import Ledger
from qcledger.public import editions
from qcledger.public.gather import rules_of
from qcledger.public.missing import GapKind, HeldBack, missing
from qcledger.records import Decision, Publication, Statement
from qcledger.records.finding_key import FindingKey
from qcledger.vocab import DecisionKind
from tests.public.conftest import ON_THE_DAY

TODAY = ON_THE_DAY.now().date()


@pytest.fixture
def ledger(home, demo_file, tmp_path):
    """Return a copy of the demo that may be written to."""
    import shutil

    place = tmp_path / "demo.ledger"
    shutil.copy(demo_file, place)
    with Ledger.open(place, write=True, letters="OV", tester="OV, Brinefold Studio", sources=ON_THE_DAY) as own:
        yield own


@pytest.fixture
def now(ledger, demo_found):
    """Return what the demo would say."""
    return editions.said_now(demo_found, rules_of(ledger))


def recorded(ledger, view, now):
    """Record an edition and return its statements."""
    rows = editions.rows_of(view, now, (), "0" * 64, ledger.new_id)
    ledger.append(rows)
    return [one for one in ledger.rows(Statement) if one.standing == editions.SETTLED]


def test_what_is_missing_in_the_demo(demo_gathered):
    """A maker that was not asked, one whose answer is awaited, a session in question, disclosures and the address."""
    found = missing(demo_gathered.view, [HeldBack("mould | m | half pan", "Corvannet, half pan, Mould")], TODAY)
    gaps = [str(one.problem) for one in found]
    for said in ("Aldervane, Dried tube", "Fennacre, label of Viridian", "S07", "health",
                 "--disclosed", "--limits", "captions", "--address"):  # fmt: skip
        assert [one for one in gaps if said in one], said
    assert not [one for one in gaps if "Quernlow" in one or "Trellmere" in one or "Corvannet, Faintness" in one]
    (health,) = [one for one in found if one.kind is GapKind.HEALTH]
    assert health.printed == ""
    assert [
        one for one in missing(demo_gathered.view, [], TODAY, captions_read=True) if one.kind is GapKind.CAPTIONS
    ] == []


def test_an_edition_is_kept_word_for_word(ledger, demo_gathered, now):
    """Each settled thing is one row with its words; what is common to makers is kept under none of them."""
    kept = recorded(ledger, _edition(demo_gathered.view), now)
    assert sorted(one.sentence for one in kept) == sorted(one.sentence for one in demo_gathered.view.statements)
    assert {one.maker is None for one in kept if "pigment" in one.extent} == {True}
    (row,) = ledger.rows(Publication)
    assert len(row.closing) == len(demo_gathered.view.closing)


def _edition(view):
    return replace(view, edition=replace(view.edition, number=1))


def test_nothing_changed_is_no_change(ledger, demo_gathered, now):
    """The same findings again say nothing new, and before the first edition there is nothing to compare."""
    assert editions.changes(ledger, now, TODAY) == []
    recorded(ledger, _edition(demo_gathered.view), now)
    assert editions.changes(ledger, now, TODAY) == []


def test_each_change_is_dated_and_named(ledger, demo_gathered, now):
    """New, said otherwise, no longer standing and withdrawn are told apart, each with what was said before."""
    first, second, third, *rest = now
    before = [replace(first, sentence="It said something else."), second, third]
    kept = recorded(ledger, _edition(demo_gathered.view), before)
    told = {one.about: one for one in editions.changes(ledger, [first, *rest], TODAY)}
    assert (told[first.about].how, told[first.about].before) == (editions.OTHERWISE, "It said something else.")
    assert {told[one.about].how for one in rest} == {editions.NEW}
    gone = [one for one in told.values() if one.how == editions.GONE]
    assert sorted(one.before for one in gone) == sorted((second.sentence, third.sentence))
    assert {one.on for one in told.values()} == {TODAY}
    wrong = next(one for one in kept if one.sentence == third.sentence and one.maker)
    key = FindingKey.read(wrong.finding)
    wrongly = Decision(
        id=ledger.new_id(),
        kind=DecisionKind.CORRECT,
        subject_table=key.subject_table,
        subject=key.maker,
        by="OV",
        on=TODAY,
        reason="The wrong tube.",
    )
    ledger.append([wrongly])
    hows = [one.how for one in editions.changes(ledger, [first, *rest], TODAY) if one.before == third.sentence]
    assert hows == [editions.WITHDRAWN]


def test_what_may_concern_health_is_released_by_the_maker_asked_and_a_decision(ledger):
    """Kept private and taken back, a finding is released where the maker was asked, and not elsewhere."""
    from qcledger.bench.public.deciding import about_finding
    from qcledger.public.asked import Askings, released
    from qcledger.records import Maker

    names = {row.name: row.id for row in ledger.rows(Maker)}
    keys = [FindingKey("mould", names[one], "half pan") for one in ("Corvannet", "Drumlaw")]
    assert released(ledger, Askings(ledger).at_all) == frozenset()
    for kind in (DecisionKind.HOLD_BACK, DecisionKind.PUBLISH):
        given = {"reason": "maker, seller and authority know", "by": "OV", "on": TODAY, "new_id": ledger.new_id}
        ledger.append([about_finding(kind, key, **given) for key in keys])
    assert released(ledger, Askings(ledger).at_all) == {keys[0]}


# Read back, and told


def _gone(ledger, view, now):
    """Record two editions, of which the second says one thing less, and return both."""
    recorded(ledger, _edition(view), now)
    left = next(one for one in now if one.key.maker)
    rest = [one for one in now if one is not left]
    changed = editions.changes(ledger, rest, TODAY)
    second = replace(view, edition=replace(view.edition, number=2), changes=tuple(changed))
    ledger.append(editions.rows_of(second, rest, changed, "1" * 64, ledger.new_id))
    return left


def test_an_edition_is_held_against_the_record(ledger, demo_gathered, now, tmp_path):
    """As it was recorded, a page and its JSON differ in nothing; a changed sentence and hash are named."""
    from qcledger.public.against import differences, read_edition
    from qcledger.public.to_html import scorecard_html
    from qcledger.public.to_json import scorecard_json
    from qcledger.text import harmless

    view = _edition(demo_gathered.view)
    page, data = tmp_path / "card.html", tmp_path / "card.json"
    page.write_text(harmless(scorecard_html(view, {})), encoding="utf-8")
    data.write_text(scorecard_json(view), encoding="utf-8")
    assert [str(one) for one in differences(ledger, read_edition(data))] != []  # nothing is recorded yet
    sha256 = hashlib.sha256(page.read_bytes()).hexdigest()
    ledger.append(editions.rows_of(view, now, (), sha256, ledger.new_id))
    for file in (page, data):
        read = read_edition(file)
        assert len(read.sentences) == len(view.statements)
        assert differences(ledger, read) == []
    first = view.statements[0].sentence.split()[0]
    for file in (page, data):
        file.write_text(file.read_text(encoding="utf-8").replace(f"{first} ", "Nobody "), encoding="utf-8")
        found = " ".join(map(str, differences(ledger, read_edition(file))))
        assert "Nobody" in found
        assert ("SHA-256" in found) == (file is page)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"statements": 3}', "<html><body>", "{" * 5000, "\x00"])
def test_a_file_that_is_no_edition_is_refused(tmp_path, text):
    """One line says what is allowed; a draft is none."""
    from qcledger.errors import BadInput
    from qcledger.public.against import read_edition

    file = tmp_path / "other"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput):
        read_edition(file)


def test_a_draft_is_no_edition(demo_gathered, tmp_path):
    """What was never recorded is not held against anything."""
    from qcledger.errors import BadInput
    from qcledger.public.against import read_edition
    from qcledger.public.to_json import scorecard_json

    file = tmp_path / "draft.json"
    file.write_text(scorecard_json(demo_gathered.view), encoding="utf-8")
    with pytest.raises(BadInput, match="draft"):
        read_edition(file)


def test_what_changed_is_told_to_the_maker_and_to_readers(ledger, demo_gathered, now):
    """What no longer stands is in the letter to its maker with the words of before, and in the text for readers."""
    from qcledger.public.corrections import maker_text, newest_changes, readers_text

    left = _gone(ledger, demo_gathered.view, now)
    edition = newest_changes(ledger)
    assert edition.number == 2
    for text in (readers_text(edition), maker_text(edition, "Maker", {left.key.maker}, "OV")):
        flat = " ".join(text.split())
        assert editions.GONE in flat
        assert left.sentence in flat
        assert max(map(len, text.splitlines())) <= 76


def test_a_late_answer_is_a_change(ledger, demo_gathered, now):
    """What a maker answered after an edition is told as changed in the next; told once, it is no change any more."""
    view = _edition(demo_gathered.view)
    recorded(ledger, view, now)
    assert editions.answered(ledger, view) == []
    maker = next(one for one in view.makers if any(not asking.awaited for asking in one.asked))
    late = replace(maker, asked=tuple(replace(one, answer=f"{one.answer} And more.") for one in maker.asked))
    later = replace(view, makers=tuple(late if one is maker else one for one in view.makers))
    assert {(one.about, one.how) for one in editions.answered(ledger, later)} == {(maker.name, editions.ANSWERED)}


def test_what_is_kept_private_is_not_said_to_have_fallen(ledger, demo_gathered, now):
    """Taken off the page because it is kept private, it is told as no longer printed, and nothing is said of it."""
    recorded(ledger, _edition(demo_gathered.view), now)
    gone = next(one for one in now if one.key.maker)
    rest = [one for one in now if one is not gone]
    (told,) = editions.changes(ledger, rest, TODAY, {FindingKey.read(gone.key.finding)})
    assert told.how == editions.UNPRINTED
