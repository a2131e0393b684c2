"""The hash chain: recomputed here by hand, from the design's words, and broken in every way."""

import hashlib
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.ledger import Ledger
from qcledger.ledger.chain import broken_links, canonical, sha256, utc_text, utc_time
from qcledger.records import Maker
from tests.ledger.given import steady


def test_sha256_is_the_published_one():
    """SHA-256 of "abc", NIST's example for FIPS 180-4 (SHA256.pdf, "One Block Message Sample")."""
    assert sha256(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sha256(b"a", b"bc") == sha256(b"abc")


def test_canonical_json_is_sorted_tight_and_unescaped():
    """Canonical JSON has sorted keys, no blanks, characters as they are, and only the escapes RFC 8259 demands."""
    assert canonical({"b": [1, 2.5, None, True], "a": 'é "\\ \n'}) == '{"a":"é \\"\\\\ \\n","b":[1,2.5,null,true]}'
    for endless in (float("nan"), float("inf")):
        with pytest.raises(ValueError, match="Out of range"):
            canonical(endless)


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text() | st.floats(allow_nan=False, allow_infinity=False),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    )
)
def test_canonical_json_reads_back_and_has_one_spelling(value):
    """Whatever JSON holds comes back from its canonical text, whose canonical text is itself."""
    text = canonical(value)
    assert json.loads(text) == value
    assert canonical(json.loads(text)) == text


@given(st.datetimes(timezones=st.just(UTC)), st.datetimes(timezones=st.just(UTC)))
def test_times_sort_as_their_texts_do(one, other):
    """The text of a time has fixed width, reads back exactly, and sorts as the times do."""
    assert utc_time(utc_text(one)) == one
    assert len(utc_text(one)) == len("2026-03-09T12:00:00.000000Z")
    assert (one < other) == (utc_text(one) < utc_text(other))


def test_a_time_has_one_text():
    """The same moment in two zones has the same text, so that it has the same hash."""
    moment = datetime(2026, 3, 9, 12, tzinfo=UTC)
    away = moment.astimezone(timezone(timedelta(hours=-3, minutes=-30)))
    assert utc_text(away) == utc_text(moment) == "2026-03-09T12:00:00.000000Z"


def test_the_hashes_of_a_ledger_are_those_of_the_design(tmp_path):
    """Hashes recomputed with nothing but hashlib and the texts the design spells out are those of the ledger."""
    with Ledger.create(tmp_path / "l.sqlite", letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append([Maker(id="m", name="Quernlow", note="né")], reason="as seen")
        entries = list(ledger.entries())
    bodies = [
        '{"reason":"","record":{"id":"id-000001","letters":"OV","tester":"Oda Vane"}}',
        '{"reason":"as seen","record":{"id":"m","name":"Quernlow","note":"né"}}',
    ]
    kinds, times = ["daybook", "maker"], ["2026-03-09T12:00:00.000000Z", "2026-03-09T12:00:01.000000Z"]
    prev = ""
    for number, (entry, body, kind, at) in enumerate(zip(entries, bodies, kinds, times, strict=True), start=1):
        salt = bytes(15) + bytes([number])
        inner = hashlib.sha256(salt + body.encode("utf-8")).hexdigest()
        text = f'["qcledger entry 1","id-000001",{number},"{prev}","{kind}","{at}","{inner}"]'
        outer = hashlib.sha256(text.encode("utf-8")).hexdigest()
        assert (entry.salt, entry.body, entry.body_hash) == (salt.hex(), body, inner)
        assert (entry.prev, entry.hash) == (prev, outer)
        prev = outer


@pytest.fixture
def book(tmp_path):
    """Return the entries of one daybook."""
    with Ledger.create(tmp_path / "l.sqlite", letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        for name in "abcd":
            ledger.append([Maker(id=name, name=name)])
        return list(ledger.entries())


def test_a_whole_chain_has_no_problems(book):
    """An untouched daybook verifies, also with bodies redacted, and also without its last entries."""
    assert list(broken_links(book)) == []
    assert list(broken_links(replace(entry, salt=None, body=None) for entry in book)) == []
    assert list(broken_links(book[:3])) == []


CHANGES = {
    "daybook": "another",
    "seq": 9,
    "prev": "0" * 64,
    "kind": "paint",
    "at": datetime(2026, 3, 9, 12, 0, 2, 1, tzinfo=UTC),
    "salt": "0" * 32,
    "body": '{"reason":"","record":{"id":"b","name":"x","note":""}}',
    "body_hash": "0" * 64,
    "hash": "0" * 64,
}


@pytest.mark.parametrize("field", CHANGES)
def test_every_changed_field_is_seen(book, field):
    """Changing any field that the hashes cover breaks the chain at that entry."""
    changed = replace(book[2], **{field: CHANGES[field]})
    problems = list(broken_links([*book[:2], changed, *book[3:]]))
    assert problems
    assert any(problem.where == f"daybook {changed.daybook} entry {changed.seq}" for problem in problems)


def test_a_middle_entry_cut_out_or_put_elsewhere_is_seen(book):
    """Cutting out, doubling, or swapping entries is seen; cutting off the end only against a closing hash."""
    assert list(broken_links([*book[:2], *book[3:]]))
    assert list(broken_links([*book[:3], book[2], *book[3:]]))
    assert list(broken_links([book[0], book[2], book[1], *book[3:]]))
    assert list(broken_links(book[1:]))


def test_a_time_that_goes_back_is_seen(book):
    """A daybook whose times go back was not written by this program, even if its hashes fit."""
    from qcledger.ledger.chain import seal

    last = book[-1]
    late = seal(
        daybook=last.daybook,
        seq=last.seq + 1,
        prev=last.hash,
        kind="maker",
        subject="z",
        at=last.at - timedelta(microseconds=1),
        salt="0" * 32,
        body="{}",
    )
    assert [problem.allowed for problem in broken_links([*book, late])] == ["times that never go back"]


@pytest.mark.parametrize("salt", ["", "0", "0" * 31 + "G", " " + "0" * 32, "0" * 32 + "\n", "AB" * 16])
def test_a_salt_has_one_spelling(book, salt):
    """A salt that stands for the same bytes in another spelling is refused, so that there is one form to compare."""
    assert list(broken_links([*book[:2], replace(book[2], salt=salt)]))


def test_texts_that_are_not_unicode_break_no_check(book):
    """A lone surrogate in a foreign entry is a problem to tell, not an exception."""
    for field in ("daybook", "kind", "body"):
        assert list(broken_links([*book[:2], replace(book[2], **{field: "\ud800"})]))
