"""What was tested is read in short parts: whatever is written between them, the answer is that of one moment."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from functools import partial

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Connection

from qcledger.errors import BadInput
from qcledger.ledger import Ledger, tested
from qcledger.ledger.tested import Filter, Reader
from qcledger.records import Maker, Observation, Session, Trial
from qcledger.vocab import TAKEN_BACK, Censored, Occasion
from tests.ledger.given import NOON, PACKED, graded, tried, unpacked


def read(reading, asked):
    """Return what is read by a reader that has read nothing before."""
    return Reader(reading).read(asked)


class Between:
    """Readings of a ledger; before one of them, something is written."""

    def __init__(self, ledger: Ledger, before: dict[int, Callable[[], object]] | Callable[[], object]) -> None:
        self._ledger, self._before, self.count = ledger, before, 0

    def before(self, acts: dict[int, Callable[[], object]]) -> None:
        """Say what is written before which of the readings to come, counted from 0."""
        self._before = {self.count + gap: act for gap, act in acts.items()}

    @contextmanager
    def __call__(self) -> Iterator[Connection]:
        """Give a connection, after what was to be written before it."""
        act = self._before.pop(self.count, None) if isinstance(self._before, dict) else self._before
        self.count += 1
        if act is not None:
            act()
        with self._ledger.reading() as connection:
            yield connection


@pytest.fixture
def filled(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> Ledger:
    """Give a ledger of nine observations, of which two are read at a time."""
    monkeypatch.setattr(tested, "PART", 2)
    ledger.append([PACKED, graded("e")])
    ledger.append([row for name in "bdfhkmp" for row in tried(name)])
    ledger.append([Trial(id="unpacked", specimen="specimen", occasion=Occasion.UNPACKING, at=NOON), unpacked("u")])
    return ledger


def instead(name: str, of: str, grade: float | None, **fields: object) -> Observation:
    """Return an observation that supersedes another of `tried`."""
    return graded(name, grade, trial=f"trial-{of}", supersedes=of, reason="a slip", **fields)


def _open_again(ledger: Ledger) -> None:
    (session,) = ledger.rows(Session)
    ledger.append([replace(session, closed_at=None)], reason="as if it were at work")


WRITES: dict[str, Callable[[Ledger], object]] = {
    "a grade before all": lambda ledger: ledger.append(tried("a")),
    "a grade in the middle": lambda ledger: ledger.append(tried("g")),
    "a grade after all": lambda ledger: ledger.append(tried("z")),
    "three grades": lambda ledger: ledger.append([row for name in ("a1", "g1", "z1") for row in tried(name)]),
    "one put right": lambda ledger: ledger.append([instead("c", "b", 3.0)]),
    "the last put right": lambda ledger: ledger.append([instead("a0", "p", 3.0)]),
    "one taken back": lambda ledger: ledger.append([instead("q", "d", None, not_testable=TAKEN_BACK)]),
    "unpacked": lambda ledger: ledger.append(
        [
            Trial(id="more", specimen="specimen", occasion=Occasion.UNPACKING, at=NOON),
            unpacked("v", 3.0, trial="more"),
        ]
    ),
    "a maker": lambda ledger: ledger.append([Maker(id="other", name="Aldervane")]),
    "a maker renamed": lambda ledger: ledger.append([Maker(id="maker", name="Quernlow & Co")], reason="as printed"),
    "the session open again": _open_again,
}


@pytest.mark.parametrize("gap", [0, 1, 2, 3, 5, 8, 12, 15])
@pytest.mark.parametrize("write", WRITES)
def test_what_is_written_in_any_gap_is_read_as_if_nothing_had_gone_on(filled, write, gap):
    """The rows are those of a reading that begins after the write, in the same order and with the same doubts."""
    reading = Between(filled, {gap: lambda: WRITES[write](filled)})
    found = read(reading, Filter())
    assert reading.count > gap
    assert found == read(filled.reading, Filter())


@pytest.mark.parametrize("asked", [Filter("comparison"), Filter(criterion="evenness"), Filter(blind=True)])
def test_a_grade_that_comes_meanwhile_is_taken_only_where_it_was_asked_for(filled, asked):
    """What narrows a reading narrows also what is added to it."""
    reading = Between(filled, {5: lambda: [WRITES[one](filled) for one in ("a grade in the middle", "unpacked")]})
    assert read(reading, asked) == read(filled.reading, asked)


def test_where_others_write_all_the_while_the_reading_ends(filled):
    """With something written before each part, the answer is that of the last moment, after a few beginnings."""
    numbers = iter(range(1000))
    reading = Between(filled, lambda: filled.append([Maker(id=f"m{next(numbers)}", name=f"Maker {next(numbers)}")]))
    found = read(reading, Filter())
    assert found == filled.tested_rows()
    assert reading.count == tested.TRIES * 16 + 1


def test_nothing_is_held_while_rows_are_built(filled, monkeypatch):
    """No connection is held when a row is made from what was fetched: a save would wait for it."""
    held = []

    @contextmanager
    def reading() -> Iterator[Connection]:
        held.append(True)
        with filled.reading() as connection:
            yield connection
        held.pop()

    build = tested._with_circumstances

    def watched(*found):
        assert not held
        return build(*found)

    monkeypatch.setattr(tested, "_with_circumstances", watched)
    assert len([*read(reading, Filter())]) == 9


def test_a_part_fetches_no_more_than_its_measure(filled):
    """Nine trials in parts of two, and then their observations, are five readings each between those around."""
    reading = Between(filled, {})
    read(reading, Filter())
    assert reading.count == 1 + 4 + 5 + 5 + 1


def test_an_unknown_comparison_is_refused(filled):
    """The refusal names it, and whoever asks for one that is there is answered."""
    reader = Reader(filled.reading)
    with pytest.raises(BadInput, match="found 'nowhere'"):
        reader.read(Filter("nowhere"))
    assert len(reader.read(Filter("comparison"))) == 9


def test_what_was_read_is_kept_until_something_is_written(filled):
    """A second question looks at the daybooks' last numbers alone, and is given the very same rows."""
    reader = Reader(reading := Between(filled, {}))
    first = reader.read(Filter())
    before = reading.count
    assert reader.read(Filter())[3] is first[3]
    assert reading.count == before + 1


