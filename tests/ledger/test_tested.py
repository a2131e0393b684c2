"""What was tested is read in short parts: whatever is written between them, the answer is that of one moment."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

import pytest
from sqlalchemy import Connection

from qcledger.errors import BadInput
from qcledger.ledger import Ledger, tested
from qcledger.ledger.tested import Asked, doubtful_rows, read
from qcledger.records import Maker, Observation, Session, Trial
from qcledger.vocab import TAKEN_BACK, Occasion
from tests.ledger.given import NOON, PACKED, graded, tried, unpacked


class Between:
    """Readings of a ledger; before one of them, something is written."""

    def __init__(self, ledger: Ledger, before: dict[int, Callable[[], object]] | Callable[[], object]) -> None:
        self._ledger, self._before, self.count = ledger, before, 0

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


@pytest.mark.parametrize("gap", [0, 1, 2, 5, 8])
@pytest.mark.parametrize("write", WRITES)
def test_what_is_written_in_any_gap_is_read_as_if_nothing_had_gone_on(filled, write, gap):
    """The rows are those of a reading that begins after the write, in the same order and with the same doubts."""
    reading = Between(filled, {gap: lambda: WRITES[write](filled)})
    found = read(reading, Asked())
    assert reading.count > gap
    assert found == read(filled.reading, Asked())


@pytest.mark.parametrize("asked", [Asked("comparison"), Asked(criterion="masstone"), Asked(blind=True)])
def test_a_grade_that_comes_meanwhile_is_taken_only_where_it_was_asked_for(filled, asked):
    """What narrows a reading narrows also what is added to it."""
    reading = Between(filled, {5: lambda: [WRITES[one](filled) for one in ("a grade in the middle", "unpacked")]})
    assert read(reading, asked) == read(filled.reading, asked)


def test_where_others_write_all_the_while_the_reading_ends(filled):
    """With something written before each part, the answer is that of the last moment, after a few beginnings."""
    numbers = iter(range(1000))
    reading = Between(filled, lambda: filled.append([Maker(id=f"m{next(numbers)}", name=f"Maker {next(numbers)}")]))
    found = read(reading, Asked())
    assert found == filled.tested_rows()
    assert reading.count == 1 + tested.TRIES * 8 + 1


def test_nothing_is_held_while_rows_are_built(filled, monkeypatch):
    """No connection is held when a row is made from what was fetched: a save would wait for it."""
    held = []

    @contextmanager
    def reading() -> Iterator[Connection]:
        held.append(True)
        with filled.reading() as connection:
            yield connection
        held.pop()

    build = tested._tested

    def watched(row, context):
        assert not held
        return build(row, context)

    monkeypatch.setattr(tested, "_tested", watched)
    assert len(read(reading, Asked())) == 9
    assert doubtful_rows(reading) == []


def test_a_part_fetches_no_more_than_its_measure(filled):
    """Nine observations in parts of two are five readings between those before and after."""
    reading = Between(filled, {})
    read(reading, Asked())
    assert reading.count == 1 + 2 + 5 + 1


def test_an_unknown_comparison_is_refused_before_anything_is_read(filled):
    """The first reading after the scales already tells."""
    reading = Between(filled, {})
    with pytest.raises(BadInput, match="found 'nowhere'"):
        read(reading, Asked("nowhere"))
    assert reading.count == 2
