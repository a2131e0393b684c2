"""Bodies: every record there and back, cleaned once, checked strictly, in one spelling."""

import json
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum

import pytest
from annotated_types import MultipleOf
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.ledger.chain import canonical
from qcledger.ledger.codec import decode, encode, tidy
from qcledger.ledger.limits import allowed, limits
from qcledger.records import TABLES, Maker, Record, columns
from qcledger.text import clean, steers
from tests.ledger.given import basics, graded


def values(column) -> st.SearchStrategy:
    """Return a strategy for what a column may hold, from its limits."""
    limit = limits(column)
    low = limit.at_least if limit.at_least is not None else limit.above
    high = limit.at_most
    some = {
        str: lambda: st.text(
            min_size=limit.shortest or 0, max_size=min(limit.longest or 50, max(limit.shortest or 0, 50))
        ),
        int: lambda: st.integers(low, high),
        float: lambda: st.floats(low, high, allow_nan=False, allow_infinity=False, width=32),
        bool: st.booleans,
        Decimal: lambda: st.decimals("0.001", "100000", places=3),
        date: st.dates,
        datetime: lambda: st.datetimes(timezones=st.just(UTC)),
        tuple: lambda: st.lists(st.text(min_size=1, max_size=20), max_size=3).map(tuple),
    }
    if issubclass(column.type, StrEnum):
        return st.sampled_from(column.type)
    if any(isinstance(one, MultipleOf) for one in column.limits):
        return st.integers(0, 10).map(lambda half: half / 2)
    return some[column.type]()


@st.composite
def records(draw) -> Record:
    """Draw a record of any table with any values its annotations allow."""
    kind = draw(st.sampled_from(list(TABLES.values())))
    drawn = {}
    for column in columns(kind):
        strategy = st.none() | values(column) if column.optional else values(column)
        drawn[column.name] = draw(strategy)
    return kind(**drawn)


def tidied(record):
    """Return the record tidied; one whose texts are empty once cleaned is passed over."""
    try:
        return tidy(record)
    except BadInput:
        assume(False)


@settings(max_examples=300, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(records(), st.text(max_size=30))
def test_every_record_comes_back_from_its_body(record, reason):
    """Tidying is done once and for all, and a tidy record is the same after its body was written and read."""
    neat = tidied(record)
    assert tidy(neat) == neat
    body = encode(neat, reason)
    assert decode(neat.TABLE, body, "here") == (neat, clean(reason))
    assert canonical(json.loads(body)) == body


@settings(max_examples=300, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(records())
def test_no_text_of_a_tidy_record_steers_a_terminal(record):
    """No text keeps a control character, whatever it held; a rubric's text alone is its own parser's business."""
    neat = tidied(record)
    for column in columns(type(neat)):
        value = getattr(neat, column.name)
        for text in value if column.type is tuple else [value]:
            if isinstance(text, str) and (neat.TABLE, column.name) != ("rubric_text", "text"):
                assert steers(text) is None
                assert clean(text) == text


def test_a_missing_field_takes_its_default():
    """A body from before a field existed is read with the field's default."""
    assert decode("maker", '{"reason":"","record":{"id":"m","name":"x"}}', "here")[0] == Maker(id="m", name="x")


@pytest.mark.parametrize(
    ("kind", "body", "message"),
    [
        (
            "maker",
            '{"reason":"","record":{"id":"m","name":"x","stars":5}}',
            "here stars: found '5'; allowed: the fields",
        ),
        ("maker", '{"reason":"","record":{"id":"m"}}', "here name: found nothing; allowed: text of 1 to 200"),
        ("maker", '{"reason":"","record":{"id":"m","name":5}}', "here name: found '5'"),
        ("maker", '{"reason":"","record":[]}', "here"),
        ("maker", '{"reason":5,"record":{"id":"m","name":"x"}}', "a reason in words"),
        ("maker", '{"record":{"id":"m","name":"x"}}', "a record and a reason"),
        ("maker", '{"reason":"", "record":{"id":"m","name":"x"}}', "canonical JSON"),
        ("maker", '{"record":{"id":"m","name":"x"},"reason":""}', "canonical JSON"),
        ("maker", '{"reason":"","record":{"id":"m","id":"n","name":"x"}}', "canonical JSON"),
        ("maker", "[" * 100_000, "canonical JSON"),
        ("maker", "{", "canonical JSON"),
        ("maker", "", "found nothing"),
        ("stars", "{}", "here: found 'stars'; allowed: an entry of a kind this version knows"),
    ],
)
def test_bodies_this_program_would_not_write_are_refused(kind, body, message):
    """A body with unknown fields, other types, other spelling or of an unknown kind is refused, saying where."""
    with pytest.raises(BadInput) as refused:
        decode(kind, body, "here")
    assert message in str(refused.value)


def test_infinite_readings_in_a_body_are_refused():
    """JSON has no infinity; a body that spells one, or overflows to one, is refused."""
    body = encode(tidy(graded("o", reading=1.0, criterion="rewetting_in_fives")), "")
    for endless in ("NaN", "Infinity", "1e999"):
        with pytest.raises(BadInput):
            decode("observation", body.replace('"reading":1.0', f'"reading":{endless}'), "here")


def test_what_is_allowed_is_said_in_words_for_every_column():
    """Each column of each table has a description for messages that names its limits."""
    said = {(name, column.name): allowed(column) for name, record in TABLES.items() for column in columns(record)}
    assert said["observation", "grade"] == "a number from 0 to 5 in steps of 0.5, or nothing"
    assert said["specimen", "nominal_ml"] == "a decimal number of at most 28 digits above 0, or nothing"
    assert said["specimen", "source"] == "one of retail, gift"
    assert said["sheet", "number"] == "a whole number from 1 to 999"
    assert said["stage", "lux"] == "a number from 0 up, or nothing"
    assert all(said.values())


def test_every_basic_record_is_tidy_already():
    """Records made with clean values are not changed by tidying."""
    assert [tidy(record) for record in basics()] == basics()