@pytest.mark.parametrize("write", WRITES)
def test_what_was_written_since_is_read_after(filled, write):
    """Rows that are kept and what came since are together what a new reader reads, however narrowly it is asked."""
    reader = Reader(reading := Between(filled, {}))
    reader.read(Filter())
    before = reading.count
    WRITES[write](filled)
    for asked in (Filter(), Filter("comparison"), Filter(blind=True), Filter(criterion="evenness")):
        assert reader.read(asked) == read(filled.reading, asked)
    more = any(word in write for word in ("maker", "session", "three"))  # three are more than a part here
    assert (reading.count > before + 4) == more


def test_tables_written_again_are_read_again(filled):
    """What is kept goes when the tables are made anew from the entries."""
    before = filled.tested_rows()
    with filled._database.writing() as connection:
        connection.exec_driver_sql("UPDATE observation SET grade = 5 WHERE id = 'b'")
    assert filled.tested_rows() == before
    filled.rebuild()
    assert filled.tested_rows().column("grade") == before.column("grade")
    assert filled.tested_rows()[0] is not before[0]


READINGS = st.one_of(
    st.integers(1, 60).map(lambda turns: {"grade": None, "reading": float(turns)}),
    st.just({"grade": None, "reading": 60.0, "censored": Censored.ABOVE}),
)
SEEN = st.one_of(
    st.fixed_dictionaries({"grade": st.integers(0, 10).map(lambda half: half / 2)}),
    st.fixed_dictionaries({"grade": st.none(), "not_testable": st.sampled_from(["empty", "dried out", TAKEN_BACK])}),
    READINGS.map(lambda told: told | {"criterion": "rewetting_in_fives"}),
)
TIMES = st.integers(0, 10**9).map(lambda micro: NOON + timedelta(microseconds=micro))
SAVES = st.tuples(st.sampled_from("acglz"), SEEN, TIMES, st.none() | st.integers(0, 99))
"""Where its id is sorted to, what is seen, when, and which of those that stand it puts right; None for none."""
PLAN = st.dictionaries(st.integers(0, 8), SAVES, max_size=3)
"""Before which reading of the ledger something is saved."""


class Recorded:
    """What was recorded in a ledger, as whoever recorded it remembers it."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._seen = {one.id: one for one in ledger.rows(Observation)}

    def save(self, letter, told, at, which):
        """Save a result of a trial of its own, or in place of one that stands."""
        name, told = f"{letter}{len(self._seen)}", told | {"at": at}
        old = None if which is None else self.standing()[which % len(self.standing())]
        if old is None:
            rows = tried(name, **told)
        elif old.criterion == told.get("criterion", "evenness"):
            rows = [graded(name, trial=old.trial, supersedes=old.id, reason="a slip", **told)]
        else:
            rows = [replace(old, id=name, at=at, supersedes=old.id, reason="a slip")]
        self._ledger.append(rows)
        self._seen[name] = rows[-1]

    def standing(self) -> list[Observation]:
        """Return what no other supersedes, by id."""
        gone = {one.supersedes for one in self._seen.values()}
        return [one for id_, one in sorted(self._seen.items()) if id_ not in gone]


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(plans=st.tuples(PLAN, PLAN))
def test_columns_tell_what_was_recorded_whenever_it_was_saved(filled, plans):
    """Whatever is seen, put right or saved between two parts, each column tells for each observation what stands."""
    recorded, reader = Recorded(filled), Reader(reading := Between(filled, {}))
    for plan in plans:
        reading.before({gap: partial(recorded.save, *saved) for gap, saved in plan.items()})
        rows, standing = reader.read(Filter()), recorded.standing()
        for name in ("trial", "criterion", "rubric", "grade", "choice", "reading", "censored", "at", "tester"):
            assert rows.column(name) == [getattr(one, name) for one in standing]
        assert rows.column("observation") == [one.id for one in standing]
        assert rows.column("why_not") == [one.not_testable for one in standing]
        assert [row.not_testable for row in rows] == [one.not_testable is not None for one in standing]
        trials = {one.id: one for one in filled.rows(Trial)}
        assert rows.column("trial_at") == [trials[one.trial].at for one in standing]
